/* config.c - from file to case in five steps: bytes, shape, overrides and parts, values, sense. */
#include "emberpipe/digest.h"
#include "input.h"

#include <stdlib.h>
#include <string.h>

void emb_loader_free(struct emb_loader *l)
{
    for (size_t i = 0; i < l->n_doc; i++) {
        emb_doc_free(&l->doc[i]);
    }
    free(l->doc);
    free(l->set);
    free(l->order);
    emb_units_free(l->units);
}

static unsigned long long trace_digest(unsigned long long h, const struct emb_trace *t)
{
    h = t->n > 0 ? emb_digest_add(h, t->t, t->n * sizeof *t->t) : h;
    return t->n > 0 ? emb_digest_add(h, t->v, t->n * t->n_col * sizeof *t->v) : h;
}

/* Everything that decided the case: the files with their parts, the overrides, the tables over time. */
static unsigned long long load_digest(const struct emb_loader *l, const char *const *sets, size_t n_set,
                                      const struct emb_case *c)
{
    unsigned long long h = 0;
    for (size_t i = 0; i < l->n_doc; i++) {
        h = emb_digest_add(h, l->doc[i].bytes, l->doc[i].n);
    }
    for (size_t i = 0; i < n_set; i++) {
        h = emb_digest_add(h, sets[i], strlen(sets[i]) + 1);
    }
    for (size_t i = 0; i < c->n_duty; i++) {
        h = trace_digest(h, &c->duty[i].trace);
    }
    return trace_digest(h, &c->recording);
}

/* An empty mapping loads as a record of absent keys; so does a whole case that only exists through --set. */
static void load_steps(struct emb_loader *l, const char *const *sets, size_t n_set, struct emb_case *out)
{
    size_t index = 0;
    if (emb_doc_load(l, l->file, "", &emb_block_case, &index) != 0) {
        return;
    }
    void **root = emb_record_read(l, &l->doc[index], &emb_block_case);
    if (root == NULL) {
        return;
    }
    for (size_t i = 0; i < n_set; i++) {
        emb_record_set(l, &emb_block_case, root, sets[i]);
    }
    emb_parts_apply(l, &emb_block_case, root, "");
    emb_decode_case(l, root, out);
    emb_case_check(l, root, out);
    emb_record_free(&emb_block_case, root);
}

enum emb_status emb_loader_verdict(const struct emb_loader *l, struct emb_err *err)
{
    if (l->no_memory) {
        return emb_fail(err, EMB_ERR_NOMEM, l->file, "out of memory while reading");
    }
    if (l->problems->n == 0) {
        return EMB_OK;
    }
    const struct emb_problem *p = &l->problems->item[0];
    const bool named = p->path[0] != '\0' && strcmp(p->path, "--set") != 0;
    char where[160];
    if (p->line > 0) {
        snprintf(where, sizeof where, "%.110s:%d:%d", p->file, p->line, p->column);
    } else {
        snprintf(where, sizeof where, "%.150s", p->file);
    }
    return emb_fail(err, EMB_ERR_CONFIG, where, "%s%s%s", named ? p->path : "", named ? ": " : "", p->text);
}

enum emb_status emb_config_load(const char *file, const char *const *sets, size_t n_set, struct emb_case *out,
                                struct emb_problems *problems, struct emb_err *err)
{
    struct emb_problems own = {0};
    struct emb_loader l = {.file = file, .problems = problems != NULL ? problems : &own};
    *l.problems = (struct emb_problems){0};
    *out = (struct emb_case){0};
    l.units = emb_units_new();
    if (l.units == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, file, "out of memory");
    }
    load_steps(&l, sets, n_set, out);
    const enum emb_status status = emb_loader_verdict(&l, err);
    out->digest = status == EMB_OK ? load_digest(&l, sets, n_set, out) : 0;
    if (status != EMB_OK) {
        emb_case_free(out);
    }
    emb_loader_free(&l);
    emb_problems_free(&own);
    return status;
}
