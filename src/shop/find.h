/* find.h - totals and columns by name; where runs are given up. Private to the shop room. */
#ifndef EMB_FIND_H
#define EMB_FIND_H
#include "emberpipe/result.h"

/* A run among many that needs more steps than this hangs on something: given up. Judgement: the
 * day of idling in configs takes some hundreds. */
enum { SHOP_MAX_STEPS = 50000 };

double emb_shop_total(const struct emb_result *r, const char *name); /* 0 when there is none */
/* Column "element.observation" or -1. */
int emb_shop_column(const struct emb_result *r, const char *element, const char *observation);
#endif
