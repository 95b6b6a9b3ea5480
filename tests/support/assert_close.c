#include "assert_close.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

void emb_assert_close(double got, double want, double rtol, double atol, const char *what,
                      const char *file, int line)
{
    const double off = fabs(got - want);             /* [unit of got] */
    const double allowed = atol + rtol * fabs(want); /* [unit of got] */
    /* Written so that a NaN anywhere fails. */
    if (isfinite(got) && off <= allowed) {
        return;
    }
    print_error("%s = %.17g, expected %.17g: off by %.3g, allowed %.3g\n", what, got, want, off,
                allowed);
    _fail(file, line);
}

void emb_assert_finite(double got, const char *what, const char *file, int line)
{
    if (!isfinite(got)) {
        print_error("%s = %.17g is not finite\n", what, got);
        _fail(file, line);
    }
}
