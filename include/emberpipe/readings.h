/* readings.h - what healthy sensors should show, row by row. */
#ifndef EMB_READINGS_H
#define EMB_READINGS_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/case.h"
#include "emberpipe/status.h"

enum emb_reading_kind { EMB_READ_EXHAUST, EMB_READ_SENSOR, EMB_READ_BRICK };
struct emb_reading {
    char name[48];
    enum emb_reading_kind kind;
};
struct emb_readings {
    char title[200];
    bool as_new, complete;
    size_t n_column, n_row;
    struct emb_reading *column;
    double *t;          /* [s] n_row */
    double *K;          /* [K] row-major n_row x n_column */
    size_t n_band;      /* trucks behind the band; 0: none */
    double *low, *high; /* [K] like K: tenth and ninetieth percentile; NULL: none */
    double dosed_from;  /* [s] first dosing of fuel; NaN: none */
    double mean_dosing; /* [kg/s] mean rate of the fuel dosed while it is dosed; 0: none */
};
/* Runs the case with every sensor's offset taken away (its lag stays); as_new: also with delivery,
 * active area, leaks and the like as on a new vehicle. every [s]: between rows. */
enum emb_status emb_readings_make(const struct emb_case *c, double every, bool as_new,
                                  struct emb_readings *out, struct emb_err *err);
/* Adds the band to r, which was made of the same case: what is not known (see likely.h) is drawn
 * `samples` times, in coarse runs. */
struct emb_band_options {
    size_t samples; /* 0: 32 */
    unsigned seed;
    int threads; /* 0: one a core */
    const char *const *set; /* keys given on the command line are known too */
    size_t n_set;
    bool (*progress)(double share, void *user); /* false cancels; NULL */
    void *user;
};
enum emb_status emb_readings_band(const struct emb_case *c, const struct emb_band_options *o,
                                  struct emb_readings *r, struct emb_err *err);
void emb_readings_free(struct emb_readings *r);
void emb_readings_text(const struct emb_readings *r, FILE *f);
void emb_readings_csv(const struct emb_readings *r, FILE *f);
#endif
