/* study.c - a study file with its base cases: from number to values to case, from result to kept
 * numbers. */
#include "emberpipe/study.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/digest.h"
#include "emberpipe/duty.h"
#include "study_impl.h"

static bool is_case_axis(const struct emb_axis_cfg *c)
{
    return c->key != NULL && strcmp(c->key, "case") == 0;
}

/* Case files are named relative to the study file. */
static enum emb_status names_beside(struct emb_study *s, struct emb_err *err)
{
    for (size_t i = 0; i < s->cfg.n_axis; i++) {
        struct emb_texts *t = &s->cfg.axis[i].values;
        for (size_t k = 0; is_case_axis(&s->cfg.axis[i]) && k < t->n; k++) {
            char *full = emb_study_file_beside(&s->cfg, t->item[k]);
            if (full == NULL) {
                return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
            }
            free(t->item[k]);
            t->item[k] = full;
        }
    }
    return EMB_OK;
}

static enum emb_status base_load(struct emb_study *s, struct emb_case *base, struct emb_err *err)
{
    char *file = emb_study_file_beside(&s->cfg, s->cfg.base);
    if (file == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    const enum emb_status st =
        emb_config_load(file, (const char *const *)s->cfg.set.item, s->cfg.set.n, base, NULL, err);
    free(file);
    return st;
}

/* Which axes are choices, and how many places the others set. */
static enum emb_status axes_sort(struct emb_study *s, const struct emb_case *base,
                                 struct emb_err *err)
{
    s->n_axis = s->cfg.n_axis;
    s->axis = calloc(s->n_axis + 1, sizeof *s->axis);
    if (s->axis == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    for (size_t i = 0; i < s->n_axis; i++) {
        const struct emb_axis_cfg *c = &s->cfg.axis[i];
        struct emb_axis *a = &s->axis[i];
        struct emb_err own = {EMB_OK, "", ""};
        struct emb_place p;
        *a = (struct emb_axis){.key = c->key, .unit = "-", .meaning = "a choice"};
        a->choice = is_case_axis(c);
        if (!a->choice && emb_place_find(base, c->key, &p, &own) != EMB_OK) {
            char where[160];
            snprintf(where, sizeof where, "%.100s: axes[%zu].key", s->cfg.file, i);
            return emb_fail(err, own.status, where, "%.100s: %s", c->key, own.msg);
        }
        a->choice = a->choice || !p.numeric;
        a->n_key = a->choice ? 0 : 1 + c->also.n;
        s->n_place += a->n_key;
        if (a->choice && (c->values.n == 0 || c->also.n > 0) && s->cfg.design != EMB_DESIGN_TABLE) {
            return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                            "axes[%zu]: '%.80s' is no number: "
                            "give its values as a list, and no also",
                            i, c->key);
        }
    }
    return EMB_OK;
}

static enum emb_status bases_load(struct emb_study *s, struct emb_err *err)
{
    struct emb_choice *choice = calloc(s->n_axis + 1, sizeof *choice);
    char *file = emb_study_file_beside(&s->cfg, s->cfg.base);
    enum emb_status st = EMB_ERR_NOMEM;
    size_t n = 0;
    if (choice == NULL || file == NULL) {
        emb_fail(err, st, s->cfg.file, "out of memory");
    } else {
        for (size_t i = 0; i < s->n_axis; i++) {
            const struct emb_axis *a = &s->axis[i];
            if (a->choice) {
                const bool files = is_case_axis(&s->cfg.axis[i]);
                choice[n++] = (struct emb_choice){files ? "" : a->key, a->n_level,
                                                  (const char *const *)a->text};
            }
        }
        st = emb_variants_load(file, (const char *const *)s->cfg.set.item, s->cfg.set.n, choice, n,
                               &s->base, err);
    }
    free(choice);
    free(file);
    return st;
}

/* Every key in every base: the line may be in another order, the case another file. */
static enum emb_status places_find(struct emb_study *s, struct emb_err *err)
{
    s->place = calloc(s->base.n * s->n_place + 1, sizeof *s->place);
    if (s->place == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    struct emb_place *p = s->place;
    for (size_t b = 0; b < s->base.n; b++) {
        for (size_t i = 0; i < s->n_axis; i++) {
            for (size_t k = 0; k < s->axis[i].n_key; k++, p++) {
                const char *key = k == 0 ? s->axis[i].key : s->cfg.axis[i].also.item[k - 1];
                struct emb_err own = {EMB_OK, "", ""};
                enum emb_status st = emb_place_find(&s->base.item[b], key, p, &own);
                if (st == EMB_OK && (!p->numeric || p->dim != s->axis[i].dim)) {
                    st = emb_fail(&own, EMB_ERR_CONFIG, "", "is no %s like '%.80s'",
                                  emb_dim_name(s->axis[i].dim), s->axis[i].key);
                }
                if (st != EMB_OK) {
                    return emb_fail(err, st, s->cfg.file, "axes[%zu]: %.100s: %s", i, key, own.msg);
                }
            }
        }
    }
    return EMB_OK;
}

static enum emb_status outputs_read(struct emb_study *s, const struct emb_result *r,
                                    struct emb_err *err)
{
    s->output = calloc(s->cfg.outputs.n + 1, sizeof *s->output);
    s->trace = calloc(s->cfg.traces.n + 1, sizeof *s->trace);
    if (s->output == NULL || s->trace == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    for (; s->n_output < s->cfg.outputs.n; s->n_output++) {
        struct emb_study_output *o = &s->output[s->n_output];
        struct emb_err own = {EMB_OK, "", ""};
        enum emb_status st = emb_measure_parse(s->cfg.outputs.item[s->n_output], &o->measure, &own);
        st = st == EMB_OK ? emb_measure_check(&o->measure, r, &own) : st;
        if (st != EMB_OK) {
            return emb_fail(err, st, s->cfg.file, "outputs: %.120s: %s", own.where, own.msg);
        }
        emb_measure_unit(&o->measure, r, o->unit, sizeof o->unit);
        emb_measure_meaning(&o->measure, r, o->meaning, sizeof o->meaning);
    }
    for (; s->n_trace < s->cfg.traces.n; s->n_trace++) {
        struct emb_measure m = {.group = EMB_MEASURE_SERIES};
        struct emb_study_trace *t = &s->trace[s->n_trace];
        struct emb_err own = {EMB_OK, "", ""};
        snprintf(m.name, sizeof m.name, "%s", s->cfg.traces.item[s->n_trace]);
        snprintf(m.text, sizeof m.text, "%s", m.name);
        if (emb_measure_check(&m, r, &own) != EMB_OK) {
            return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file, "traces: %s", own.msg);
        }
        const struct emb_column *c = &r->column[emb_result_find(r, m.name)];
        snprintf(t->name, sizeof t->name, "%s", c->name);
        snprintf(t->unit, sizeof t->unit, "%s", strcmp(c->unit, "-") == 0 ? "1" : c->unit);
        snprintf(t->meaning, sizeof t->meaning, "%s", c->meaning);
    }
    return EMB_OK;
}

/* The longest duty decides how long the traces are. */
static enum emb_status results_plan(struct emb_study *s, struct emb_err *err)
{
    struct emb_result r;
    double longest = 0.0;
    enum emb_status st = emb_measure_sample(&s->base.item[0], &r, err);
    if (st != EMB_OK) {
        return st;
    }
    st = outputs_read(s, &r, err);
    emb_result_free(&r);
    for (size_t b = 0; b < s->base.n; b++) {
        longest = fmax(longest, emb_duty_length(&s->base.item[b]));
    }
    s->n_time = s->n_trace > 0 ? (size_t)floor(longest / s->cfg.trace_interval + 1e-9) + 1 : 0;
    if (s->n_time > 100000) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "trace_interval: gives %zu values a "
                        "trace; more than 100000 are not kept",
                        s->n_time);
    }
    return st;
}

static enum emb_status design_count(struct emb_study *s, struct emb_err *err)
{
    const enum emb_design d = s->cfg.design;
    if (d == EMB_DESIGN_TABLE || d == EMB_DESIGN_SEARCH) {
        return EMB_OK; /* the table knows; a search finds its cases itself */
    }
    s->n = d == EMB_DESIGN_GRID ? 1 : (size_t)s->cfg.samples * emb_study_block(s);
    for (size_t i = 0; d == EMB_DESIGN_GRID && i < s->n_axis; i++) {
        s->n *= s->axis[i].n_level;
        if (s->n > 1000000000) {
            return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file, "more than 1e9 cases");
        }
    }
    if (d == EMB_DESIGN_GRID) {
        return EMB_OK;
    }
    if (d == EMB_DESIGN_SOBOL && s->n_axis > EMB_SOBOL_AXES) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "design: sobol takes %d axes at most, here are %zu; beyond, its points fall "
                        "in step with each other; latin_hypercube takes any number",
                        EMB_SOBOL_AXES, s->n_axis);
    }
    s->sampler = emb_sampler_new(d, s->n, s->n_axis, s->cfg.seed, err);
    return s->sampler != NULL ? EMB_OK : EMB_ERR_NOMEM;
}

static enum emb_status study_resolve(struct emb_study *s, const struct emb_units *u,
                                     struct emb_err *err)
{
    struct emb_case base;
    enum emb_status st = base_load(s, &base, err);
    if (st != EMB_OK) {
        return st;
    }
    if (s->cfg.design == EMB_DESIGN_TABLE) {
        st = emb_table_keys(s, err);
    }
    st = st == EMB_OK ? names_beside(s, err) : st;
    st = st == EMB_OK ? axes_sort(s, &base, err) : st;
    for (size_t i = 0; st == EMB_OK && s->cfg.design != EMB_DESIGN_TABLE && i < s->n_axis; i++) {
        st = emb_axis_init(s, i, &base, u, err);
    }
    if (st == EMB_OK && s->cfg.design == EMB_DESIGN_TABLE) {
        st = emb_table_read(s, &base, u, err);
    }
    emb_case_free(&base);
    st = st == EMB_OK ? bases_load(s, err) : st;
    st = st == EMB_OK ? places_find(s, err) : st;
    st = st == EMB_OK ? results_plan(s, err) : st;
    return st == EMB_OK ? design_count(s, err) : st;
}

static void study_digest(struct emb_study *s)
{
    s->digest = emb_digest_add(0, s->cfg.text, strlen(s->cfg.text));
    s->digest = emb_digest_add(s->digest, EMB_VERSION, strlen(EMB_VERSION));
    for (size_t b = 0; b < s->base.n; b++) {
        s->digest =
            emb_digest_add(s->digest, &s->base.item[b].digest, sizeof s->base.item[b].digest);
    }
    if (s->table != NULL) {
        s->digest = emb_digest_add(s->digest, s->table, s->n * s->n_axis * sizeof *s->table);
    }
}

enum emb_status emb_study_load(const char *file, struct emb_study *out,
                               struct emb_problems *problems, struct emb_err *err)
{
    *out = (struct emb_study){0};
    enum emb_status st = emb_study_file_load(file, &out->cfg, problems, err);
    if (st != EMB_OK) {
        return st;
    }
    struct emb_units *u = emb_units_new();
    st = u != NULL ? study_resolve(out, u, err)
                   : emb_fail(err, EMB_ERR_NOMEM, file, "out of memory");
    emb_units_free(u);
    if (st != EMB_OK) {
        emb_study_free(out);
        return st;
    }
    study_digest(out);
    return EMB_OK;
}

void emb_study_free(struct emb_study *s)
{
    for (size_t i = 0; s->axis != NULL && i < s->n_axis; i++) {
        free(s->axis[i].level);
    }
    emb_sampler_free(s->sampler);
    emb_variants_free(&s->base);
    emb_study_file_free(&s->cfg);
    free(s->axis);
    free(s->output);
    free(s->trace);
    free(s->place);
    free(s->table);
    *s = (struct emb_study){0};
}
