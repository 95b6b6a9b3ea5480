/* balance.h - days of a duty from hours of it: where soot and crust are heading.
 *
 * The duty is run until the change of a pass settles, at three soot loads; the rate between them is
 * interpolated and integrated. A longer run from the start says how far off that is. */
#ifndef EMB_BALANCE_H
#define EMB_BALANCE_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/case.h"
#include "emberpipe/status.h"

enum { EMB_BALANCE_NODES = 3, EMB_BALANCE_LOADS = 4 };
struct emb_balance_ask {
    double soot_limit;  /* [-] share of the full load */
    double crust_limit; /* [-] share of a face that is closed */
    double drive;       /* [s] of driving put behind each pass of the duty; 0: none */
    bool cold;          /* each pass starts with everything cold, as after a night */
};
struct emb_balance_node {
    double soot;   /* [-] mean over the pass that was measured */
    double rate;   /* [1/s] change of the share of full load */
    double before; /* [1/s] the same one pass earlier */
};
struct emb_balance_load {
    double load;     /* [-] at 65 % of rated speed */
    double filter;   /* [K] mean of the filter at the end */
    double warm_up;  /* [s] until soot begins to fall; NaN: it does not */
    double half;     /* [s] until half of it is gone; NaN: not in the time tried */
    double per_hour; /* [1/h] change at the end */
};
struct emb_balance {
    char title[200], filter[48], crust_at[48];
    struct emb_balance_ask ask;
    double pass;    /* [s] one pass of the duty */
    double measure; /* [s] passes taken together to measure a rate */
    double start;   /* [-] soot share now */
    struct emb_balance_node node[EMB_BALANCE_NODES];
    bool resets;  /* all passes end at one load, level, whatever they begin with */
    size_t lost;  /* runs that could not be finished: what they would tell is NaN */
    double reach;                  /* [s] until the soot limit; INFINITY: never */
    double level;                  /* [-] where soot levels off; NaN: not between start and limit */
    double check_t;                /* [s] length of the run that checks; NaN: it failed */
    double check_run;              /* [-] soot at its end, as run */
    double check_sum;              /* [-] the same, as extrapolated */
    double error;                  /* [-] relative, of the change over the check */
    double crust_start, crust_end; /* [-] over the run that checks; start NaN: no such brick */
    double crust_reach;            /* [s]; INFINITY: never */
    double crust_error;            /* [-] relative, from the halves of that run */
    size_t n_load;
    struct emb_balance_load load[EMB_BALANCE_LOADS];
    double tried; /* [s] at each load */
};
enum emb_status emb_balance_find(const struct emb_case *c, const struct emb_balance_ask *ask,
                                 struct emb_balance *out, struct emb_err *err);
void emb_balance_text(const struct emb_balance *b, FILE *f);

/* Time [s] from soot `from` to `to` when the rate runs through the nodes (a parabola); INFINITY if
 * it is not reached. *level: where the rate becomes zero on the way, else NaN. */
double emb_balance_time(const struct emb_balance_node node[EMB_BALANCE_NODES], double from,
                        double to, double *level);
/* Soot after t [s]. */
double emb_balance_after(const struct emb_balance_node node[EMB_BALANCE_NODES], double from,
                         double t);
#endif
