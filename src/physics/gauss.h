/* gauss.h - a handful of linear equations on the stack. Private to the physics room. */
#ifndef EMB_GAUSS_H
#define EMB_GAUSS_H
#include <math.h>
#include <stdbool.h>

/* The row, from k on, whose number in column k is largest. */
static inline int emb_gauss_pivot(int n, int width, const double *A, int k)
{
    int p = k;
    for (int i = k + 1; i < n; i++) {
        p = fabs(A[i * width + k]) > fabs(A[p * width + k]) ? i : p;
    }
    return p;
}

/* Row k by f, with row p in its place and the other way round. */
static inline void emb_gauss_lift(int width, double *A, int k, int p, double f)
{
    for (int j = 0; j < width; j++) {
        const double t = A[k * width + j];
        A[k * width + j] = f * A[p * width + j];
        if (p != k) {
            A[p * width + j] = t;
        }
    }
}

/* Gauss-Jordan with partial pivoting: a little more work than Gauss, but no row waits for another
 * at the end. A is row-major, n rows of `width` > n, its last column the right-hand side and then
 * the answer; what stands between is of no consequence. With a width known to the compiler whole
 * rows are a few vectors. False: singular. */
static inline bool emb_gauss(int n, int width, double *A)
{
    for (int k = 0; k < n; k++) {
        const int p = emb_gauss_pivot(n, width, A, k);
        const double pivot = A[p * width + k];
        if (!(fabs(pivot) > 1e-300)) {
            return false;
        }
        emb_gauss_lift(width, A, k, p, 1.0 / pivot);
        for (int i = 0; i < n; i++) {
            const double f = i == k ? 0.0 : A[i * width + k];
            for (int j = 0; j < width; j++) {
                A[i * width + j] -= f * A[k * width + j];
            }
        }
    }
    return true;
}
#endif
