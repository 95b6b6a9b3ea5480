/* likely_draw.c - what is not known, and trucks with it drawn from its plausible spread. */
#include "likely_draw.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool input_add(const struct emb_case *c, const char *path, struct emb_likely *out)
{
    struct emb_place p;
    if (emb_place_find(c, path, &p, NULL) != EMB_OK || !p.numeric ||
        p.field->kind != EMB_FIELD_QUANTITY) {
        return true;
    }
    const double sigma = emb_place_spread(c, &p), value = emb_place_get(c, &p);
    if (!(sigma > 0.0) || isnan(value)) {
        return true;
    }
    struct emb_likely_input *grown =
        realloc(out->input, (out->n_input + 1) * sizeof *out->input);
    if (grown == NULL) {
        return false;
    }
    out->input = grown;
    struct emb_likely_input *in = &out->input[out->n_input++];
    *in = (struct emb_likely_input){.place = p, .value = value, .sigma = sigma};
    if (p.home == EMB_HOME_LINE) {
        snprintf(in->element, sizeof in->element, "%s", c->line[p.index].name);
    }
    return true;
}

static bool block_add(const struct emb_case *c, const struct emb_block *b, const char *path,
                      struct emb_likely *out)
{
    bool ok = true;
    for (size_t i = 0; i < b->n && ok; i++) {
        char at[160];
        snprintf(at, sizeof at, "%.90s.%.60s", path, b->field[i].key);
        if (b->field[i].spread > 0.0) {
            ok = input_add(c, at, out);
        } else if (b->field[i].kind == EMB_FIELD_BLOCK && b->field[i].block == &emb_block_levers) {
            ok = block_add(c, b->field[i].block, at, out);
        }
    }
    return ok;
}

/* Everything with a spread that has an effect in this case and is not stated. */
static enum emb_status inputs_find(const struct emb_case *c, const char *const *set, size_t n_set,
                                   struct emb_likely *out, struct emb_err *err)
{
    bool ok = true;
    for (size_t i = 0; i < emb_block_case.n; i++) {
        const struct emb_field *f = &emb_block_case.field[i];
        if (f->kind == EMB_FIELD_BLOCK && ok) {
            ok = block_add(c, f->block, f->key, out);
        } else if (f->spread > 0.0 && ok) {
            ok = input_add(c, f->key, out);
        }
    }
    for (size_t e = 0; e < c->n_line; e++) {
        for (size_t i = 0; i < emb_block_element.n && ok; i++) {
            const struct emb_field *f = &emb_block_element.field[i];
            char at[100];
            snprintf(at, sizeof at, "line[%zu].%.60s", e, f->key);
            ok = f->kind != EMB_FIELD_BLOCK || block_add(c, f->block, at, out);
        }
    }
    struct emb_place *place = calloc(out->n_input + 1, sizeof *place);
    bool *stated = calloc(out->n_input + 1, sizeof *stated);
    if (!ok || place == NULL || stated == NULL) {
        free(place);
        free(stated);
        return emb_fail(err, EMB_ERR_NOMEM, "likely", "out of memory");
    }
    for (size_t i = 0; i < out->n_input; i++) {
        place[i] = out->input[i].place;
    }
    const enum emb_status st =
        emb_case_stated(c, set, n_set, place, out->n_input, stated, err);
    size_t kept = 0;
    for (size_t i = 0; st == EMB_OK && i < out->n_input; i++) {
        if (!stated[i]) {
            out->input[kept++] = out->input[i];
        }
    }
    out->n_input = kept;
    free(place);
    free(stated);
    return st;
}

static struct emb_body *body_of(struct emb_element_cfg *e)
{
    return e->kind == EMB_FILTER                                ? &e->u.filter.body
           : e->kind == EMB_OXICAT || e->kind == EMB_REDCAT ? &e->u.brick.body
                                                            : NULL;
}

/* The longest brick gets l->cells, the others their share of it: what few cells smear is the heat
 * that travels, and a short brick holds little of it. */
static void coarsen(struct emb_case *c, const struct emb_likely *l)
{
    double longest = 0.0; /* [m] */
    if (l->full) {
        return;
    }
    for (size_t i = 0; i < c->n_line; i++) {
        const struct emb_body *b = body_of(&c->line[i]);
        longest = b != NULL ? fmax(longest, b->length) : longest;
    }
    for (size_t i = 0; i < c->n_line; i++) {
        struct emb_element_cfg *e = &c->line[i];
        struct emb_body *b = body_of(e);
        if (e->kind == EMB_PIPE) {
            e->u.pipe.cells = 1;
        } else if (b != NULL) {
            const int n = (int)fmax(1.0, round(l->cells * b->length / longest));
            b->cells = b->cells < n ? b->cells : n;
        }
    }
    c->rtol = fmax(c->rtol, l->rtol);
}

enum emb_status emb_likely_begin(const struct emb_case *c, const char *const *set, size_t n_set,
                                 struct emb_likely *l, struct emb_case *coarse,
                                 struct emb_err *err)
{
    enum emb_status st = emb_case_copy(c, coarse, err);
    if (st != EMB_OK) {
        return st;
    }
    coarsen(coarse, l);
    st = inputs_find(c, set, n_set, l, err);
    if (st == EMB_OK) {
        l->u = malloc((l->n * l->n_input + 1) * sizeof *l->u);
        if (l->u == NULL || !emb_likely_points(l->n, l->n_input, l->seed, l->u)) {
            st = emb_fail(err, EMB_ERR_NOMEM, "likely", "out of memory");
        }
    }
    if (st != EMB_OK) {
        emb_case_free(coarse);
    }
    return st;
}

enum emb_status emb_likely_truck(const struct emb_likely *l, const struct emb_case *coarse,
                                 size_t i, struct emb_case *out, struct emb_err *err)
{
    enum emb_status st = emb_case_copy(coarse, out, err);
    for (size_t k = 0; k < l->n_input && st == EMB_OK; k++) {
        const struct emb_likely_input *in = &l->input[k];
        const double v = emb_likely_draw(l->u[i * l->n_input + k], in->value, in->sigma);
        st = emb_place_set(out, &in->place, fmin(fmax(v, in->place.min), in->place.max), err);
        if (st != EMB_OK) {
            emb_case_free(out);
        }
    }
    return st;
}
