/* seek_plan.c - reads what a search is about. */
#include <stdlib.h>
#include <string.h>

#include "seek_impl.h"

bool emb_seek_point_make(const struct emb_study *s, struct emb_search_point *p)
{
    p->cube = calloc(s->n_axis + 1, sizeof *p->cube);
    p->values = calloc(s->n_axis + 1, sizeof *p->values);
    p->outputs = calloc(s->n_output + 1, sizeof *p->outputs);
    return p->cube != NULL && p->values != NULL && p->outputs != NULL;
}

void emb_seek_point_free(struct emb_search_point *p)
{
    free(p->cube);
    free(p->values);
    free(p->outputs);
}

static enum emb_status output_find(const struct emb_study *s, const char *name, const char *key,
                                   size_t *out, struct emb_err *err)
{
    const char *names[256];
    char near[200];
    size_t n = 0;
    for (; n < s->n_output && n < 256; n++) {
        names[n] = s->output[n].measure.text;
        if (strcmp(names[n], name) == 0) {
            *out = n;
            return EMB_OK;
        }
    }
    emb_suggest(name, names, n, near, sizeof near);
    return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file, "search.%s: '%.80s' is not among outputs%s", key,
                    name, near[0] != '\0' ? near : "; add it there");
}

static enum emb_dim dim_of(const char *unit)
{
    enum emb_dim d = 0;
    unit = strcmp(unit, "1") == 0 ? "-" : unit;
    while (d < EMB_NDIM && strcmp(emb_dim_si(d), unit) != 0) {
        d++;
    }
    return d;
}

/* The last place of a word: names of outputs may hold any words. */
static const char *word_last(const char *text, const char *word)
{
    const char *at = NULL;
    for (const char *p = text; (p = strstr(p, word)) != NULL; p++) {
        at = p;
    }
    return at;
}

static enum emb_status limit_read(const struct emb_study *s, const struct emb_units *u,
                                  const char *text, struct emb_search_limit *l, struct emb_err *err)
{
    const char *below = word_last(text, " below "), *above = word_last(text, " above ");
    const char *at = above == NULL || (below != NULL && below > above) ? below : above;
    char name[160], msg[EMB_UNIT_MSG];
    if (at == NULL || (size_t)(at - text) >= sizeof name) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "search.limits: '%.80s'; write  OUTPUT below QUANTITY  or  OUTPUT above "
                        "QUANTITY, such as  total.dosed_fuel below 2 kg",
                        text);
    }
    snprintf(name, sizeof name, "%.*s", (int)(at - text), text);
    const enum emb_status st = output_find(s, name, "limits", &l->output, err);
    if (st != EMB_OK) {
        return st;
    }
    const enum emb_dim d = dim_of(s->output[l->output].unit);
    l->below = at == below;
    if (d == EMB_NDIM) {
        return emb_number_parse(at + 7, &l->value, NULL) == 0
                   ? EMB_OK
                   : emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                              "search.limits: '%.80s': give a plain number in %s", text,
                              s->output[l->output].unit);
    }
    return emb_quantity_parse(u, at + 7, d, &l->value, msg) == 0
               ? EMB_OK
               : emb_fail(err, EMB_ERR_CONFIG, s->cfg.file, "search.limits: '%.60s': %s", text, msg);
}

static enum emb_status limits_read(const struct emb_study *s, struct emb_search *out,
                                   struct emb_err *err)
{
    const struct emb_texts *t = &s->cfg.search.limits;
    struct emb_units *u = emb_units_new();
    enum emb_status st = EMB_OK;
    out->limit = calloc(t->n + 1, sizeof *out->limit);
    if (u == NULL || out->limit == NULL) {
        st = emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    } else if (t->n > EMB_SEARCH_LIMITS) {
        st = emb_fail(err, EMB_ERR_CONFIG, s->cfg.file, "search.limits: %zu; at most %d", t->n,
                      (int)EMB_SEARCH_LIMITS);
    }
    for (; st == EMB_OK && out->n_limit < t->n; out->n_limit++) {
        st = limit_read(s, u, t->item[out->n_limit], &out->limit[out->n_limit], err);
    }
    emb_units_free(u);
    return st;
}

static enum emb_status combinations_count(const struct emb_study *s, size_t most_free,
                                          struct emb_search *out, struct emb_err *err)
{
    size_t n_free = 0;
    out->n = 1;
    for (size_t i = 0; i < s->n_axis; i++) {
        const size_t n = s->axis[i].n_level;
        n_free += n == 0;
        out->n *= n > 0 ? n : 1;
        if (out->n > EMB_SEARCH_COMBINATIONS || n_free > most_free) {
            out->n = 0;
            return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                            "axes: a search takes %d combinations of values and %zu ranges at most",
                            (int)EMB_SEARCH_COMBINATIONS, most_free);
        }
    }
    out->item = calloc(out->n, sizeof *out->item);
    bool ok = out->item != NULL;
    for (size_t k = 0; ok && k < out->n; k++) {
        ok = emb_seek_point_make(s, &out->item[k].p);
    }
    return ok ? EMB_OK : emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
}

enum emb_status emb_seek_begin(const struct emb_study *s, size_t most_free, struct emb_search *out,
                                 struct emb_err *err)
{
    const struct emb_search_cfg *c = &s->cfg.search;
    *out = (struct emb_search){.maximise = c->maximise != NULL};
    if (s->cfg.design != EMB_DESIGN_SEARCH) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "design: a search needs design: search, and search: with minimise or "
                        "maximise");
    }
    enum emb_status st = output_find(s, out->maximise ? c->maximise : c->minimise,
                                     out->maximise ? "maximise" : "minimise", &out->output, err);
    st = st == EMB_OK ? limits_read(s, out, err) : st;
    st = st == EMB_OK ? combinations_count(s, most_free, out, err) : st;
    if (st != EMB_OK) {
        emb_seek_free(out);
    }
    return st;
}

void emb_seek_free(struct emb_search *x)
{
    for (size_t k = 0; x->item != NULL && k < x->n; k++) {
        emb_seek_point_free(&x->item[k].p);
    }
    free(x->item);
    free(x->limit);
    *x = (struct emb_search){0};
}
