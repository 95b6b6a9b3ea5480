/* shadow.h - a case to change and try, beside the one it came from. Private to the shop room.
 *
 * A shadow owns its lists (line, duty, targets) and borrows every string and trace of the original,
 * which must outlive it. Never give it to emb_case_free. */
#ifndef EMB_SHADOW_H
#define EMB_SHADOW_H
#include "emberpipe/case.h"
#include "emberpipe/result.h"

int emb_shadow_make(const struct emb_case *from, struct emb_case *to); /* -1: out of memory */
void emb_shadow_free(struct emb_case *c);
double emb_shop_total(const struct emb_result *r, const char *name); /* 0 when there is none */
/* Column "element.observation" or -1. */
int emb_shop_column(const struct emb_result *r, const char *element, const char *observation);
#endif
