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

static inline void emb_gauss_swap(int width, double *a, double *b)
{
    for (int j = 0; j < width; j++) {
        const double t = a[j];
        a[j] = b[j];
        b[j] = t;
    }
}

/* Takes from a row what the pivot's row, whose number in column k is one, clears there. */
static inline void emb_gauss_clear(int width, double *row, const double *by, int k)
{
    const double f = row[k];
    for (int j = k & ~1; j < width; j++) { /* by twos, as vectors come */
        row[j] -= f * by[j];
    }
}

/* Gauss-Jordan: a little more work than Gauss, but no row waits for another at the end. A is
 * row-major, n rows of `width` > n, its last column the right-hand side and then the answer; what
 * stands between is of no consequence. It is taken to be of the size of I: rows change places only
 * where a pivot is below 0.1. With numbers known to the compiler whole rows are a few vectors, of
 * which those left of the pivot are not touched again. False: singular. */
static inline bool emb_gauss(int n, int width, double *A)
{
    for (int k = 0; k < n; k++) {
        double *row = A + k * width;
        if (!(fabs(row[k]) > 0.1)) {
            emb_gauss_swap(width, row, A + emb_gauss_pivot(n, width, A, k) * width);
        }
        if (!(fabs(row[k]) > 1e-300)) {
            return false;
        }
        const double inv = 1.0 / row[k];
        for (int j = k & ~1; j < width; j++) {
            row[j] *= inv;
        }
        for (int i = 0; i < n; i++) {
            if (i != k) {
                emb_gauss_clear(width, A + i * width, row, k);
            }
        }
    }
    return true;
}
#endif
