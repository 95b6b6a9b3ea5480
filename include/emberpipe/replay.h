/* replay.h - a recorded log drives the model; what its sensors read is held against what the model
 * computes. */
#ifndef EMB_REPLAY_H
#define EMB_REPLAY_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/case.h"
#include "emberpipe/log.h"
#include "emberpipe/result.h"
#include "emberpipe/run.h"
#include "emberpipe/status.h"

enum { EMB_REPLAY_MAX_THRESHOLDS = 4, EMB_REPLAY_MAX_NOTES = 32 };
struct emb_replay_threshold {
    double value;    /* [K] */
    double measured; /* [s] first time above it */
    double computed; /* [s] NaN: never */
};
struct emb_replay_sensor {
    char name[EMB_LOG_NAME], reads[EMB_LOG_NAME], unit[16];
    size_t n;            /* rows compared */
    double rmse;         /* [unit] */
    double rmse_if_degF; /* [K] if what was read as degC were degF; NaN: no temperature */
    double bias;         /* [unit] mean of computed minus measured */
    double worst;        /* [unit] computed minus measured where it is largest */
    double t_worst;      /* [s] */
    double lo, hi;       /* [unit] measured */
    size_t n_threshold;
    struct emb_replay_threshold threshold[EMB_REPLAY_MAX_THRESHOLDS];
    double *measured; /* [unit] n_row values; NaN: missing or left out */
    double *computed; /* [unit] */
};
struct emb_replay {
    char title[200];
    size_t n_row, n_sensor;
    double *t; /* [s] */
    struct emb_replay_sensor *sensor;
    size_t n_note;
    char note[EMB_REPLAY_MAX_NOTES][240]; /* of the log and of how it was used */
};

/* The case as the log drives it: recorded stream in, one phase, the vehicle's own dosing. `step`:
 * [s] smallest distance of the driving rows, 0: as recorded. Notes go to `notes` (may be NULL).
 * On failure out holds nothing. */
enum emb_status emb_replay_case(const struct emb_case *c, const struct emb_log *log, double step,
                                struct emb_case *out, struct emb_replay *notes,
                                struct emb_err *err);
/* `r` is the result of the driven case. On failure what out holds is still to be freed. */
enum emb_status emb_replay_compare(const struct emb_case *driven, const struct emb_log *log,
                                   const struct emb_result *r, struct emb_replay *out,
                                   struct emb_err *err);
/* All of it. */
enum emb_status emb_replay(const struct emb_case *c, const struct emb_log *log,
                           const struct emb_hooks *hooks, struct emb_replay *out,
                           struct emb_err *err);
void emb_replay_free(struct emb_replay *r);
void emb_replay_text(const struct emb_replay *r, FILE *f);
void emb_replay_csv(const struct emb_replay *r, FILE *f);
#endif
