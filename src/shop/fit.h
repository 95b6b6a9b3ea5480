/* fit.h - private: curves of the model over the knobs, remembered, and least squares on them. */
#ifndef EMB_SHOP_FIT_H
#define EMB_SHOP_FIT_H
#include <pthread.h>

#include "emberpipe/diagnose.h"

/* Knobs are fitted on a scale without bounds of its own: logarithms of shares and factors, tens of
 * kelvin. */
double emb_knob_scale(const struct emb_knob *k, double value);   /* value to scale */
double emb_knob_unscale(const struct emb_knob *k, double x);     /* scale to value */
double emb_knob_step(const struct emb_knob *k);                  /* of differences, on the scale */
void emb_knob_limits(const struct emb_knob *k, double *lo, double *hi); /* on the scale */

struct emb_curve {
    double x[EMB_MAX_KNOBS]; /* scale */
    double *y;               /* n_sensor x n_bin, or NULL: the run failed */
};
struct emb_fit {
    const struct emb_case *driven;
    const struct emb_log *log;
    const struct emb_replay *compared;
    size_t n_knob, n_bin, n; /* n: residuals = n_sensor x n_bin */
    const struct emb_knob *knob;
    unsigned *bin;                  /* of each row of the log */
    double *measured, *weight;      /* n; weight 0: no value */
    double x0[EMB_MAX_KNOBS];       /* the case as it is */
    double step[EMB_MAX_KNOBS];     /* of differences */
    pthread_mutex_t lock;
    struct emb_curve **memo;        /* every run so far, by its knobs */
    size_t n_memo, room, runs;
    double best; /* [K2] smallest sum of squares so far */
    bool no_memory;
};
enum emb_status emb_fit_begin(struct emb_fit *f, const struct emb_case *driven,
                              const struct emb_log *log, const struct emb_replay *compared,
                              const struct emb_knob *knob, size_t n_knob, struct emb_err *err);
void emb_fit_end(struct emb_fit *f);
/* The curve at x (n_knob values); runs the model if it has not been there. NULL: it failed. */
const double *emb_fit_curve(struct emb_fit *f, const double *x);
/* Weighted computed minus measured, offsets of sensors included. 0, or -1: the run failed. */
int emb_fit_residuals(struct emb_fit *f, const double *x, double *r);
/* Column of the Jacobian of the residuals for one knob at x. */
int emb_fit_slope(struct emb_fit *f, const double *x, const double *r, size_t knob, double *col);

struct emb_solution {
    size_t n, knob[2];
    double x[EMB_MAX_KNOBS]; /* all knobs, scale */
    double rss;              /* [K2] */
    double cov[4];           /* inverse of J'J, 2 x 2 */
    double *r;               /* n residuals */
    bool ok;
};
/* Fits knobs s->knob[0 .. s->n-1] from s->x. */
void emb_fit_solve(struct emb_fit *f, struct emb_solution *s);
/* How many of the n residuals are independent. */
double emb_fit_effective(const struct emb_fit *f, const double *r);
#endif
