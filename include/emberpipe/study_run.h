/* study_run.h - runs what is left of a study on the threads of this process, into a journal. */
#ifndef EMB_STUDY_RUN_H
#define EMB_STUDY_RUN_H
#include <stdatomic.h>
#include "emberpipe/batch.h"
#include "emberpipe/journal.h"
#include "emberpipe/study.h"

struct emb_study_progress {
    size_t n, done, failed; /* of the study; failed ones are done */
    size_t fresh;           /* done since this start */
    double elapsed;         /* [s] since this start */
    double left;            /* [s] until the end at the present rate; NaN: not known yet */
};
struct emb_study_options {
    const char *journal;
    int threads; /* 0: one a core */
    bool fresh;  /* start over */
    bool retry;  /* failed cases once more */
    const atomic_bool *stop;
    void (*progress)(const struct emb_study_progress *p, void *user); /* after each case; or NULL */
    void *user;
};
/* EMB_OK also when stopped: *out tells how far it got. Cases in flight are lost then, nothing else.
 */
enum emb_status emb_study_run(const struct emb_study *s, const struct emb_study_options *o,
                              struct emb_study_progress *out, struct emb_err *err);

struct emb_study_estimate {
    size_t tried, failed;               /* cases run for this estimate, spread over the study */
    double case_seconds;                /* [s] mean of one case on one core, all cores busy */
    double total_seconds;               /* [s] for the whole study on these threads */
    double journal_bytes, netcdf_bytes; /* [bytes] at the end */
};
enum emb_status emb_study_estimate(const struct emb_study *s, int threads,
                                   struct emb_study_estimate *out, struct emb_err *err);
/* Rate and time left from a start; shared by all who run studies. */
void emb_study_progress_update(struct emb_study_progress *p, double elapsed);
#endif
