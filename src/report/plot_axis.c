/* plot_axis.c - ranges and ticks that read well. */
#include <math.h>
#include <stdbool.h>

#include "plot.h"

static double round_step(double raw, bool time)
{
    static const double clock[] = {1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 360, 720, 1440};
    for (size_t i = 0; time && raw > 0.5 && i < sizeof clock / sizeof clock[0]; i++) {
        if (clock[i] >= raw) {
            return clock[i];
        }
    }
    const double p = pow(10.0, floor(log10(raw))), m = raw / p;
    return p * (m <= 1.0 ? 1.0 : m <= 2.0 ? 2.0 : m <= 5.0 ? 5.0 : 10.0);
}

void emb_axis_choose(struct emb_axis *a, double lo, double hi, int most, bool time)
{
    if (lo == 0.0 && hi == 0.0) { /* nothing happened: no digits of nothing */
        hi = 1.0;
    } else if (!(hi - lo > 1e-9 * fmax(fabs(lo), fabs(hi)))) {
        const double pad = fmax(fabs(lo) * 0.1, 1e-12);
        lo -= pad;
        hi += pad;
    }
    a->step = round_step((hi - lo) / most, time);
    const double pad = time ? 0.0 : 0.05 * (hi - lo);
    a->lo = lo == 0.0 ? lo : lo - pad;
    a->hi = hi == 0.0 ? hi : hi + pad;
}

double emb_axis_first(const struct emb_axis *a)
{
    return a->step * ceil(a->lo / a->step - 1e-9);
}

double emb_axis_px(const struct emb_axis *a, double v)
{
    return a->p0 + (v - a->lo) / (a->hi - a->lo) * (a->p1 - a->p0);
}

const char *emb_axis_text(const struct emb_axis *a, double v, char buf[32])
{
    const int digits = a->step >= 1.0 ? 0 : (int)fmin(ceil(-log10(a->step) - 1e-9), 9.0);
    snprintf(buf, 32, "%.*f", digits, fabs(v) < 1e-9 * a->step ? 0.0 : v);
    return buf;
}
