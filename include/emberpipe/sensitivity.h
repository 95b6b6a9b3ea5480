/* sensitivity.h - which axes an output depends on, from the results of a designed study.
 *
 * Screening (Morris 1991, mu* of Campolongo et al. 2007): the size of the effect of moving one axis
 * over its whole range, averaged over the others, for few cases. Variance (Saltelli et al. 2010): the
 * share of an output's variance that an axis causes alone (first) and together with the others
 * (total). All intervals are 95 %, by bootstrap over paths or blocks. */
#ifndef EMB_SENSITIVITY_H
#define EMB_SENSITIVITY_H
#include <stddef.h>
#include "emberpipe/journal.h"
#include "emberpipe/status.h"
#include "emberpipe/study.h"

struct emb_band {
    double value, lo, hi; /* [unit of the output, or - for an index] */
};
struct emb_influence { /* of one axis on one output */
    struct emb_band effect; /* screening: [unit of the output] mean of |change| over the range */
    double drift;           /* [unit of the output] mean change with its sign, low to high */
    double uneven;          /* [unit of the output] its standard deviation: bent, or depends on others */
    struct emb_band first, total; /* variance: [-]; NaN if the output does not vary */
};
struct emb_sensitivity { /* of one output */
    size_t used, absent; /* blocks; absent: not all of their cases are done and have this output */
    double mean, sd;     /* [unit of the output] over the cases used (variance: of points A and B) */
    struct emb_influence *axis;
};
/* y: results of n blocks in the order of the design; NaN: absent, and its block is left out.
 * cube: the points, of the same length times n_axis. Needs 4 whole blocks. out->axis has n_axis
 * entries, made by the caller. */
enum emb_status emb_screening_compute(size_t n_axis, size_t n, const double *cube, const double *y,
                                      struct emb_sensitivity *out, struct emb_err *err);
enum emb_status emb_variance_compute(size_t n_axis, size_t n, const double *y,
                                     struct emb_sensitivity *out, struct emb_err *err);

struct emb_analysis {
    enum emb_design design;
    size_t n_axis, n_output, blocks; /* blocks of the design */
    struct emb_sensitivity *output;  /* used 0: too few blocks have it */
};
/* All outputs of a study from its journal, which may be unfinished; refuses other designs. */
enum emb_status emb_analysis_make(const struct emb_study *s, struct emb_journal *j,
                                  struct emb_analysis *out, struct emb_err *err);
void emb_analysis_free(struct emb_analysis *a);
#endif
