#include "bandlu.h"

#include <math.h>

long emb_bandlu_factor(double *a, size_t n, size_t mu, size_t ml, size_t *pivot)
{
    const size_t ld = 2 * ml + mu + 1, d = ml + mu; /* d: row of the diagonal inside a column */
    for (size_t k = 0; k < n; k++) {
        double *ck = a + k * ld;
        const size_t rows = (k + ml < n) ? ml : n - 1 - k;
        size_t p = 0;
        for (size_t i = 1; i <= rows; i++) {
            if (fabs(ck[d + i]) > fabs(ck[d + p])) {
                p = i;
            }
        }
        pivot[k] = p;
        if (ck[d + p] == 0.0) {
            return (long)k + 1;
        }
        const size_t last = (k + d < n) ? k + d : n - 1;
        if (p > 0) {
            for (size_t j = k; j <= last; j++) {
                double *cj = a + j * ld + d + k - j;
                const double tmp = cj[0];
                cj[0] = cj[p];
                cj[p] = tmp;
            }
        }
        const double inv = 1.0 / ck[d];
        for (size_t i = 1; i <= rows; i++) {
            ck[d + i] *= inv;
        }
        for (size_t j = k + 1; j <= last; j++) {
            double *cj = a + j * ld + d + k - j;
            const double f = cj[0];
            if (f != 0.0) {
                for (size_t i = 1; i <= rows; i++) {
                    cj[i] -= f * ck[d + i];
                }
            }
        }
    }
    return 0;
}

void emb_bandlu_solve(const double *a, size_t n, size_t mu, size_t ml, const size_t *pivot,
                      double *b)
{
    const size_t ld = 2 * ml + mu + 1, d = ml + mu;
    for (size_t k = 0; k < n; k++) {
        const size_t rows = (k + ml < n) ? ml : n - 1 - k, p = pivot[k];
        const double tmp = b[k + p];
        b[k + p] = b[k];
        b[k] = tmp;
        const double *ck = a + k * ld + d;
        for (size_t i = 1; i <= rows; i++) {
            b[k + i] -= ck[i] * tmp;
        }
    }
    for (size_t k = n; k-- > 0;) {
        const double *ck = a + k * ld + d;
        b[k] /= ck[0];
        const size_t up = (k < d) ? k : d;
        for (size_t i = 1; i <= up; i++) {
            b[k - i] -= ck[-(ptrdiff_t)i] * b[k];
        }
    }
}
