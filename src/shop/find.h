/* find.h - a result's totals and columns by name. Private to the shop room. */
#ifndef EMB_FIND_H
#define EMB_FIND_H
#include "emberpipe/result.h"

double emb_shop_total(const struct emb_result *r, const char *name); /* 0 when there is none */
/* Column "element.observation" or -1. */
int emb_shop_column(const struct emb_result *r, const char *element, const char *observation);
#endif
