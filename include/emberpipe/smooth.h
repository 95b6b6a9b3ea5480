/* smooth.h - rounded corners. Newton's iteration needs a slope that does not jump: what rests on a
 * kink costs a failed step every time it trembles. */
#ifndef EMB_SMOOTH_H
#define EMB_SMOOTH_H
#include <math.h>
/* What can be had of m that may be asked for: m itself, vanishing quadratically below about eps
 * (same unit), and nothing for less than nothing. */
static inline double emb_smooth_drain(double m, double eps)
{
    return m > 0.0 ? m * m / (m + eps) : 0.0;
}
/* x >= 0, but never more than top (same unit): a rounded smaller-of-two, 0.05 % low at half of top.
 */
static inline double emb_smooth_cap(double x, double top)
{
    return x / pow(1.0 + pow(x / top, 8.0), 0.125);
}
#endif
