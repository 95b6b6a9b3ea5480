/* study_talk.h - what people see while a study runs and when it has ended; shared with the program
 * for many machines. */
#ifndef EMB_STUDY_TALK_H
#define EMB_STUDY_TALK_H
#include "cli.h"
#include "emberpipe/study_run.h"

struct emb_study_talk {
    double shown; /* [s] since the start, of the last line */
    bool terminal, quiet;
};
void emb_study_talk_progress(const struct emb_study_progress *p, void *talk);
/* The last word; EMB_STOPPED if cases are left. */
enum emb_status emb_study_talk_end(const struct emb_study_progress *p, struct emb_study_talk *t,
                                   const char *journal, struct emb_err *err);
const char *emb_study_duration(double seconds, char *buf, size_t size); /* "3 h 20 min" */
/* Loads with all problems printed. */
enum emb_status emb_study_talk_load(const char *file, struct emb_study *s, struct emb_err *err);
/* --journal, or NAME.journal in the current folder for ANY/NAME.yaml. */
const char *emb_study_journal(const struct emb_cli_args *a, const char *file, char *buf,
                              size_t size);
enum emb_status emb_study_threads(const struct emb_cli_args *a, int *threads, struct emb_err *err);
#endif
