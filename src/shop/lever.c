/* lever.c - levers in general: loading, moving, telling. */
#include "lever.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/config.h"

/* The case once more, with the texts of a lever over the user's own overrides. */
static enum emb_status base_load(const struct lever_source *from, struct lever *l,
                                 struct emb_err *err)
{
    const char **all = calloc(from->n_set + l->n_text + 1, sizeof *all);
    if (all == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    for (size_t i = 0; i < from->n_set; i++) {
        all[i] = from->sets[i];
    }
    for (size_t i = 0; i < l->n_text; i++) {
        all[from->n_set + i] = l->text[i];
    }
    enum emb_status st =
        emb_config_load(from->file, all, from->n_set + l->n_text, &l->base, NULL, err);
    free(all);
    const bool loaded = st == EMB_OK;
    for (size_t i = 0; st == EMB_OK && i < l->n_part; i++) {
        st = emb_place_find(&l->base, l->part[i].path, &l->part[i].place, err);
    }
    if (loaded && st != EMB_OK) {
        emb_case_free(&l->base);
    }
    return st;
}

/* The value of a part as its override says it, so that the run of the override is the run that was
 * seen: three digits, rounded away from what it is now, so that a change that suffices still does. */
static double part_value(const struct lever_part *p, double share)
{
    const double v = p->now + (p->limit - p->now) * share, u = (v - p->unit_zero) / p->unit_si,
                 end = (p->limit - p->unit_zero) / p->unit_si;
    const bool up = p->limit > p->now;
    double told = u;
    if (share > 0.0 && share < 1.0 && fabs(u) > 1e-9) {
        const double step = pow(10.0, floor(log10(fabs(u))) - 2.0);
        told = step * (up ? ceil(u / step - 1e-6) : floor(u / step + 1e-6));
        told = up ? fmin(told, end) : fmax(told, end);
    }
    char text[40];
    snprintf(text, sizeof text, "%.4g", told);
    return strtod(text, NULL) * p->unit_si + p->unit_zero;
}

enum emb_status emb_lever_case(const struct lever *l, double share, struct emb_case *out,
                               struct emb_err *err)
{
    enum emb_status st = emb_case_copy(&l->base, out, err);
    if (st != EMB_OK) {
        return st;
    }
    for (size_t i = 0; st == EMB_OK && i < l->n_part; i++) {
        st = emb_place_set(out, &l->part[i].place, part_value(&l->part[i], share), err);
    }
    st = st != EMB_OK ? st : emb_case_verify(out, err);
    if (st != EMB_OK) {
        emb_case_free(out);
    }
    return st;
}

static void amount(const struct lever_part *p, double si, char buf[80])
{
    const double v = (si - p->unit_zero) / p->unit_si;
    if (strcmp(p->unit, "degC") == 0) {
        snprintf(buf, 80, "%.3g °C (%.0f °F)", v, v * 1.8 + 32.0);
    } else {
        snprintf(buf, 80, "%.4g %s", v, p->unit);
    }
}

void emb_lever_tell(const struct lever *l, double share, struct emb_remedy *out)
{
    char a[80], b[80];
    size_t k = (size_t)snprintf(out->what, sizeof out->what, "%s", l->what);
    for (size_t i = 0; i < l->n_part && k < sizeof out->what; i++) {
        const struct lever_part *p = &l->part[i];
        if (!p->follows) {
            amount(p, p->now, a);
            amount(p, part_value(p, share), b);
            k += (size_t)snprintf(out->what + k, sizeof out->what - k, "%s %s%s%s",
                                  i > 0 ? "," : ":", l->fresh ? "for " : a, l->fresh ? "" : " -> ",
                                  b);
        }
    }
    out->caution = l->caution;
    out->effort = l->effort;
    out->share = share;
    out->n_set = 0;
    for (size_t i = 0; i < l->n_text && out->n_set < EMB_REMEDY_SETS; i++) {
        snprintf(out->set[out->n_set++], EMB_REMEDY_SET, "%s", l->text[i]);
    }
    for (size_t i = 0; i < l->n_part && out->n_set < EMB_REMEDY_SETS; i++) {
        const struct lever_part *p = &l->part[i];
        snprintf(out->set[out->n_set++], EMB_REMEDY_SET, "%s=%.4g %s", p->path,
                 (part_value(p, share) - p->unit_zero) / p->unit_si, p->unit);
    }
}

enum emb_status emb_lever_pair(const struct lever_source *from, const struct lever *a,
                               const struct lever *b, struct lever *out, struct emb_err *err)
{
    *out = (struct lever){.caution = a->caution[0] != '\0' ? a->caution : b->caution,
                          .effort = a->effort > b->effort ? a->effort : b->effort};
    if (a->n_part + b->n_part > LEVER_PARTS || a->n_text + b->n_text > LEVER_TEXTS) {
        return emb_fail(err, EMB_ERR_CONFIG, a->what, "too many keys at once");
    }
    snprintf(out->what, sizeof out->what, "%.56s, and %.56s", a->what, b->what);
    for (int k = 0; k < 2; k++) {
        const struct lever *l = k == 0 ? a : b;
        memcpy(out->part + out->n_part, l->part, l->n_part * sizeof *l->part);
        memcpy(out->text + out->n_text, l->text, l->n_text * sizeof *l->text);
        out->n_part += l->n_part;
        out->n_text += l->n_text;
    }
    return base_load(from, out, err);
}

void emb_lever_free(struct lever *l)
{
    emb_case_free(&l->base);
}

void emb_levers_free(struct lever_set *s)
{
    for (size_t i = 0; i < s->n; i++) {
        emb_lever_free(&s->item[i]);
    }
    free(s->item);
    *s = (struct lever_set){0, NULL};
}

/* Loads what the catalogue proposed; a proposal that makes no sensible case is no lever here. */
enum emb_status emb_levers_make(const struct lever_source *from, const struct emb_case *c,
                                struct lever_set *out, struct emb_err *err)
{
    struct lever_set all = {0, NULL};
    enum emb_status st = emb_levers_propose(c, &all, err);
    size_t kept = 0;
    for (size_t i = 0; st == EMB_OK && i < all.n; i++) {
        struct emb_err own = {EMB_OK, "", ""};
        const enum emb_status loaded = base_load(from, &all.item[i], &own);
        if (loaded == EMB_ERR_NOMEM) {
            st = emb_fail(err, loaded, own.where, "%s", own.msg);
        } else if (loaded == EMB_OK) {
            all.item[kept++] = all.item[i];
        }
    }
    all.n = kept;
    if (st != EMB_OK) {
        emb_levers_free(&all);
    }
    *out = all;
    return st;
}
