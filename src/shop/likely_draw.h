/* likely_draw.h - the trucks behind a likelihood, for whoever runs them. Private to the shop room. */
#ifndef EMB_LIKELY_DRAW_H
#define EMB_LIKELY_DRAW_H
#include "emberpipe/likely.h"

/* How coarse sampled runs are, unless asked otherwise: judgement. */
static const double emb_likely_rtol = 1e-3; /* [-] at least */

/* What is drawn and the points (l->input, l->u, for l->n trucks), and the case as coarse as l says;
 * free `coarse` and l afterwards. l->n, seed, cells, rtol and full must be set. */
enum emb_status emb_likely_begin(const struct emb_case *c, const char *const *set, size_t n_set,
                                 struct emb_likely *l, struct emb_case *coarse,
                                 struct emb_err *err);
/* Truck i; pure, for many threads. */
enum emb_status emb_likely_truck(const struct emb_likely *l, const struct emb_case *coarse,
                                 size_t i, struct emb_case *out, struct emb_err *err);
#endif
