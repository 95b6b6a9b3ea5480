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

static inline void emb_gauss_swap(int width, double *A, double *b, int k, int p)
{
    for (int j = 0; j < width; j++) {
        const double t = A[k * width + j];
        A[k * width + j] = A[p * width + j];
        A[p * width + j] = t;
    }
    const double t = b[k];
    b[k] = b[p];
    b[p] = t;
}

/* Gauss with partial pivoting; the answer replaces b. False: singular. A is row-major, n rows of
 * `width` >= n: with a width known to the compiler whole rows become a few vectors. What stands
 * behind column n is of no consequence. */
static inline bool emb_gauss(int n, int width, double *A, double *b)
{
    for (int k = 0; k < n; k++) {
        const int p = emb_gauss_pivot(n, width, A, k);
        if (!(fabs(A[p * width + k]) > 1e-300)) {
            return false;
        }
        if (p != k) {
            emb_gauss_swap(width, A, b, k, p);
        }
        const double inv = 1.0 / A[k * width + k];
        for (int j = 0; j < width; j++) {
            A[k * width + j] *= inv;
        }
        b[k] *= inv;
        for (int i = k + 1; i < n; i++) {
            const double f = A[i * width + k];
            for (int j = 0; j < width; j++) {
                A[i * width + j] -= f * A[k * width + j];
            }
            b[i] -= f * b[k];
        }
    }
    for (int k = n - 2; k >= 0; k--) {
        for (int j = k + 1; j < n; j++) {
            b[k] -= A[k * width + j] * b[j];
        }
    }
    return true;
}
#endif
