/* smooth.h - rounded corners. Newton's iteration needs a slope that does not jump: what rests on a
 * kink costs a failed step every time it trembles. */
#ifndef EMB_SMOOTH_H
#define EMB_SMOOTH_H
#include <math.h>
/* x, but never less than nothing: a rounded larger-of-two, which goes to zero as a square below
 * about eps (same unit). */
static inline double emb_smooth_floor(double x, double eps)
{
    return x > 0.0 ? x * x / (x + eps) : 0.0;
}
/* x >= 0, but never more than top (same unit): a rounded smaller-of-two, 0.05 % low at half of top.
 */
static inline double emb_smooth_cap(double x, double top)
{
    return x / pow(1.0 + pow(x / top, 8.0), 0.125);
}
#endif
