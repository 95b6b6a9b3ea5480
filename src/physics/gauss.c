#include "gauss.h"

#include <math.h>

bool emb_gauss_small(int n, double A[EMB_SMALL][EMB_SMALL], double *b)
{
    for (int k = 0; k < n; k++) {
        int p = k;
        for (int i = k + 1; i < n; i++) {
            p = fabs(A[i][k]) > fabs(A[p][k]) ? i : p;
        }
        if (!(fabs(A[p][k]) > 1e-300)) {
            return false;
        }
        for (int j = k; p != k && j < n; j++) {
            const double t = A[k][j];
            A[k][j] = A[p][j];
            A[p][j] = t;
        }
        const double t = b[k], inv = 1.0 / A[k][k];
        b[k] = b[p];
        b[p] = t;
        for (int i = k + 1; i < n; i++) {
            const double f = A[i][k] * inv;
            for (int j = k + 1; j < n; j++) {
                A[i][j] -= f * A[k][j];
            }
            b[i] -= f * b[k];
        }
    }
    for (int k = n - 1; k >= 0; k--) {
        for (int j = k + 1; j < n; j++) {
            b[k] -= A[k][j] * b[j];
        }
        b[k] /= A[k][k];
    }
    return true;
}
