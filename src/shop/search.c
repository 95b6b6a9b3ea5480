/* search.c - each lever is moved as little as the target needs.
 *
 * The margin of a target is positive when it is reached. All levers are run at their limits once,
 * for all targets; where a limit reaches the target, Brent's method (GSL) closes in on the root of
 * the margin over the lever. The margin jumps where dosing begins to be allowed; Brent then falls
 * back to bisection. The value that is told lies on the side that was seen to reach the target, and
 * is run once more as it will be written down. */
#include "search.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/batch.h"
#include "emberpipe/duty.h"
#include "emberpipe/run.h"
#include "find.h"

static const double failed_margin = -100.0;

double emb_search_margin(const struct emb_verdict *v, double t_end)
{
    if (v->reached) {
        return 1e-3 + (t_end - v->t_reached) / fmax(t_end, 1.0);
    }
    if (!isfinite(v->best)) {
        return 0.5 * failed_margin;
    }
    const double gap = v->below ? v->best - v->value : v->value - v->best;
    const double scale = v->is_temperature ? 100.0 : strcmp(v->unit, "kg/s") == 0 ? 1e-3 : 0.3;
    return gap < 0.0 && v->hold > 0.0 ? -fmax(1.0 - v->longest / v->hold, 1e-3)
                                      : -1.0 - fmax(gap, 0.0) / scale;
}

void emb_search_effect(const struct emb_case *c, const struct emb_result *r, size_t verdict,
                       struct emb_effect *e)
{
    *e = (struct emb_effect){.fuel = emb_shop_total(r, "engine_fuel") +
                                     emb_shop_total(r, "dosed_fuel")};
    if (verdict < r->n_verdict) {
        e->verdict = r->verdict[verdict];
    }
    for (size_t i = 0; i < r->n_element; i++) {
        const int at = emb_case_find(c, r->element[i].name);
        const enum emb_kind kind = at >= 0 ? c->line[at].kind : EMB_PIPE;
        if (kind != EMB_OXICAT && kind != EMB_REDCAT && kind != EMB_FILTER) {
            continue;
        }
        if (r->element[i].peak > e->peak) {
            e->peak = r->element[i].peak;
            snprintf(e->peak_at, sizeof e->peak_at, "%s", r->element[i].name);
        }
        e->too_hot = e->too_hot || (kind == EMB_FILTER &&
                                    r->element[i].peak > c->line[at].u.filter.damage_temperature);
    }
    e->too_hot = e->too_hot || (c->regen.present && e->peak > c->regen.abort_temperature);
}

static int too_long(double t, double t_end, void *user)
{
    long *steps = user;
    (void)t;
    (void)t_end;
    return ++*steps > SHOP_MAX_STEPS;
}

/* Margin with the lever at `share`. */
static double margin_at(const struct search *s, const struct lever *l, double share)
{
    struct emb_case c;
    struct emb_result r;
    double margin = failed_margin;
    if (emb_lever_case(l, share, &c, NULL) != EMB_OK) {
        return margin;
    }
    long steps = 0;
    const struct emb_hooks hooks = {too_long, &steps};
    if (emb_run_verdicts(&c, &hooks, &r, NULL) == EMB_OK && s->verdict < r.n_verdict) {
        margin = emb_search_margin(&r.verdict[s->verdict], emb_duty_length(&c));
    }
    emb_result_free(&r);
    emb_case_free(&c);
    return margin;
}

struct bracket { /* shares and margins on both sides of the root */
    const struct search *s;
    const struct lever *l;
    double lo, hi, at_lo, at_hi;
};

static double bracket_margin(double share, void *user)
{
    const struct bracket *b = user;
    return share == b->lo ? b->at_lo : share == b->hi ? b->at_hi : margin_at(b->s, b->l, share);
}

/* Closes in until the change is known to 4 %; returns the share that reaches the target. */
static double bracket_close(struct bracket *b)
{
    gsl_function f = {bracket_margin, b};
    gsl_root_fsolver *g = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    double lo = b->lo, hi = b->hi;
    if (g == NULL || gsl_root_fsolver_set(g, &f, lo, hi) != GSL_SUCCESS) {
        gsl_root_fsolver_free(g);
        return hi;
    }
    for (int i = 0; i < 12 && fabs(hi - lo) > 0.04 * fabs(hi); i++) {
        if (gsl_root_fsolver_iterate(g) != GSL_SUCCESS) {
            break;
        }
        const double a = gsl_root_fsolver_x_lower(g), z = gsl_root_fsolver_x_upper(g);
        lo = fmin(a, z);
        hi = fmax(a, z);
    }
    gsl_root_fsolver_free(g);
    return hi;
}

/* More is not always better (too much of it may end a regeneration): the smallest of a few shares
 * that reaches the target is where closing in begins. */
static double bracket_first(struct bracket *b)
{
    static const double part[] = {0.25, 0.5};
    for (int i = 0; i < 2 && b->lo < part[i] && part[i] < b->hi; i++) {
        const double m = margin_at(b->s, b->l, part[i]);
        *(m > 0.0 ? &b->hi : &b->lo) = part[i];
        *(m > 0.0 ? &b->at_hi : &b->at_lo) = m;
    }
    return bracket_close(b);
}

/* A time needs no search: the run with all of it says when the target was reached. */
static double share_timed(const struct lever *l, const struct emb_verdict *v)
{
    const struct lever_part *p = &l->part[0];
    const double needed = 60.0 * ceil((v->t_reached - l->from) / 60.0 + 0.02);
    return (fmin(fmax(needed, 60.0), p->limit) - p->now) / (p->limit - p->now);
}

static double limit_margin(const struct search *s, size_t i)
{
    const struct limit_run *l = &s->limit[i];
    return l->failed ? failed_margin : emb_search_margin(&l->effect[s->verdict].verdict, l->t_end);
}

/* Smallest share that reaches the target, or one that does not. */
static double share_find(const struct search *s, size_t i)
{
    const struct lever *l = &s->lever[i];
    struct bracket b = {s, l, 0.0, 1.0, s->margin_now, limit_margin(s, i)};
    if (l->timed) {
        return share_timed(l, &s->limit[i].effect[s->verdict].verdict);
    }
    if (l->n_text > 0) {
        b.at_lo = margin_at(s, l, 0.0); /* the texts alone already change something */
        if (b.at_lo > 0.0) {
            return 0.0;
        }
    }
    if (b.at_hi <= 0.0) { /* all of it made things worse: is half of it better? */
        const double half = margin_at(s, l, 0.5);
        if (half > b.at_hi) {
            b.hi = 0.5;
            b.at_hi = half;
        }
    }
    return b.at_hi > 0.0 ? bracket_first(&b) : b.hi;
}

static enum emb_status search_make(size_t k, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct search *s = user;
    const size_t i = s->job[k];
    s->item[i].share = share_find(s, i); /* one thread a lever */
    return emb_lever_case(&s->lever[i], s->item[i].share, out, err);
}

static void say(const struct search *s, const char *what)
{
    char text[240];
    snprintf(text, sizeof text, "%.80s%s%.150s", s->target, s->target[0] != '\0' ? ": " : "", what);
    if (s->said != NULL) {
        s->said(text, s->user);
    }
}

static enum emb_status search_take(size_t k, enum emb_status st, const struct emb_err *why,
                                   const struct emb_result *r, void *user)
{
    const struct search *s = user;
    const size_t i = s->job[k];
    struct emb_remedy *m = &s->item[i];
    emb_lever_tell(&s->lever[i], m->share, m);
    m->failed = st != EMB_OK;
    if (m->failed) {
        snprintf(m->message, sizeof m->message, "%.190s", why->msg);
    } else {
        emb_search_effect(&s->lever[i].base, r, s->verdict, &m->effect);
        m->works = m->effect.verdict.reached && !m->effect.too_hot;
    }
    say(s, m->what);
    return EMB_OK;
}

/* What the run at the limit already answers; true: it needs no run of its own. */
static bool search_known(const struct search *s, size_t i)
{
    const struct lever *l = &s->lever[i];
    const struct limit_run *at = &s->limit[i];
    struct emb_remedy *m = &s->item[i];
    const double margin = limit_margin(s, i);
    if (!at->failed && l->n_part > 0 && (margin > 0.0 || (!l->timed && margin <= s->margin_now))) {
        return false;
    }
    m->share = 1.0;
    emb_lever_tell(l, 1.0, m);
    m->failed = at->failed;
    if (at->failed) {
        snprintf(m->message, sizeof m->message, "%s", at->message);
    } else {
        m->effect = at->effect[s->verdict];
        m->works = m->effect.verdict.reached && !m->effect.too_hot;
    }
    return true;
}

enum emb_status emb_search_run(struct search *s, struct emb_err *err)
{
    struct emb_batch b = {.make = search_make, .take = search_take, .user = s,
                          .max_steps = SHOP_MAX_STEPS};
    s->item = calloc(s->n + 1, sizeof *s->item);
    s->job = calloc(s->n + 1, sizeof *s->job);
    if (s->item == NULL || s->job == NULL) {
        free(s->job);
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    for (size_t i = 0; i < s->n; i++) {
        if (!search_known(s, i)) {
            s->job[b.n++] = i;
        }
    }
    const enum emb_status st = emb_batch_run(&b, err);
    free(s->job);
    s->job = NULL;
    return st;
}

/* ---- limits ---- */
struct limits {
    const struct search *s;
    struct limit_run *out;
};

static enum emb_status limit_make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct limits *k = user;
    return emb_lever_case(&k->s->lever[i], 1.0, out, err);
}

static enum emb_status limit_take(size_t i, enum emb_status st, const struct emb_err *why,
                                  const struct emb_result *r, void *user)
{
    const struct limits *k = user;
    struct limit_run *l = &k->out[i];
    l->failed = st != EMB_OK;
    l->t_end = r->t_end;
    snprintf(l->message, sizeof l->message, "%.190s", why->msg);
    if (!l->failed) {
        l->effect = calloc(r->n_verdict + 1, sizeof *l->effect);
        if (l->effect == NULL) {
            return EMB_ERR_NOMEM;
        }
        for (size_t v = 0; v < r->n_verdict; v++) {
            emb_search_effect(&k->s->lever[i].base, r, v, &l->effect[v]);
        }
    }
    say(k->s, k->s->lever[i].what);
    return EMB_OK;
}

enum emb_status emb_search_limits(const struct search *s, struct limit_run **out,
                                  struct emb_err *err)
{
    struct limits k = {s, calloc(s->n + 1, sizeof *k.out)};
    const struct emb_batch b = {.n = s->n, .make = limit_make, .take = limit_take, .user = &k,
                                .max_steps = SHOP_MAX_STEPS};
    *out = k.out;
    return k.out == NULL ? emb_fail(err, EMB_ERR_NOMEM, "", "out of memory")
                         : emb_batch_run(&b, err);
}

void emb_search_limits_free(struct limit_run *l, size_t n)
{
    for (size_t i = 0; l != NULL && i < n; i++) {
        free(l[i].effect);
    }
    free(l);
}
