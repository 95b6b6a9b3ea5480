#include "emberpipe/def_loop.h"

#include <math.h>

double emb_def_coverage_wanted(const struct emb_def_cfg *c, double T)
{
    const double s = fmin(fmax((T - 473.15) / 200.0, 0.0), 1.0); /* 200 to 400 degC */
    return c->coverage_cold + s * (c->coverage_hot - c->coverage_cold);
}

double emb_def_loop_sample(const struct emb_def_cfg *c, const struct emb_def_signals *in)
{
    return (emb_def_coverage_wanted(c, in->T) - in->coverage) * in->sites / c->fill_time;
}
