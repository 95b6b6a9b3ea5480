/* remedy.c - failing targets, levers, and what became of them. */
#include "emberpipe/remedy.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/config.h"
#include "emberpipe/run.h"
#include "search.h"

enum { MAX_PAIR_OF = 4 };

/* Those that work first: the easiest, then the smallest share of their range; the others by how
 * near they get. */
static int by_rank(const void *a, const void *b)
{
    const struct emb_remedy *x = a, *y = b;
    if (x->works != y->works) {
        return x->works ? -1 : 1;
    }
    if (!x->works) {
        const double mx = x->failed ? -1e9 : emb_search_margin(&x->effect.verdict, 1e9),
                     my = y->failed ? -1e9 : emb_search_margin(&y->effect.verdict, 1e9);
        return mx > my ? -1 : mx < my;
    }
    if (x->effort != y->effort) {
        return x->effort < y->effort ? -1 : 1;
    }
    return x->share < y->share ? -1 : x->share > y->share;
}

/* Do two levers turn the same key? */
static bool clash(const struct emb_remedy *a, const struct emb_remedy *b)
{
    for (size_t i = 0; i < a->n_set; i++) {
        for (size_t k = 0; k < b->n_set; k++) {
            const size_t n = strcspn(a->set[i], "=");
            if (strncmp(a->set[i], b->set[k], n + 1) == 0) {
                return true;
            }
        }
    }
    return false;
}

/* Pairs of the levers that get nearest by themselves. */
static enum emb_status pairs_find(const struct lever_source *from, const struct search *single,
                                  struct emb_remedies *out, struct emb_err *err)
{
    size_t order[MAX_PAIR_OF], n = 0;
    struct lever_set pairs = {0, calloc(MAX_PAIR_OF * MAX_PAIR_OF, sizeof *pairs.item)};
    if (pairs.item == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    for (size_t rank = 0; rank < single->n && n < MAX_PAIR_OF; rank++) {
        size_t best = single->n;
        for (size_t i = 0; i < single->n; i++) {
            bool seen = single->lever[i].timed || single->item[i].failed;
            for (size_t k = 0; k < n; k++) {
                seen = seen || order[k] == i;
            }
            if (!seen &&
                (best == single->n || by_rank(&single->item[i], &single->item[best]) < 0)) {
                best = i;
            }
        }
        if (best < single->n) {
            order[n++] = best;
        }
    }
    for (size_t i = 0; i < n; i++) {
        for (size_t k = i + 1; k < n; k++) {
            const size_t a = order[i], b = order[k];
            struct emb_err own = {EMB_OK, "", ""};
            if (!clash(&single->item[a], &single->item[b]) &&
                emb_lever_pair(from, &single->lever[a], &single->lever[b], &pairs.item[pairs.n],
                               &own) == EMB_OK) {
                pairs.n++;
            }
        }
    }
    struct search s = *single;
    s.lever = pairs.item;
    s.n = pairs.n;
    struct limit_run *limit = NULL;
    s.item = NULL;
    enum emb_status st = emb_search_limits(&s, &limit, err);
    s.limit = limit;
    st = st != EMB_OK ? st : emb_search_run(&s, err);
    out->pair = s.item;
    out->n_pair = st == EMB_OK ? s.n : 0;
    qsort(out->pair, out->n_pair, sizeof *out->pair, by_rank);
    emb_search_limits_free(limit, pairs.n);
    emb_levers_free(&pairs);
    return st;
}

static enum emb_status target_find(const struct lever_source *from, const struct emb_case *c,
                                   const struct emb_result *now, struct search *s,
                                   struct emb_remedies *out, struct emb_err *err)
{
    const struct emb_verdict *v = &now->verdict[s->verdict];
    *out = (struct emb_remedies){0};
    snprintf(out->target, sizeof out->target, "%s", v->name);
    snprintf(out->what, sizeof out->what, "%s", v->what);
    snprintf(out->at, sizeof out->at, "%s", v->at);
    emb_search_effect(c, now, s->verdict, &out->now);
    s->target = out->target;
    s->margin_now = emb_search_margin(v, now->t_end);
    enum emb_status st = emb_search_run(s, err);
    bool works = false;
    for (size_t i = 0; i < s->n && st == EMB_OK; i++) {
        works = works || s->item[i].works;
    }
    if (st == EMB_OK && !works) {
        st = pairs_find(from, s, out, err);
    }
    out->item = s->item;
    out->n = st == EMB_OK ? s->n : 0;
    qsort(out->item, out->n, sizeof *out->item, by_rank);
    return st;
}

static bool wanted(const char *target, const struct emb_verdict *v)
{
    return target == NULL || strcmp(target, v->name) == 0;
}

enum { FAULTS = 200 };
__attribute__((format(printf, 2, 3))) static void fault_add(char text[FAULTS], const char *fmt, ...)
{
    size_t k = strlen(text);
    k += k > 0 && k < FAULTS - 2 ? (size_t)snprintf(text + k, FAULTS - k, ", ") : 0;
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(text + k, FAULTS - k, fmt, ap);
    va_end(ap);
}

/* What is wrong with this vehicle by its own case file; the limits are judgement. */
static void faults_tell(const struct emb_case *c, char text[FAULTS])
{
    for (size_t i = 0; i < c->n_line; i++) {
        const struct emb_element_cfg *e = &c->line[i];
        const bool brick = e->kind == EMB_OXICAT || e->kind == EMB_REDCAT;
        if (brick && e->u.brick.blocked > 0.2) {
            fault_add(text, "face of '%.40s' %.0f %% closed", e->name,
                      100.0 * e->u.brick.blocked);
        }
        if (brick && e->u.brick.activity < 0.6) {
            fault_add(text, "'%.40s' aged to %.0f %% of its activity", e->name,
                      100.0 * e->u.brick.activity);
        }
        if (e->kind == EMB_DOSER && e->u.doser.delivery < 0.9) {
            fault_add(text, "'%.40s' delivers %.0f %%", e->name,
                      100.0 * e->u.doser.delivery);
        }
        if (e->kind == EMB_LEAK && e->u.leak.share > 0.0) {
            fault_add(text, "leak '%.40s' of %.0f %%", e->name, 100.0 * e->u.leak.share);
        }
    }
    if (c->source == EMB_SOURCE_ENGINE &&
        (c->engine.dead_cylinders > 0 || c->engine.boost_leak > 0.0)) {
        fault_add(text, "the engine does not run right");
    }
}

static enum emb_status report_fill(const struct lever_source *from, const struct emb_case *c,
                                   const char *target, struct search *s,
                                   struct emb_remedy_report *out, struct emb_err *err)
{
    struct emb_result now;
    struct lever_set levers = {0, NULL};
    struct limit_run *limit = NULL;
    enum emb_status st = emb_run(c, NULL, &now, err);
    st = st != EMB_OK ? st : emb_levers_make(from, c, &levers, err);
    out->target = calloc(c->n_target + 1, sizeof *out->target);
    if (st == EMB_OK && out->target == NULL) {
        st = emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    snprintf(out->title, sizeof out->title, "%s", now.title);
    faults_tell(c, out->faults);
    bool any = false;
    for (size_t i = 0; i < now.n_verdict && st == EMB_OK; i++) {
        any = any || (!now.verdict[i].reached && wanted(target, &now.verdict[i]));
    }
    s->lever = levers.item;
    s->n = levers.n;
    s->target = "";
    if (any) {
        st = emb_search_limits(s, &limit, err);
    }
    s->limit = limit;
    for (size_t i = 0; i < now.n_verdict && st == EMB_OK; i++) {
        s->verdict = i;
        if (wanted(target, &now.verdict[i]) && now.verdict[i].reached) {
            out->n_reached++;
        } else if (wanted(target, &now.verdict[i])) {
            st = target_find(from, c, &now, s, &out->target[out->n++], err);
        }
    }
    emb_search_limits_free(limit, levers.n);
    emb_levers_free(&levers);
    emb_result_free(&now);
    return st;
}

enum emb_status emb_remedy_find(const char *file, const char *const *sets, size_t n_set,
                                const char *target, void (*said)(const char *text, void *user),
                                void *user, struct emb_remedy_report *out, struct emb_err *err)
{
    const struct lever_source from = {file, sets, n_set};
    struct search s = {.said = said, .user = user};
    struct emb_case c;
    bool there = target == NULL;
    *out = (struct emb_remedy_report){0};
    enum emb_status st = emb_config_load(file, sets, n_set, &c, NULL, err);
    if (st != EMB_OK) {
        return st;
    }
    for (size_t i = 0; i < c.n_target; i++) {
        there = there || strcmp(c.target[i].name, target) == 0;
    }
    if (c.n_target == 0 || !there) {
        st = emb_fail(err, EMB_ERR_USAGE, "remedy", "the case has no target%s%s%s",
                      there ? "s: add what you want to know under targets:" : " '",
                      there ? "" : target, there ? "" : "'");
    } else {
        st = report_fill(&from, &c, target, &s, out, err);
    }
    emb_case_free(&c);
    if (st != EMB_OK) {
        emb_remedy_free(out);
    }
    return st;
}

void emb_remedy_free(struct emb_remedy_report *r)
{
    for (size_t i = 0; i < r->n; i++) {
        free(r->target[i].item);
        free(r->target[i].pair);
    }
    free(r->target);
    *r = (struct emb_remedy_report){0};
}
