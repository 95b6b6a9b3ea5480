/* Libraries loaded when they are needed: the C library's own mathematics, asked for late, and what
 * is said when there is nothing to load. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include "emberpipe/library.h"

struct calls {
    double (*cosine)(double), (*root)(double);
};

static const struct emb_library maths = {"maths", "libm.so.6", "install the C library"};

static void calls_are_found_in_order(void **state)
{
    (void)state;
    struct calls c;
    struct emb_err err = {0};
    const char *const names[] = {"cos", "sqrt"};
    assert_int_equal(emb_library_open(&maths, 2, names, &c, &err), EMB_OK);
    assert_true(fabs(c.cosine(3.141592653589793) + 1.0) < 1e-15);
    assert_true(fabs(c.root(2.0) - 1.4142135623730951) < 1e-15);
}

static void what_is_missing_is_said(void **state)
{
    (void)state;
    struct calls c;
    struct emb_err err = {0}, lacks = {0};
    const char *const names[] = {"cos", "no_such_call"};
    const struct emb_library gone = {"picture", "libnosuch.so.7", "draw to .svg"};
    assert_int_equal(emb_library_open(&gone, 2, names, &c, &err), EMB_ERR_IO);
    assert_string_equal(err.where, "picture");
    assert_string_equal(err.msg, "libnosuch.so.7 cannot be loaded; draw to .svg");
    assert_int_equal(emb_library_open(&maths, 2, names, &c, &lacks), EMB_ERR_IO);
    assert_string_equal(lacks.msg, "libm.so.6 lacks no_such_call");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(calls_are_found_in_order),
        cmocka_unit_test(what_is_missing_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
