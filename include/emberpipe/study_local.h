/* study_local.h - slopes of all outputs around the base case, by central differences of runs that
 * differ in one axis only. Two steps tell the error: the slope is extrapolated from them
 * (Richardson), and what that changed is given beside it.
 *
 * A second opinion: CVODES forward sensitivities of the base run, the exact derivative of the model
 * where it has one; see emb_run_neighbours. */
#ifndef EMB_STUDY_LOCAL_H
#define EMB_STUDY_LOCAL_H
#include <stdatomic.h>
#include "emberpipe/study.h"

struct emb_local {
    size_t n_axis, n_output, runs, failed;
    struct emb_err why;    /* of one that failed */
    double *at;            /* [SI] n_axis: of the base case; NaN: a choice, stays at its first */
    double *step;          /* [SI] n_axis: 2 % of the range, a quarter of the standard deviation */
    double *base;          /* [SI] n_output */
    double *slope, *error; /* [SI of the output per SI of the axis] n_output x n_axis; NaN: none */
    double *tangent;       /* [SI of the output per SI of the axis] by forward sensitivities; NaN: none */
    char (*lost)[80];      /* n_axis: why there are none; "" if there are */
};
/* Any design; the axes with numbers are moved. Needs 1 + 4 runs an axis, on threads (0: one a
 * core). */
enum emb_status emb_local_run(const struct emb_study *s, int threads, const atomic_bool *stop,
                              struct emb_local *out, struct emb_err *err);
void emb_local_free(struct emb_local *l);
/* From four values of a function: at +h, -h, +h/2, -h/2. */
void emb_local_slope(const double y[4], double h, double *slope, double *error);
#endif
