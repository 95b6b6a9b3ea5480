/* vary.c - values into the place of a key, and every combination of what is no number. */
#include "emberpipe/vary.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "input.h"

static void *place_at(const struct emb_case *c, const struct emb_place *p)
{
    char *base = p->home == EMB_HOME_LINE     ? (char *)&c->line[p->index]
                 : p->home == EMB_HOME_DUTY   ? (char *)&c->duty[p->index]
                 : p->home == EMB_HOME_TARGET ? (char *)&c->target[p->index]
                                              : (char *)(uintptr_t)c;
    return base + p->offset;
}

double emb_place_get(const struct emb_case *c, const struct emb_place *p)
{
    const void *at = place_at(c, p);
    double v = NAN;
    int whole = 0;
    bool yes = false;
    if (!p->numeric) {
        return NAN;
    }
    if (p->field->kind == EMB_FIELD_INT) {
        memcpy(&whole, at, sizeof whole);
        return whole;
    }
    if (p->field->kind == EMB_FIELD_BOOL) {
        memcpy(&yes, at, sizeof yes);
        return yes ? 1.0 : 0.0;
    }
    memcpy(&v, at, sizeof v);
    return v;
}

double emb_place_spread(const struct emb_case *c, const struct emb_place *p)
{
    const double v = emb_place_get(c, p), s = p->field->spread;
    return !p->numeric || isnan(v) ? 0.0
           : emb_field_spread_absolute(p->field) ? s
                                                  : s * fabs(v);
}

static void nitrogen_rest(double *x)
{
    double sum = 0.0;
    for (int k = 0; k < EMB_NGAS; k++) {
        sum += k == EMB_N2 ? 0.0 : x[k];
    }
    x[EMB_N2] = 1.0 - sum;
}

/* Which mole fraction the place is, or -1. */
static int place_species(const struct emb_place *p)
{
    const size_t base = p->home == EMB_HOME_DUTY ? offsetof(struct emb_phase, stream.x)
                                                 : offsetof(struct emb_case, stream.x);
    const bool may = p->home == EMB_HOME_CASE || p->home == EMB_HOME_DUTY;
    return may && p->offset >= base && p->offset < base + EMB_NGAS * sizeof(double)
               ? (int)((p->offset - base) / sizeof(double))
               : -1;
}

/* A phase with a mixture of its own has taken the rest of it from the case when it was read. */
static enum emb_status mixture_follow(struct emb_case *c, const struct emb_place *p, double si,
                                      struct emb_err *err)
{
    const int k = place_species(p);
    if (k < 0) {
        return EMB_OK;
    }
    double *x = p->home == EMB_HOME_DUTY ? c->duty[p->index].stream.x : c->stream.x;
    if (p->home == EMB_HOME_DUTY && isnan(x[EMB_N2])) {
        memcpy(x, c->stream.x, sizeof c->stream.x);
    }
    for (size_t i = 0; p->home == EMB_HOME_CASE && i < c->n_duty; i++) {
        if (!isnan(c->duty[i].stream.x[EMB_N2]) && c->duty[i].mode == EMB_PHASE_STREAM) {
            return emb_fail(err, EMB_ERR_CONFIG, p->path,
                            "phase '%.60s' has a mixture of its own; vary it there",
                            c->duty[i].name);
        }
    }
    x[k] = si;
    nitrogen_rest(x);
    return EMB_OK;
}

static void start_follow(struct emb_case *c, const struct emb_place *p)
{
    if (p->home != EMB_HOME_CASE) {
        return;
    }
    if (p->offset == offsetof(struct emb_case, start_temperature)) {
        c->start_follows = false;
    } else if (p->offset == offsetof(struct emb_case, engine.start_temperature)) {
        c->engine.start_follows = false;
    }
    c->start_temperature = c->start_follows ? c->ambient.temperature : c->start_temperature;
    c->engine.start_temperature =
        c->engine.start_follows ? c->start_temperature : c->engine.start_temperature;
}

static enum emb_status range_check(const struct emb_place *p, double si, struct emb_err *err)
{
    const bool whole = p->field->kind == EMB_FIELD_INT || p->field->kind == EMB_FIELD_BOOL;
    const double slack = 1e-12 * (fabs(p->min) + fabs(p->max));
    if (!p->numeric) {
        return emb_fail(err, EMB_ERR_CONFIG, p->path, "is no number: give a list of its values");
    }
    if (!(si >= p->min - slack && si <= p->max + slack)) {
        return emb_fail(err, EMB_ERR_CONFIG, p->path,
                        "%.6g %s is out of range; allowed is %.6g .. "
                        "%.6g %s",
                        si, emb_dim_si(p->dim), p->min, p->max, emb_dim_si(p->dim));
    }
    if (whole && fabs(si - round(si)) > 1e-9) {
        return emb_fail(err, EMB_ERR_CONFIG, p->path, "%.6g is not a whole number", si);
    }
    return EMB_OK;
}

enum emb_status emb_place_set(struct emb_case *c, const struct emb_place *p, double si,
                              struct emb_err *err)
{
    enum emb_status st = range_check(p, si, err);
    if (st != EMB_OK) {
        return st;
    }
    if ((st = mixture_follow(c, p, si, err)) != EMB_OK) {
        return st;
    }
    void *at = place_at(c, p);
    if (p->field->kind == EMB_FIELD_INT) {
        const int v = (int)round(si);
        memcpy(at, &v, sizeof v);
    } else if (p->field->kind == EMB_FIELD_BOOL) {
        const bool v = si > 0.5;
        memcpy(at, &v, sizeof v);
    } else {
        memcpy(at, &si, sizeof si);
    }
    start_follow(c, p);
    return EMB_OK;
}

enum emb_status emb_place_parse(const struct emb_place *p, const struct emb_units *u,
                                const char *text, double *si, struct emb_err *err)
{
    char msg[EMB_UNIT_MSG];
    if (p->field->kind == EMB_FIELD_BOOL && (strcmp(text, "yes") == 0 || strcmp(text, "no") == 0)) {
        *si = text[0] == 'y' ? 1.0 : 0.0;
        return EMB_OK;
    }
    *si = NAN;
    if (p->numeric && emb_quantity_parse(u, text, p->dim, si, msg) != 0) {
        return emb_fail(err, EMB_ERR_CONFIG, p->path, "%s", msg);
    }
    return range_check(p, *si, err);
}

/* ---- choices ---- */
/* Combination `v` of the choices as file and overrides; sets has room for all, text for the new. */
static const char *combination(const struct emb_choice *choice, size_t n_choice, size_t v,
                               const char *file, char (*text)[400], const char **sets, size_t *n)
{
    for (size_t k = n_choice; k-- > 0;) {
        const char *level = choice[k].text[v % choice[k].n];
        v /= choice[k].n;
        if (choice[k].path[0] == '\0') {
            file = level;
        } else {
            snprintf(text[k], sizeof text[k], "%s=%s", choice[k].path, level);
            sets[(*n)++] = text[k];
        }
    }
    return file;
}

static enum emb_status variant_load(const char *file, const char *const *sets, size_t n_set,
                                    const struct emb_choice *choice, size_t n_choice, size_t v,
                                    struct emb_case *out, struct emb_err *err)
{
    char(*text)[400] = calloc(n_choice + 1, sizeof *text);
    const char **all = calloc(n_set + n_choice + 1, sizeof *all);
    enum emb_status st = EMB_ERR_NOMEM;
    struct emb_err own = {EMB_OK, "", ""};
    size_t n = 0;
    if (text == NULL || all == NULL) {
        emb_fail(&own, st, file, "out of memory");
    } else {
        for (; n < n_set; n++) {
            all[n] = sets[n];
        }
        file = combination(choice, n_choice, v, file, text, all, &n);
        st = emb_config_load(file, all, n, out, NULL, &own);
    }
    if (st != EMB_OK) {
        emb_fail(err, st, own.where, "%s%s%s", own.msg, n > n_set ? "; with " : "",
                 n > n_set ? all[n_set] : "");
    }
    free(all);
    free(text);
    return st;
}

enum emb_status emb_variants_load(const char *file, const char *const *sets, size_t n_set,
                                  const struct emb_choice *choice, size_t n_choice,
                                  struct emb_variants *out, struct emb_err *err)
{
    size_t n = 1;
    *out = (struct emb_variants){0, NULL};
    for (size_t k = 0; k < n_choice; k++) {
        n *= choice[k].n;
        if (n == 0 || n > EMB_MAX_VARIANTS) {
            return emb_fail(err, EMB_ERR_CONFIG, choice[k].path,
                            n == 0 ? "no values given"
                                   : "more than %d combinations of what is no number",
                            (int)EMB_MAX_VARIANTS);
        }
    }
    out->item = calloc(n, sizeof *out->item);
    if (out->item == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, file, "out of memory");
    }
    for (; out->n < n; out->n++) {
        const enum emb_status st =
            variant_load(file, sets, n_set, choice, n_choice, out->n, &out->item[out->n], err);
        if (st != EMB_OK) {
            emb_variants_free(out);
            return st;
        }
    }
    return EMB_OK;
}

void emb_variants_free(struct emb_variants *v)
{
    for (size_t i = 0; v != NULL && i < v->n; i++) {
        emb_case_free(&v->item[i]);
    }
    if (v != NULL) {
        free(v->item);
        *v = (struct emb_variants){0, NULL};
    }
}
