/* def_loop.h - closed-loop DEF control, sampled. Pure: it sees only signals.
 *
 * NH3 in proportion to NOx is the element's own feed-forward; the loop adds what would fill the
 * reduction catalyst to a coverage that falls with temperature within `fill_time`, or holds it
 * back. The stored NH3 is taken from the model itself, where a control unit would estimate it. */
#ifndef EMB_DEF_LOOP_H
#define EMB_DEF_LOOP_H
#include "emberpipe/case.h"

struct emb_def_signals {
    double coverage; /* [-] mean of the reduction catalyst behind the doser */
    double T;        /* [K] its mean temperature */
    double sites;    /* [mol] NH3 it could hold */
};
double emb_def_coverage_wanted(const struct emb_def_cfg *c, double T); /* [-], T [K] */
/* [mol/s] NH3 to add to the feed-forward, or to hold back. */
double emb_def_loop_sample(const struct emb_def_cfg *c, const struct emb_def_signals *in);
#endif
