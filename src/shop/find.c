/* find.c - a result's totals and columns by name. */
#include "find.h"

#include <stdio.h>
#include <string.h>

double emb_shop_total(const struct emb_result *r, const char *name)
{
    for (size_t i = 0; i < r->n_total; i++) {
        if (strcmp(r->total[i].name, name) == 0) {
            return r->total[i].value;
        }
    }
    return 0.0;
}

int emb_shop_column(const struct emb_result *r, const char *element, const char *observation)
{
    char name[80];
    snprintf(name, sizeof name, "%s.%s", element, observation);
    return emb_result_find(r, name);
}
