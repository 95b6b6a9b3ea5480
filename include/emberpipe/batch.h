/* batch.h - many cases on a few threads. Nothing is shared between cases; the result of a case does
 * not depend on the number of threads or on what else runs. Memory: one case and one result a
 * thread. */
#ifndef EMB_BATCH_H
#define EMB_BATCH_H
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/case.h"
#include "emberpipe/result.h"
#include "emberpipe/status.h"

enum { EMB_MAX_THREADS = 1024 };
struct emb_batch {
    int threads; /* 0: as many as the machine has cores for this process */
    size_t n;    /* cases 0 .. n-1, handed out in this order to whoever is free */
    /* Or: where the next number comes from; false: there is none left. One call at a time. */
    bool (*next)(size_t *i, void *user);
    /* Case i into *out (freed by the batch); its own failure is handed to take. Called by many
     * threads at once: it may only read what is shared (emb_case_copy, emb_place_set). */
    enum emb_status (*make)(size_t i, void *user, struct emb_case *out, struct emb_err *err);
    /* What became of case i, in order of completion; r is empty when the case could not be made,
     * and incomplete when its run failed. One call at a time. Other than EMB_OK ends the batch. */
    enum emb_status (*take)(size_t i, enum emb_status status, const struct emb_err *why,
                            const struct emb_result *r, void *user);
    /* Called often while cases run (every step of the integrator), by the thread that runs one;
     * NULL if nothing is to be done. */
    void (*poll)(void *user);
    void *user;
    /* A case that takes more steps of the integrator is given up and handed to take as failed; 0: no
     * limit. Steps, not seconds: the answer is the same on every machine. */
    long max_steps;
    bool verdicts_only; /* runs as emb_run_verdicts gives them */
    const atomic_bool *stop; /* NULL, or set from outside (a signal): cases in flight are dropped */
};
/* EMB_OK: all cases have been taken, or `stop` was set. Else what take or the machine said. */
enum emb_status emb_batch_run(const struct emb_batch *b, struct emb_err *err);
/* Cores this process may use, at least 1. */
int emb_batch_cores(void);
#endif
