/* study_impl.h - private to the study room. */
#ifndef EMB_STUDY_IMPL_H
#define EMB_STUDY_IMPL_H
#include "emberpipe/study_local.h"

/* sampler.c: points of the unit cube by number. n: all cases. */
/* GSL's Sobol points have 40 coordinates, but from the 24th on some pairs go together by 0.18 (from the
 * 36th by 0.75) however many points are taken; up to here none does by more than 0.05 from 512 on. */
enum { EMB_SOBOL_AXES = 22 };
size_t emb_sampler_block(enum emb_design design, size_t dims); /* cases that belong together */
struct emb_sampler *emb_sampler_new(enum emb_design design, size_t n, size_t dims, int seed,
                                    struct emb_err *err);
void emb_sampler_free(struct emb_sampler *s); /* NULL is fine */
void emb_sampler_point(struct emb_sampler *s, size_t i, double *u);
/* axis.c */
enum emb_status emb_axis_init(struct emb_study *s, size_t i, const struct emb_case *base,
                              const struct emb_units *u, struct emb_err *err);
double emb_axis_value(const struct emb_axis *a, double u); /* u: 0 .. 1 */
/* table.c: the CSV of cases becomes axes and s->table */
enum emb_status emb_table_keys(struct emb_study *s, struct emb_err *err);
enum emb_status emb_table_read(struct emb_study *s, const struct emb_case *base,
                               const struct emb_units *u, struct emb_err *err);
/* local.c: the base case (choices at their first) with one axis moved */
enum emb_status emb_local_case(const struct emb_study *s, const struct emb_local *l, size_t axis,
                               double by, struct emb_case *out, struct emb_err *err);
/* tangent.c: l->tangent and l->lost */
enum emb_status emb_local_tangents(const struct emb_study *s, const atomic_bool *stop,
                                   struct emb_local *l, struct emb_err *err);
#endif
