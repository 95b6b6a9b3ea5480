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
/* On EMB_ERR_SOLVER the result is valid up to the failure and marked incomplete. */
enum emb_status emb_run(const struct emb_case *c, const struct emb_hooks *hooks,
                        struct emb_result *out, struct emb_err *err);
/* For counting: the same run, but it keeps no rows (n_row 0), gives no reasons, and ends as soon as
 * every target is reached; t_end and the totals are those of then. */
enum emb_status emb_run_verdicts(const struct emb_case *c, const struct emb_hooks *hooks,
                                 struct emb_result *out, struct emb_err *err);
#endif
