/* result.h - everything a run has to say. Reports read this and nothing else. */
#ifndef EMB_RESULT_H
#define EMB_RESULT_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/ode.h"

struct emb_column { /* one recorded series */
    char name[80];  /* "doc.mean_temperature" */
    char unit[16];  /* SI: "K", "kg/s", "Pa", "-" ... */
    char meaning[120];
};
struct emb_verdict {
    char name[80], at[48];
    char what[96];       /* "mean temperature above 521 degC (970 degF) for 60 s" ready to print */
    bool is_temperature; /* best/value in K, else [-] */
    bool below;
    double value, hold; /* threshold, [s] */
    bool reached;
    double t_reached;    /* [s] when the hold was fulfilled; NaN if never */
    double best, t_best; /* closest value seen and when */
    double longest;      /* [s] longest unbroken time on the right side */
    char why[400];       /* plain-words reason when not reached */
    char unit[8]; /* of value and best: "K", "-", "kg/s"; "" means K or - by is_temperature */
};
struct emb_book {
    char name[16], unit[8];
    double in, out, stored, residual, relative;
};
struct emb_heat_item {
    char label[96];
    double joule;
}; /* + source, - sink; the list sums to the residual */
struct emb_warning {
    char text[240], advice[240];
};
struct emb_total {
    char name[64], unit[16], meaning[96];
    double value;
};
struct emb_note {
    double t;
    char text[200];
}; /* log of the run: regeneration stages, crossings */
struct emb_span {
    char name[64];
    double t0, t1;
}; /* phases as run */
struct emb_element_note {
    char name[48], kind[24];
    double peak, t_peak, end; /* [K] hottest solid or gas, [s], [K] gas that leaves at the end */
    double peak_at;           /* [-] place of the peak as a share of the length; NaN: no length */
};

struct emb_part {
    char name[48], kind[24];
    double length, diameter; /* [m] along and across the flow; 0: has none of its own */
    size_t first, n_cell;    /* its cells in a row of the profile; n_cell 0: it has no solid */
};

struct emb_result {
    char title[200];
    bool complete; /* false: stopped early, see message */
    char message[512];
    double t_end; /* [s] simulated */
    size_t n_column, n_row;
    struct emb_column *column;
    double *row; /* row-major; column 0 is time [s] */
    size_t n_verdict;
    struct emb_verdict *verdict;
    size_t n_book;
    struct emb_book *book; /* energy, carbon, hydrogen, oxygen, nitrogen, soot */
    size_t n_heat;
    struct emb_heat_item *heat;
    size_t n_warning;
    struct emb_warning *warning;
    size_t n_total;
    struct emb_total *total; /* fuel, DEF, NOx, soot burnt ... */
    size_t n_note;
    struct emb_note *note;
    size_t n_span;
    struct emb_span *span;
    size_t n_element;
    struct emb_element_note *element;
    size_t n_place;
    struct emb_part *place; /* the line in order, for drawings */
    size_t n_cell;
    float *profile; /* [K] solids along the line, row-major n_row x n_cell, same rows as `row` */
    struct emb_counters counters;
    enum emb_method method;
    double book_limit; /* [-] a book that is open by more, relative to what passed, is said loudly */
    double wall_seconds;
};
void emb_result_free(struct emb_result *r);                          /* what it owns, not r */
int emb_result_find(const struct emb_result *r, const char *column); /* index or -1 */
#endif
