/* run.h - case in, result out. Thread-safe: no state outside the arguments. */
#ifndef EMB_RUN_H
#define EMB_RUN_H
#include "emberpipe/case.h"
#include "emberpipe/result.h"
struct emb_hooks {
    /* called now and then; t of t_end [s]. Non-zero return cancels: the result so far is kept. May
     * be NULL. */
    int (*progress)(double t, double t_end, void *user);
    void *user;
};
/* How emb_run integrates this case. Where `method` says auto: by the trapezoid where most of the time
 * is a road or engine cycle with rows no more than 5 s apart, else by the BDF. */
enum emb_method emb_run_method(const struct emb_case *c);
/* On EMB_ERR_SOLVER the result is valid up to the failure and marked incomplete. */
enum emb_status emb_run(const struct emb_case *c, const struct emb_hooks *hooks,
                        struct emb_result *out, struct emb_err *err);
/* For counting: the same run, but it keeps no rows (n_row 0), gives no reasons, and ends as soon as
 * every target is reached; t_end and the totals are those of then. */
enum emb_status emb_run_verdicts(const struct emb_case *c, const struct emb_hooks *hooks,
                                 struct emb_result *out, struct emb_err *err);
/* Neighbours: cases that differ from c by a little of one number each (not in its structure, nor in
 * the times of its duty). They run along by CVODES forward sensitivities, so differences to the
 * base's result, over the nudge, are derivatives: of series, totals, and times of targets; decisions
 * of the regeneration count as if they could fall at any time. nudge: what part of the parameter's
 * range (the unit of its sensitivity) the neighbour is away, such as 1e-4. */
struct emb_neighbour {
    struct emb_case c;   /* the caller's */
    struct emb_result r; /* to be freed by the caller; without warnings and notes on elements */
    bool lost;           /* no use: it could not follow the base, see why */
    char why[80];
};
enum emb_status emb_run_neighbours(const struct emb_case *c, struct emb_neighbour *nb, size_t n,
                                   double nudge, const struct emb_hooks *hooks,
                                   struct emb_result *out, struct emb_err *err);
#endif
