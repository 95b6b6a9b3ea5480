/* balance.c - the runs behind a balance. Soot and crust are far slower than heat: once a pass of
 * the duty repeats itself, its change is a rate, and rates are what days are made of. */
#include "emberpipe/balance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/batch.h"
#include "emberpipe/duty.h"
#include "emberpipe/run.h"
#include "find.h"

static const double least_measure =
    3600.0; /* [s] shorter passes are measured together: judgement */
static const double longest_check = 86400.0; /* [s] judgement: a day shows what matters */
static const double try_load = 2.0 * 3600.0; /* [s] judgement: nobody drives longer for soot */
static const double most_closed = 0.95;      /* [-] what a crust can close, as in the model */
enum { ROWS = 60 };                          /* a measure, so that its ends are seen well */

struct job {
    const struct emb_case *c; /* with the driving added */
    struct emb_balance *b;
    size_t filter;
    double per;     /* passes in a measure */
    double soot[3]; /* [-] where the nodes begin */
    int crust;      /* brick watched, or -1 */
    struct emb_err why; /* of the last run that failed */
};

static struct emb_filter_cfg *filter_of(const struct emb_case *c, size_t at)
{
    return &c->line[at].u.filter;
}

/* A phase of a steady engine, without levers. */
static void phase_steady(const struct emb_case *c, double load, double length, struct emb_phase *p)
{
    p->mode = EMB_PHASE_ENGINE;
    p->speed = 0.65 * c->engine.rated_speed;
    p->load = load;
    p->duration = length;
    p->repeat = 1;
    p->road_speed = p->grade = 0.0;
    p->regenerate = false;
    p->levers = (struct emb_levers){NAN, NAN, NAN, NAN, NAN, NAN};
}

/* Puts driving behind the duty. */
static enum emb_status drive_add(struct emb_case *c, double length, struct emb_err *err)
{
    struct emb_phase *p = realloc(c->duty, (c->n_duty + 1) * sizeof *p);
    char *name = malloc(sizeof "drive");
    if (p != NULL) {
        c->duty = p;
    }
    if (p == NULL || name == NULL) {
        free(name);
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    p += c->n_duty;
    *p = c->duty[0];
    memcpy(name, "drive", sizeof "drive");
    p->name = name;
    p->cycle = NULL;
    p->trace = (struct emb_trace){0, 0, NULL, NULL};
    phase_steady(c, 0.3, length, p); /* 30 %: steady motorway, judgement */
    c->n_duty++;
    return EMB_OK;
}

/* Column `col` at time t, between rows. */
static double value_at(const struct emb_result *r, int col, double t)
{
    const double *row = r->row;
    size_t i = 1;
    while (i + 1 < r->n_row && row[i * r->n_column] < t) {
        i++;
    }
    const double t0 = row[(i - 1) * r->n_column], t1 = row[i * r->n_column];
    const double a = row[(i - 1) * r->n_column + (size_t)col],
                 z = row[i * r->n_column + (size_t)col];
    return t1 > t0 ? a + (z - a) * fmin(fmax((t - t0) / (t1 - t0), 0.0), 1.0) : z;
}

static void case_passes(struct emb_case *c, double measures, const struct job *j)
{
    c->duty_repeat *= (int)(j->per * measures);
    c->output_interval = j->b->measure / ROWS;
}

/* ---- nodes: warm up, settle, measure ---- */
static int measures(const struct job *j)
{
    return j->b->ask.cold ? 1 : 3;
}

static enum emb_status node_make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct job *j = user;
    const enum emb_status st = emb_case_copy(j->c, out, err);
    if (st == EMB_OK) {
        struct emb_filter_cfg *f = filter_of(out, j->filter);
        f->soot = j->soot[i] * f->full_load;
        case_passes(out, measures(j), j);
    }
    return st;
}

/* One run that fails takes its line of the answer with it, not the whole answer. */
static enum emb_status lost(struct job *j, const struct emb_err *why)
{
    j->why = *why;
    j->b->lost++;
    return EMB_OK;
}

static enum emb_status node_take(size_t i, enum emb_status st, const struct emb_err *why,
                                 const struct emb_result *r, void *user)
{
    struct job *j = user;
    struct emb_balance_node *n = &j->b->node[i];
    if (st != EMB_OK) {
        n->rate = NAN;
        return lost(j, why);
    }
    const int col = emb_shop_column(r, j->b->filter, "soot_share");
    const double W = j->b->measure, end = r->t_end;
    const double a = value_at(r, col, end - W), z = value_at(r, col, end);
    n->soot = 0.5 * (a + z);
    n->rate = (z - a) / W;
    n->before = measures(j) > 1 ? (a - value_at(r, col, end - 2.0 * W)) / W : n->rate;
    return EMB_OK;
}

/* ---- the run that checks, and the crust ---- */
/* Crust per face grows steadily; the share it closes saturates. This turns the share into what
 * grows: share = b + (0.95 - b) u / (u + 1), as in the model. */
static double crust_mass(double share, double b)
{
    const double g = (share - b) / (most_closed - b);
    return g / (1.0 - g);
}

static void crust_take(struct job *j, const struct emb_result *r)
{
    struct emb_balance *b = j->b;
    b->crust_start = NAN;
    if (j->crust < 0) {
        return;
    }
    const struct emb_element_cfg *e = &j->c->line[j->crust];
    const int col = emb_shop_column(r, e->name, "closed_share");
    const double end = r->t_end, from = fmin(b->measure, 0.5 * end), mid = 0.5 * (from + end);
    const double base = e->u.brick.blocked;
    const double u0 = crust_mass(value_at(r, col, from), base),
                 u1 = crust_mass(value_at(r, col, mid), base),
                 u2 = crust_mass(value_at(r, col, end), base);
    const double rate = (u2 - u0) / (end - from), early = (u1 - u0) / (mid - from),
                 late = (u2 - u1) / (end - mid);
    snprintf(b->crust_at, sizeof b->crust_at, "%s", e->name);
    b->crust_start = value_at(r, col, 0.0);
    b->crust_end = value_at(r, col, end);
    b->crust_error = rate > 0.0 ? 0.5 * fabs(late - early) / rate : 0.0;
    b->crust_reach =
        rate > 1e-14 ? (crust_mass(b->ask.crust_limit, base) - u0) / rate + from : INFINITY;
    if (b->crust_start >= b->ask.crust_limit) {
        b->crust_reach = 0.0;
    }
}

static double check_measures(const struct job *j)
{
    const double want = fmin(j->b->reach, longest_check), least = 2.0 * measures(j);
    return fmax(ceil(want / j->b->measure), least);
}

static enum emb_status check_make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct job *j = user;
    const enum emb_status st = emb_case_copy(j->c, out, err);
    (void)i;
    if (st == EMB_OK) {
        case_passes(out, j->b->ask.cold ? 1.0 : check_measures(j), j);
    }
    return st;
}

static enum emb_status check_take(size_t i, enum emb_status st, const struct emb_err *why,
                                  const struct emb_result *r, void *user)
{
    struct job *j = user;
    struct emb_balance *b = j->b;
    (void)i;
    b->check_t = b->crust_start = NAN;
    if (st != EMB_OK) {
        return lost(j, why);
    }
    const int col = emb_shop_column(r, b->filter, "soot_share");
    b->check_t = r->t_end;
    b->check_run = value_at(r, col, r->t_end);
    b->check_sum = emb_balance_after(b->node, b->start, r->t_end);
    const double change = fmax(fabs(b->check_run - b->start), 1e-4);
    b->error = fabs(b->check_run - b->check_sum) / change;
    crust_take(j, r);
    return EMB_OK;
}

/* ---- clean up at load ---- */
static enum emb_status load_make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct job *j = user;
    const enum emb_status st = emb_case_copy(j->c, out, err);
    if (st != EMB_OK) {
        return st;
    }
    for (; out->n_duty > 1; out->n_duty--) {
        struct emb_phase *p = &out->duty[out->n_duty - 1];
        free(p->name);
        free(p->cycle);
        free(p->trace.t);
        free(p->trace.v);
    }
    phase_steady(out, 0.2 + 0.2 * (double)i, try_load, &out->duty[0]);
    out->duty_repeat = 1;
    out->output_interval = 20.0;
    struct emb_filter_cfg *f = filter_of(out, j->filter);
    f->soot = j->b->ask.soot_limit * f->full_load;
    return EMB_OK;
}

static enum emb_status load_take(size_t i, enum emb_status st, const struct emb_err *why,
                                 const struct emb_result *r, void *user)
{
    struct job *j = user;
    struct emb_balance_load *l = &j->b->load[i];
    *l = (struct emb_balance_load){.load = 0.2 + 0.2 * (double)i, .filter = NAN, .half = NAN};
    if (st != EMB_OK) {
        return lost(j, why);
    }
    const int soot = emb_shop_column(r, j->b->filter, "soot_share"),
              T = emb_shop_column(r, j->b->filter, "mean_temperature");
    double most = 0.0;
    for (size_t k = 0; k < r->n_row; k++) {
        const double s = r->row[k * r->n_column + (size_t)soot], t = r->row[k * r->n_column];
        if (s >= most) {
            most = s;
            l->warm_up = t;
        }
        if (isnan(l->half) && s <= 0.5 * j->b->ask.soot_limit) {
            l->half = t;
        }
    }
    l->warm_up = l->warm_up > r->t_end - 60.0 ? NAN : l->warm_up;
    l->filter = value_at(r, T, r->t_end);
    l->per_hour = (value_at(r, soot, r->t_end) - value_at(r, soot, r->t_end - 600.0)) * 6.0;
    return EMB_OK;
}

static enum emb_status
stage(struct job *j, size_t n,
      enum emb_status (*make)(size_t, void *, struct emb_case *, struct emb_err *),
      enum emb_status (*take)(size_t, enum emb_status, const struct emb_err *,
                              const struct emb_result *, void *),
      struct emb_err *err)
{
    const struct emb_batch b = {.n = n, .make = make, .take = take, .user = j,
                                .max_steps = SHOP_MAX_STEPS};
    return emb_batch_run(&b, err);
}

/* With one of the three rates missing, a straight line through the others stands for it. Where all
 * three meet at one load, the duty itself sets the soot (a regeneration in it) and nothing is to be
 * extrapolated. */
static enum emb_status nodes_mend(struct job *j, struct emb_err *err)
{
    struct emb_balance_node *n = j->b->node;
    double lo = INFINITY, hi = -INFINITY;
    if (j->b->lost > 1) {
        return emb_fail(err, j->why.status, j->why.where, "%s", j->why.msg);
    }
    for (int i = 0; i < EMB_BALANCE_NODES; i++) {
        if (isnan(n[i].rate)) {
            const struct emb_balance_node *a = &n[(i + 1) % 3], *z = &n[(i + 2) % 3];
            n[i].soot = j->soot[i];
            n[i].rate = a->rate + (z->rate - a->rate) * (n[i].soot - a->soot) / (z->soot - a->soot);
            n[i].before = n[i].rate;
        }
        lo = fmin(lo, n[i].soot);
        hi = fmax(hi, n[i].soot);
    }
    j->b->resets = hi - lo < 0.1 * (j->soot[2] - j->soot[0]);
    return EMB_OK;
}

static enum emb_status job_begin(struct job *j, const struct emb_balance_ask *ask,
                                 struct emb_err *err)
{
    struct emb_balance *b = j->b;
    size_t at = 0;
    while (at < j->c->n_line && j->c->line[at].kind != EMB_FILTER) {
        at++;
    }
    if (at == j->c->n_line) {
        return emb_fail(err, EMB_ERR_CONFIG, "line", "has no filter: there is no soot to balance");
    }
    j->filter = at;
    for (size_t i = j->c->n_line; i-- > 0;) { /* the first one sees the raw exhaust */
        j->crust = j->c->line[i].kind == EMB_OXICAT ? (int)i : j->crust;
    }
    b->ask = *ask;
    b->start = filter_of(j->c, at)->soot / filter_of(j->c, at)->full_load;
    b->pass = emb_duty_length(j->c);
    j->per = ask->cold ? 1.0 : fmax(ceil(least_measure / b->pass), 1.0);
    b->measure = b->pass * j->per;
    snprintf(b->filter, sizeof b->filter, "%s", j->c->line[at].name);
    snprintf(b->title, sizeof b->title, "%s", j->c->title != NULL ? j->c->title : "");
    if (b->start >= ask->soot_limit) {
        return emb_fail(err, EMB_ERR_USAGE, "--soot-limit",
                        "the filter '%s' starts with %.0f %%, which is not below %.0f %%",
                        b->filter, 100.0 * b->start, 100.0 * ask->soot_limit);
    }
    for (int i = 0; i < 3; i++) {
        j->soot[i] = b->start + (ask->soot_limit - b->start) * 0.5 * i;
    }
    return EMB_OK;
}

enum emb_status emb_balance_find(const struct emb_case *c, const struct emb_balance_ask *ask,
                                 struct emb_balance *out, struct emb_err *err)
{
    struct emb_case own;
    struct job j = {.c = &own, .b = out, .crust = -1};
    *out = (struct emb_balance){0};
    enum emb_status st = emb_case_copy(c, &own, err);
    if (st != EMB_OK) {
        return st;
    }
    if (ask->drive > 0.0 && c->source != EMB_SOURCE_ENGINE) {
        st = emb_fail(err, EMB_ERR_USAGE, "--drive", "needs an engine in the case");
    } else if (ask->drive > 0.0) {
        st = drive_add(&own, ask->drive, err);
    }
    st = st != EMB_OK ? st : job_begin(&j, ask, err);
    st = st != EMB_OK ? st : stage(&j, EMB_BALANCE_NODES, node_make, node_take, err);
    st = st != EMB_OK ? st : nodes_mend(&j, err);
    if (st == EMB_OK && out->resets) {
        out->reach = INFINITY;
        out->level = out->node[2].soot;
    } else if (st == EMB_OK) {
        out->reach = emb_balance_time(out->node, out->start, ask->soot_limit, &out->level);
    }
    if (st == EMB_OK) {
        st = stage(&j, 1, check_make, check_take, err);
    }
    if (st == EMB_OK && c->source == EMB_SOURCE_ENGINE) {
        out->n_load = EMB_BALANCE_LOADS;
        out->tried = try_load;
        st = stage(&j, EMB_BALANCE_LOADS, load_make, load_take, err);
    }
    emb_case_free(&own);
    return st;
}
