#include "vector.h"

#include <math.h>

#include <nvector/nvector_serial.h>

static double *data(N_Vector v)
{
    return NV_DATA_S(v);
}

static void linear_sum(realtype a, N_Vector x, realtype b, N_Vector y, N_Vector z)
{
    const double *xd = data(x), *yd = data(y);
    double *zd = data(z);
    for (sunindextype i = 0, n = NV_LENGTH_S(z); i < n; i++) {
        zd[i] = a * xd[i] + b * yd[i];
    }
}

static void scale(realtype c, N_Vector x, N_Vector z)
{
    const double *xd = data(x);
    double *zd = data(z);
    for (sunindextype i = 0, n = NV_LENGTH_S(z); i < n; i++) {
        zd[i] = c * xd[i];
    }
}

static void absolute(N_Vector x, N_Vector z)
{
    const double *xd = data(x);
    double *zd = data(z);
    for (sunindextype i = 0, n = NV_LENGTH_S(z); i < n; i++) {
        zd[i] = fabs(xd[i]);
    }
}

static void inverse(N_Vector x, N_Vector z)
{
    const double *xd = data(x);
    double *zd = data(z);
    for (sunindextype i = 0, n = NV_LENGTH_S(z); i < n; i++) {
        zd[i] = 1.0 / xd[i];
    }
}

static void add_constant(N_Vector x, realtype b, N_Vector z)
{
    const double *xd = data(x);
    double *zd = data(z);
    for (sunindextype i = 0, n = NV_LENGTH_S(z); i < n; i++) {
        zd[i] = xd[i] + b;
    }
}

static realtype wrms_norm(N_Vector x, N_Vector w)
{
    const double *xd = data(x), *wd = data(w);
    const sunindextype n = NV_LENGTH_S(x);
    double sum[2] = {0.0, 0.0}; /* two at a time: sums of doubles are not reordered for us */
    for (sunindextype i = 0; i + 1 < n; i += 2) {
        sum[0] += xd[i] * wd[i] * xd[i] * wd[i];
        sum[1] += xd[i + 1] * wd[i + 1] * xd[i + 1] * wd[i + 1];
    }
    if (n % 2 != 0) {
        sum[0] += xd[n - 1] * wd[n - 1] * xd[n - 1] * wd[n - 1];
    }
    return sqrt((sum[0] + sum[1]) / (double)n);
}

N_Vector emb_vector_new(sunindextype n, SUNContext ctx)
{
    N_Vector v = N_VNew_Serial(n, ctx);
    if (v != NULL) {
        v->ops->nvlinearsum = linear_sum;
        v->ops->nvscale = scale;
        v->ops->nvabs = absolute;
        v->ops->nvinv = inverse;
        v->ops->nvaddconst = add_constant;
        v->ops->nvwrmsnorm = wrms_norm;
    }
    return v;
}
