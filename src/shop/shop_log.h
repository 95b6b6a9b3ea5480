/* shop_log.h - private to the shop room: what replay and diagnosis share. */
#ifndef EMB_SHOP_LOG_H
#define EMB_SHOP_LOG_H
#include "emberpipe/replay.h"

void emb_replay_note(struct emb_replay *r, const char *fmt, ...)
    __attribute__((format(printf, 2, 3)));
/* Is this column of the log one to compare with column `*at` of the result? */
bool emb_replay_comparable(const struct emb_case *driven, const struct emb_log *log,
                           const struct emb_log_column *c, const struct emb_result *r, size_t *at);
/* Column `at` of the result at time t, by straight lines. */
double emb_replay_at(const struct emb_result *r, size_t at, double t);
/* From here on (until *end) the reading stays the same to the last digit though the model sees it
 * change a lot. False: no such stretch behind row `from`. */
bool emb_replay_stuck(const struct emb_log *log, const double *measured, const double *computed,
                      size_t from, size_t *begin, size_t *end);
#endif
