/* study_verbs.h - the verbs of emberpipe study that look at results or choose their own cases. */
#ifndef EMB_STUDY_VERBS_H
#define EMB_STUDY_VERBS_H
#include "cli.h"
#include "emberpipe/sensitivity.h"
#include "emberpipe/study.h"
#include "shown.h"

enum emb_status emb_study_analyse(const struct emb_cli_args *a, const char *file,
                                  struct emb_err *err);
enum emb_status emb_study_map(const struct emb_cli_args *a, const char *file,
                              struct emb_err *err);
enum emb_status emb_study_search(const struct emb_cli_args *a, const char *file,
                                 struct emb_err *err);

enum emb_status emb_study_local(const struct emb_cli_args *a, const char *file,
                                struct emb_err *err);
/* The analysis as a picture into --to. */
enum emb_status emb_study_bars(const struct emb_cli_args *a, const struct emb_study *s,
                               const struct emb_analysis *an, const struct emb_units *u,
                               struct emb_err *err);

/* "ambient temperature": the path of a key as words. Returns buf. */
const char *emb_study_axis_words(const char *key, char buf[96]);
/* "-30 °C (-22 °F) to 40 °C (104 °F)", or the texts of a choice. Returns buf. */
const char *emb_study_range(const struct emb_axis *a, const struct emb_units *u, char buf[160]);
#endif
