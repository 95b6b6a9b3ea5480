/* case.c - ownership of a case. */
#include "emberpipe/case.h"
#include "emberpipe/kinetics.h"

#include <stdbool.h>
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
    free(c->set);
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

static char *text_copy(const char *text, bool *ok)
{
    const size_t n = text != NULL ? strlen(text) + 1 : 0;
    char *copy = n > 0 ? malloc(n) : NULL;
    *ok = *ok && (n == 0 || copy != NULL);
    return copy != NULL ? memcpy(copy, text, n) : NULL;
}

static void *array_copy(const void *from, size_t n, size_t item, bool *ok)
{
    void *copy = n > 0 && from != NULL ? malloc(n * item) : NULL;
    *ok = *ok && (n == 0 || from == NULL || copy != NULL);
    return copy != NULL ? memcpy(copy, from, n * item) : NULL;
}

static struct emb_trace trace_copy(const struct emb_trace *from, bool *ok)
{
    struct emb_trace to = *from;
    to.t = array_copy(from->t, from->n, sizeof *to.t, ok);
    to.v = array_copy(from->v, from->n * from->n_col, sizeof *to.v, ok);
    return to;
}

/* After a failed array the pointers inside must not be touched: they would be the original's. */
static void lists_copy(const struct emb_case *from, struct emb_case *to, bool *ok)
{
    to->line = array_copy(from->line, from->n_line, sizeof *to->line, ok);
    to->duty = array_copy(from->duty, from->n_duty, sizeof *to->duty, ok);
    to->target = array_copy(from->target, from->n_target, sizeof *to->target, ok);
    to->set = array_copy(from->set, from->n_set, sizeof *to->set, ok);
    to->n_set = to->set != NULL ? from->n_set : 0;
    to->n_line = to->line != NULL ? from->n_line : 0;
    to->n_duty = to->duty != NULL ? from->n_duty : 0;
    to->n_target = to->target != NULL ? from->n_target : 0;
    for (size_t i = 0; i < to->n_line; i++) {
        to->line[i].name = text_copy(from->line[i].name, ok);
    }
    for (size_t i = 0; i < to->n_duty; i++) {
        to->duty[i].name = text_copy(from->duty[i].name, ok);
        to->duty[i].cycle = text_copy(from->duty[i].cycle, ok);
        to->duty[i].trace = trace_copy(&from->duty[i].trace, ok);
    }
    for (size_t i = 0; i < to->n_target; i++) {
        to->target[i].name = text_copy(from->target[i].name, ok);
    }
}

enum emb_status emb_case_copy(const struct emb_case *from, struct emb_case *to,
                              struct emb_err *err)
{
    bool ok = true;
    *to = *from;
    lists_copy(from, to, &ok);
    to->title = text_copy(from->title, &ok);
    to->file = text_copy(from->file, &ok);
    to->recorded.file = text_copy(from->recorded.file, &ok);
    to->recorded.time_column = text_copy(from->recorded.time_column, &ok);
    to->recorded.flow_column = text_copy(from->recorded.flow_column, &ok);
    to->recorded.temperature_column = text_copy(from->recorded.temperature_column, &ok);
    to->recording = trace_copy(&from->recording, &ok);
    if (!ok) {
        emb_case_free(to);
        return emb_fail(err, EMB_ERR_NOMEM, "case", "out of memory while copying a case");
    }
    return EMB_OK;
}
