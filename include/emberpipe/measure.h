/* measure.h - one number of a result, by name.
 *
 *   target.NAME.reached     1 or 0
 *   target.NAME.time        [s] when it was reached; NaN: never
 *   target.NAME.best        closest value seen; .best_time [s]; .longest [s] on the right side
 *   SERIES.peak             of a recorded series ("doc.mean_temperature.peak"); also .min .end
 * .mean .integral .peak_time, all over the recorded rows total.NAME              "total.dosed_fuel"
 *   book.NAME               relative residual of a book ("book.energy")
 *   run.time                [s] simulated
 * A measure is plain data: copy it, use it in many threads. */
#ifndef EMB_MEASURE_H
#define EMB_MEASURE_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/case.h"
#include "emberpipe/result.h"
#include "emberpipe/status.h"

enum emb_measure_group {
    EMB_MEASURE_TARGET,
    EMB_MEASURE_SERIES,
    EMB_MEASURE_TOTAL,
    EMB_MEASURE_BOOK,
    EMB_MEASURE_RUN
};
struct emb_measure {
    char text[160]; /* as asked for */
    char name[96];  /* of the target, series, total or book */
    enum emb_measure_group group;
    int how; /* which number of it; see measure.c */
};

/* Reads the text; whether the name exists, only a result can tell. */
enum emb_status emb_measure_parse(const char *text, struct emb_measure *out, struct emb_err *err);
/* Does it exist in results like this one? The error names the nearest ones. */
enum emb_status emb_measure_check(const struct emb_measure *m, const struct emb_result *r,
                                  struct emb_err *err);
/* SI; NaN where it does not exist (never reached, no such series, an empty result). */
double emb_measure_value(const struct emb_measure *m, const struct emb_result *r);
/* Its unit ("K", "kg", "s", "1") in results like this one; buf is returned. */
const char *emb_measure_unit(const struct emb_measure *m, const struct emb_result *r, char *buf,
                             size_t size);
/* In plain words, for a heading. */
const char *emb_measure_meaning(const struct emb_measure *m, const struct emb_result *r, char *buf,
                                size_t size);
/* Has it a derivative that follows from that of the result? Not yes or no, nor when a peak was. */
bool emb_measure_is_smooth(const struct emb_measure *m);
/* Everything that can be measured in results like this one, a line each. */
void emb_measure_list(const struct emb_result *r, FILE *out);
/* A result with all names of this case, made by starting a run and stopping it at once. */
enum emb_status emb_measure_sample(const struct emb_case *c, struct emb_result *out,
                                   struct emb_err *err);
#endif
