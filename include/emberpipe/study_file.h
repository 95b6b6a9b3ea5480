/* study_file.h - a study file as written: which keys vary, how, and what is wanted of every case.
 * Texts are texts still; only together with the base case they get a meaning (study.h). */
#ifndef EMB_STUDY_FILE_H
#define EMB_STUDY_FILE_H
#include "emberpipe/config.h"
#include "emberpipe/field.h"

enum emb_design {
    EMB_DESIGN_GRID,
    EMB_DESIGN_HYPERCUBE,
    EMB_DESIGN_SOBOL,
    EMB_DESIGN_RANDOM,
    EMB_DESIGN_TABLE,
    EMB_DESIGN_SCREEN,   /* elementary effects: `samples` paths of n_axis + 1 cases */
    EMB_DESIGN_VARIANCE, /* first and total indices: `samples` blocks of n_axis + 2 cases */
    EMB_DESIGN_SEARCH    /* no cases of its own, see study_search.h */
};
enum emb_spacing { EMB_LINEAR, EMB_LOG };
enum emb_spread { EMB_UNIFORM, EMB_NORMAL };

struct emb_axis_cfg {
    char *key;                    /* path in the case; "case": values are case files */
    struct emb_texts also;        /* further keys that take the same value */
    struct emb_texts values;      /* or: */
    char *from, *to;              /* with units */
    int steps;                    /* grid: from `from` to `to` in so many values */
    enum emb_spacing spacing;     /* of the steps, or of the distribution */
    enum emb_spread distribution; /* sampled designs */
    char *mean, *sd;              /* normal; unset: the value of the case, the spread of the key */
};
enum emb_search_method { EMB_SEARCH_LOCAL, EMB_SEARCH_GLOBAL };
struct emb_search_cfg {
    char *minimise, *maximise; /* an output; one of the two */
    struct emb_texts limits;   /* "OUTPUT below 3 kg" */
    enum emb_search_method method;
    int runs; /* for each combination of the axes with values */
};
struct emb_study_cfg {
    char *file;
    char *text; /* the whole file, NUL-terminated */
    char *title, *base, *table;
    enum emb_design design;
    int samples, seed;
    int max_steps; /* of the integrator; a case that takes more is given up */
    struct emb_texts set, outputs, traces;
    double trace_interval; /* [s] between the kept values of a trace */
    struct emb_search_cfg search;
    size_t n_axis;
    struct emb_axis_cfg *axis;
};
/* Problems as emb_config_load. On failure *out holds nothing to free. */
enum emb_status emb_study_file_load(const char *file, struct emb_study_cfg *out,
                                    struct emb_problems *problems, struct emb_err *err);
void emb_study_file_free(struct emb_study_cfg *s);
/* `file` as seen from the folder of the study file; malloc'ed, NULL: out of memory. */
char *emb_study_file_beside(const struct emb_study_cfg *s, const char *file);
#endif
