/* study.h - a study: a base case, axes, a design, and what is kept of every case.
 *
 * Loaded once (in one thread: the unit library), then only read: any number of threads may ask for
 * case i at once. Values of an axis are in SI; for a choice (texts, names, case files) they are the
 * index of the level. */
#ifndef EMB_STUDY_H
#define EMB_STUDY_H
#include "emberpipe/measure.h"
#include "emberpipe/study_file.h"
#include "emberpipe/vary.h"

struct emb_axis {
    const char *key; /* of the file */
    bool choice;     /* values are indices into text */
    size_t n_level;  /* 0: a range */
    char **text;     /* borrowed; choices only */
    double *level;   /* [SI] owned; not for choices */
    double lo, hi;   /* [SI] range, or where a normal distribution is cut off */
    double mean, sd; /* [SI], or of the natural logarithm with log spacing */
    enum emb_spacing spacing;
    enum emb_spread distribution;
    enum emb_dim dim;
    const char *unit, *meaning; /* SI unit ("-" for fractions and choices) */
    size_t n_key;               /* places it sets: its key and `also` */
};
struct emb_study_output {
    struct emb_measure measure;
    char unit[32], meaning[200];
};
struct emb_study_trace {
    char name[96], unit[32], meaning[120];
};
struct emb_sampler;

struct emb_study {
    struct emb_study_cfg cfg;
    size_t n; /* cases */
    size_t n_axis, n_output, n_trace;
    struct emb_axis *axis;
    struct emb_study_output *output;
    struct emb_study_trace *trace;
    size_t n_time;            /* values of a trace, at 0, trace_interval, 2 ... [s] */
    struct emb_variants base; /* one for every combination of the choices */
    size_t n_place;           /* of one base */
    struct emb_place *place;  /* base.n x n_place, axis after axis */
    double *table;            /* design table: n x n_axis */
    struct emb_sampler *sampler;
    unsigned long long
        digest; /* of everything that decides the results, this program's version too */
};

/* All problems of the file itself go to `problems` (may be NULL); what only the base case can tell
 * (misspelt paths, values out of range) is the one in err. On failure *out holds nothing to free.
 */
enum emb_status emb_study_load(const char *file, struct emb_study *out,
                               struct emb_problems *problems, struct emb_err *err);
void emb_study_free(struct emb_study *s);
/* Values of case i, n_axis of them; the same i gives the same values, in any order, in any thread.
 */
void emb_study_values(const struct emb_study *s, size_t i, double *values);
/* Cases of the designs for sensitivities come in blocks of so many; 1 with the others. */
size_t emb_study_block(const struct emb_study *s);
/* A point of the unit cube to values, by the ranges and distributions; for designs of one's own. */
void emb_study_point(const struct emb_study *s, const double *unit_cube, double *values);
/* The case with these values. */
enum emb_status emb_study_make(const struct emb_study *s, const double *values,
                               struct emb_case *out, struct emb_err *err);
/* What is kept of a result: n_output values (NaN where they do not exist), and n_trace x n_time
 * values of the traces (NaN behind the end; may be NULL). */
void emb_study_keep(const struct emb_study *s, const struct emb_result *r, double *outputs,
                    float *traces);
#endif
