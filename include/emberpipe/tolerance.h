/* tolerance.h - states and their changes, measured in tolerances. */
#ifndef EMB_TOLERANCE_H
#define EMB_TOLERANCE_H
#include <math.h>
#include <stddef.h>

/* weight := 1 over so many tolerances of each of the n states y [their units]; rtol [-], atol [unit
 * of each state]. */
static inline void emb_tolerance_weights(size_t n, double many, double rtol, const double *atol,
                                         const double *y, double *weight)
{
    for (size_t i = 0; i < n; i++) {
        weight[i] = 1.0 / (many * (rtol * fabs(y[i]) + atol[i]));
    }
}

/* [-] root mean square of v, weighed. */
static inline double emb_tolerance_size(size_t n, const double *v, const double *weight)
{
    double sum = 0.0; /* [-] */
    for (size_t i = 0; i < n; i++) {
        const double x = v[i] * weight[i];
        sum += x * x;
    }
    return sqrt(sum / (double)n);
}
#endif
