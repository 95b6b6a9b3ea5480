/* csv.h - tables over time. Strict: every cell a finite number, time rises, units in the header.
 *
 * Headers: `cycSecs,cycMps,cycGrade,...`, `time [s],n_norm,T_norm` (percent; torque -1 means
 * motoring and stays -1), or any `name [unit]`. A leading byte-order mark is skipped. Time is
 * shifted to start at 0. */
#ifndef EMB_CSV_H
#define EMB_CSV_H
#include "emberpipe/case.h"
#include "emberpipe/status.h"
#include "emberpipe/units.h"

enum { EMB_CSV_MAX_ROWS = 10000000 };
struct emb_csv_column {
    const char *names[4]; /* accepted header names, NULL-terminated or full */
    enum emb_dim dim;     /* converts from the header's unit */
    double scale;         /* for headers without a unit; 0: the unit is required */
    bool keep_minus_one;  /* -1 stays -1 */
    bool optional;        /* absent: zeros */
};
/* Column 0 of `columns` is the time; the others fill out->v. On failure out holds nothing. */
enum emb_status emb_csv_read(const char *file, const struct emb_units *u,
                             const struct emb_csv_column *columns, size_t n, struct emb_trace *out,
                             struct emb_err *err);
enum emb_status emb_csv_road_cycle(const char *file, const struct emb_units *u,
                                   struct emb_trace *out,
                                   struct emb_err *err); /* speed [m/s], grade [-] */
enum emb_status emb_csv_engine_cycle(const char *file, const struct emb_units *u,
                                     struct emb_trace *out,
                                     struct emb_err *err); /* n_norm [-], T_norm [-] or -1 */
enum emb_status emb_csv_recorded(const char *file, const struct emb_units *u,
                                 const struct emb_recorded_cfg *cfg, struct emb_trace *out,
                                 struct emb_err *err); /* flow [kg/s], temperature [K] */
#endif
