/* smooth.h - rounded corners. Newton's iteration needs a slope that does not jump: a state that
 * rests on a kink costs a failed step every time it trembles. */
#ifndef EMB_SMOOTH_H
#define EMB_SMOOTH_H
/* What may leave a store that holds m: m itself, vanishing quadratically below about eps (same
 * unit) and zero for an overshoot below empty. */
static inline double emb_smooth_drain(double m, double eps)
{
    return m > 0.0 ? m * m / (m + eps) : 0.0;
}
#endif
