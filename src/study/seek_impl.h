/* seek_impl.h - private to the study room: what a search is about. */
#ifndef EMB_SEEK_IMPL_H
#define EMB_SEEK_IMPL_H
#include "emberpipe/study_search.h"

/* seek_plan.c: output, limits and combinations; refuses what cannot be searched. */
enum emb_status emb_seek_begin(const struct emb_study *s, size_t most_free, struct emb_search *out,
                                 struct emb_err *err);
bool emb_seek_point_make(const struct emb_study *s, struct emb_search_point *p);
void emb_seek_point_free(struct emb_search_point *p);
#endif
