/* likely.h - will it work in trucks like this: what is not known is drawn from its plausible spread
 * (the field table's column), a few hundred times, and counted.
 *
 * What the case file states is taken as known; what it leaves to defaults and parts is drawn. */
#ifndef EMB_LIKELY_H
#define EMB_LIKELY_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/case.h"
#include "emberpipe/status.h"
#include "emberpipe/vary.h"

struct emb_likely_input {
    struct emb_place place;
    char element[64];    /* of the line that it belongs to; "" elsewhere */
    double value, sigma; /* [SI of the place] */
};
struct emb_range {
    size_t n;              /* values it is made of */
    double low, mid, high; /* tenth, fiftieth and ninetieth percentile, unit as named beside */
};
struct emb_likely_target {
    char name[80], what[96];
    size_t reached;                    /* of n */
    double lo, hi;                     /* [-] 95 % interval of the share (Clopper & Pearson 1934) */
    struct emb_range time;             /* [s] among those that reached it */
    bool coarse_reached, full_reached; /* with the inputs as they are */
    double coarse_time, full_time;     /* [s] */
    double *rank;   /* n_input: Spearman's correlation of the input with how far it got */
    double *margin; /* n: closest value seen, or time; see margin_of */
};
struct emb_likely {
    char title[200];
    size_t n, failed; /* runs; of them, those that did not end or left their energy book open */
    size_t n_input, n_target;
    struct emb_likely_input *input;
    struct emb_likely_target *target;
    struct emb_range engine_fuel, dosed_fuel; /* [kg] until all targets are reached, or all */
    bool full;   /* every run as the case says; else coarser, as follows */
    int cells;   /* at most, of the longest brick; shorter ones their share; a pipe has one */
    double rtol; /* [-] tolerance */
    unsigned seed;
    double *u; /* n x n_input: points of the unit cube, row-major */
    double seconds;
};
struct emb_likely_options {
    size_t samples; /* 0: 200 */
    unsigned seed;
    int threads, cells;     /* 0: one a core; 2 */
    double rtol;            /* [-]; 0: 1e-3 */
    bool full;              /* nothing made coarse */
    const char *const *set; /* keys given on the command line are known too */
    size_t n_set;
    bool (*progress)(double share, void *user);
    void *user;
};
enum emb_status emb_likely(const struct emb_case *c, const struct emb_likely_options *o,
                           struct emb_likely *out, struct emb_err *err);
void emb_likely_free(struct emb_likely *l);
void emb_likely_text(const struct emb_likely *l, FILE *f);
void emb_likely_csv(const struct emb_likely *l, FILE *f);

/* The parts of it, for checks and for other models. */
/* n points in `dims` dimensions, row-major: a Latin hypercube. false: out of memory. */
bool emb_likely_points(size_t n, size_t dims, unsigned seed, double *u);
double emb_likely_draw(double u, double value, double sigma); /* normal, cut off at 2.5 sigma */
void emb_likely_interval(size_t hits, size_t n, double *lo, double *hi);
double emb_likely_rank(const double *a, const double *b, size_t n); /* Spearman; NaNs left out */
struct emb_range emb_likely_range(const double *v, size_t n);       /* NaNs left out */
#endif
