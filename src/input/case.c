/* case.c - ownership of a case. */
#include "emberpipe/case.h"

#include <stdlib.h>
#include <string.h>

int emb_case_find(const struct emb_case *c, const char *name)
{
    for (size_t i = 0; i < c->n_line; i++) {
        if (c->line[i].name != NULL && strcmp(c->line[i].name, name) == 0) {
            return (int)i;
        }
    }
    return -1;
}

static void trace_free(struct emb_trace *t)
{
    free(t->t);
    free(t->v);
}

void emb_case_free(struct emb_case *c)
{
    if (c == NULL) {
        return;
    }
    for (size_t i = 0; i < c->n_line; i++) {
        free(c->line[i].name);
    }
    for (size_t i = 0; i < c->n_duty; i++) {
        free(c->duty[i].name);
        free(c->duty[i].cycle);
        trace_free(&c->duty[i].trace);
    }
    for (size_t i = 0; i < c->n_target; i++) {
        free(c->target[i].name);
    }
    free(c->line);
    free(c->duty);
    free(c->target);
    free(c->title);
    free(c->file);
    free(c->recorded.file);
    free(c->recorded.time_column);
    free(c->recorded.flow_column);
    free(c->recorded.temperature_column);
    trace_free(&c->recording);
    *c = (struct emb_case){0};
}
