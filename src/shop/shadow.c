/* shadow.c - cases to change, and a result's totals and columns by name. */
#include "shadow.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void *list_copy(const void *from, size_t bytes)
{
    void *to = malloc(bytes > 0 ? bytes : 1);
    if (to != NULL && bytes > 0) {
        memcpy(to, from, bytes);
    }
    return to;
}

int emb_shadow_make(const struct emb_case *from, struct emb_case *to)
{
    *to = *from;
    to->line = list_copy(from->line, from->n_line * sizeof *to->line);
    to->duty = list_copy(from->duty, from->n_duty * sizeof *to->duty);
    to->target = list_copy(from->target, from->n_target * sizeof *to->target);
    if (to->line == NULL || to->duty == NULL || to->target == NULL) {
        emb_shadow_free(to);
        return -1;
    }
    return 0;
}

void emb_shadow_free(struct emb_case *c)
{
    free(c->line);
    free(c->duty);
    free(c->target);
    *c = (struct emb_case){0};
}

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
