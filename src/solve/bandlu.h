/* bandlu.h - LU of a band matrix with partial pivoting, kept here because Debian's library build is
 * unoptimised. Storage: column-major, leading dimension ld = 2*ml + mu + 1, element (i,j) at a[j*ld
 * + ml + mu + i - j]. */
#ifndef EMB_BANDLU_H
#define EMB_BANDLU_H
#include <stddef.h>
/* Returns 0, or the 1-based column of a zero pivot. */
long emb_bandlu_factor(double *a, size_t n, size_t mu, size_t ml, size_t *pivot);
void emb_bandlu_solve(const double *a, size_t n, size_t mu, size_t ml, const size_t *pivot,
                      double *b);
#endif
