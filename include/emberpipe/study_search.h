/* study_search.h - looks for the values of the axes that make one output smallest or largest.
 *
 * Axes with values are tried out, every combination of them; axes with a range are searched, within
 * their bounds, by methods that need no derivatives (NLopt): a scan of well-spread points, then
 * BOBYQA (Powell 2009) from the best of them, or COBYLA (Powell 1994) where there are limits; with
 * method: global DIRECT (Gablonsky & Kelley 2001) in place of the scan. Combinations run on threads.
 *
 * A time that is never reached counts as the length of the run, and more the further the target was
 * missed, so that the search finds its way out of there; such a point is never called an answer. */
#ifndef EMB_STUDY_SEARCH_H
#define EMB_STUDY_SEARCH_H
#include <stdatomic.h>
#include "emberpipe/study.h"

struct emb_search_point {
    double *cube;             /* [-] n_axis, place in the ranges */
    double *values, *outputs; /* [SI] n_axis, n_output */
    bool found, feasible;     /* found: the output exists; feasible: within all limits too */
    double objective;         /* [SI of the output]; lower is better, so negated to maximise */
    double excess;            /* [-] by how much limits are passed, of their size, summed */
};
struct emb_search_best { /* of one combination of the axes with values */
    struct emb_search_point p;
    size_t runs, failed;
    struct emb_err why; /* of the first that failed */
};
struct emb_search {
    size_t n; /* combinations, the last axis with values fastest */
    struct emb_search_best *item;
    size_t best;    /* number of the best, n if none is feasible */
    size_t output;  /* number of the output looked at */
    bool maximise;
    size_t n_limit;
    struct emb_search_limit *limit;
    /* of the best: run once more, then with each searched axis moved by 2 % of its range */
    bool same;                /* once more: the same numbers */
    size_t neighbours, better; /* better: feasible and by more than 0.1 % */
};
struct emb_search_limit {
    size_t output;
    bool below;
    double value; /* [SI of the output] */
};
enum { EMB_SEARCH_COMBINATIONS = 64, EMB_SEARCH_LIMITS = 16 };
/* Needs design: search. threads 0: one a core. */
enum emb_status emb_seek_run(const struct emb_study *s, int threads, const atomic_bool *stop,
                               struct emb_search *out, struct emb_err *err);
void emb_seek_free(struct emb_search *x);
#endif
