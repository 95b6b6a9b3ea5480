/* likely.c - draws what is not known, runs the case for each draw, counts. */
#include "emberpipe/likely.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "emberpipe/batch.h"
#include "emberpipe/duty.h"
#include "emberpipe/measure.h"
#include "emberpipe/run.h"
#include "likely_draw.h"

/* Sampled runs are coarse on purpose: what that costs is seen on the case as it is, which is run in
 * full too, and told. --full counts without. */
enum { SAMPLES = 200, CELLS = 2 };
enum { FULL, EXTRA }; /* the case itself, in full, comes before the samples: it takes longest */
/* A sample that takes so many times the steps of the case itself hangs on something: given up. */
static const long steps_over = 10, steps_least = 2000;
/* [-] A run whose energy book is open by more is no answer, however coarse it was meant to be. */
static const double open_book = 5e-3;

struct work {
    const struct emb_case *full, *coarse;
    double t_end; /* [s] of the duty */
    const struct emb_likely_options *o;
    struct emb_likely *out;
    double *time, *engine, *dosed; /* n_target x n, n, n */
    bool *reached;                 /* n_target x n */
    size_t done;
    struct emb_measure engine_fuel, dosed_fuel;
    bool cancelled;
    struct emb_err why; /* what the case itself failed of */
};

void emb_likely_free(struct emb_likely *l)
{
    for (size_t i = 0; l->target != NULL && i < l->n_target; i++) {
        free(l->target[i].rank);
        free(l->target[i].margin);
    }
    free(l->target);
    free(l->input);
    free(l->u);
    *l = (struct emb_likely){0};
}

static enum emb_status make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct work *w = user;
    return i == FULL ? emb_case_copy(w->full, out, err)
                     : emb_likely_truck(w->out, w->coarse, i - EXTRA, out, err);
}

/* How far a target got, in the direction in which more is better: past it counts how early. */
static double margin_of(const struct emb_verdict *v, double t_end)
{
    const double short_by = v->below ? v->best - v->value : v->value - v->best;
    return v->reached ? 1.0 - v->t_reached / fmax(t_end, 1.0)
                      : -fmax(short_by, 0.0) / fmax(fabs(v->value), 1e-9) -
                            1e-3 * (1.0 - fmin(v->longest / fmax(v->hold, 1.0), 1.0));
}

/* The case as it is, in full and as coarse as the samples: what that costs. */
static void take_nominal(const struct emb_result *r, bool full, struct emb_likely *out)
{
    for (size_t k = 0; k < out->n_target && k < r->n_verdict; k++) {
        struct emb_likely_target *t = &out->target[k];
        const struct emb_verdict *v = &r->verdict[k];
        memcpy(t->name, v->name, sizeof t->name);
        memcpy(t->what, v->what, sizeof t->what);
        *(full ? &t->full_reached : &t->coarse_reached) = v->reached;
        *(full ? &t->full_time : &t->coarse_time) = v->reached ? v->t_reached : NAN;
    }
}

static void take_sample(size_t i, const struct emb_result *r, struct work *w)
{
    struct emb_likely *l = w->out;
    for (size_t k = 0; k < l->n_target && k < r->n_verdict; k++) {
        w->reached[k * l->n + i] = r->verdict[k].reached;
        w->time[k * l->n + i] = r->verdict[k].reached ? r->verdict[k].t_reached : NAN;
        l->target[k].margin[i] = margin_of(&r->verdict[k], w->t_end);
    }
    w->engine[i] = emb_measure_value(&w->engine_fuel, r);
    w->dosed[i] = emb_measure_value(&w->dosed_fuel, r);
}

static enum emb_status take(size_t i, enum emb_status status, const struct emb_err *why,
                            const struct emb_result *r, void *user)
{
    struct work *w = user;
    struct emb_likely *l = w->out;
    w->done++;
    if (i == FULL && status != EMB_OK) {
        w->why = *why;
        return status;
    } else if (i == FULL) {
        take_nominal(r, true, l);
    } else if (status != EMB_OK || !(fabs(r->book[0].relative) < open_book)) {
        l->failed++;
    } else {
        take_sample(i - EXTRA, r, w);
    }
    if (w->o->progress != NULL &&
        !w->o->progress((double)w->done / (double)(l->n + EXTRA), w->o->user)) {
        w->cancelled = true;
        return EMB_ERR_SOLVER;
    }
    return EMB_OK;
}

static enum emb_status room(struct work *w, struct emb_err *err)
{
    struct emb_likely *l = w->out;
    bool ok = true;
    l->target = calloc(l->n_target + 1, sizeof *l->target);
    w->time = malloc((l->n_target * l->n + 1) * sizeof *w->time);
    w->engine = malloc(l->n * sizeof *w->engine);
    w->dosed = malloc(l->n * sizeof *w->dosed);
    w->reached = calloc(l->n_target * l->n + 1, sizeof *w->reached);
    ok = l->target && w->time && w->engine && w->dosed && w->reached;
    for (size_t k = 0; ok && k < l->n_target; k++) {
        l->target[k].rank = calloc(l->n_input + 1, sizeof(double));
        l->target[k].margin = malloc(l->n * sizeof(double));
        ok = l->target[k].rank != NULL && l->target[k].margin != NULL;
        for (size_t i = 0; ok && i < l->n; i++) {
            l->target[k].margin[i] = w->time[k * l->n + i] = NAN;
        }
    }
    for (size_t i = 0; ok && i < l->n; i++) {
        w->engine[i] = w->dosed[i] = NAN;
    }
    return ok ? EMB_OK : emb_fail(err, EMB_ERR_NOMEM, "likely", "out of memory");
}

static void count(struct work *w)
{
    struct emb_likely *l = w->out;
    double *x = malloc((l->n + 1) * sizeof *x);
    for (size_t k = 0; k < l->n_target; k++) {
        struct emb_likely_target *t = &l->target[k];
        for (size_t i = 0; i < l->n; i++) {
            t->reached += w->reached[k * l->n + i];
        }
        emb_likely_interval(t->reached, l->n - l->failed, &t->lo, &t->hi);
        t->time = emb_likely_range(w->time + k * l->n, l->n);
        for (size_t j = 0; x != NULL && j < l->n_input; j++) {
            for (size_t i = 0; i < l->n; i++) {
                x[i] = l->u[i * l->n_input + j];
            }
            t->rank[j] = emb_likely_rank(x, t->margin, l->n);
        }
    }
    free(x);
    l->engine_fuel = emb_likely_range(w->engine, l->n);
    l->dosed_fuel = emb_likely_range(w->dosed, l->n);
}

static enum emb_status run_all(struct work *w, struct emb_err *err)
{
    struct emb_result r;
    const enum emb_status first = emb_run_verdicts(w->coarse, NULL, &r, err);
    const long steps = r.counters.steps;
    take_nominal(&r, false, w->out);
    emb_result_free(&r);
    if (first != EMB_OK) {
        return first;
    }
    const struct emb_batch b = {.threads = w->o->threads, .n = w->out->n + EXTRA, .make = make,
                                .take = take, .user = w,
                                .max_steps = steps_least + steps_over * steps,
                                .verdicts_only = true};
    const enum emb_status st = emb_batch_run(&b, err);
    if (w->cancelled) {
        return emb_fail(err, EMB_ERR_SOLVER, "likely", "cancelled");
    }
    return w->why.status == EMB_OK ? st : emb_fail(err, st, w->why.where, "%s", w->why.msg);
}

static enum emb_status sample(const struct emb_case *c, const struct emb_likely_options *o,
                              struct emb_likely *out, struct emb_err *err)
{
    struct emb_case coarse;
    struct work w = {.full = c, .coarse = &coarse, .t_end = emb_duty_length(c), .o = o, .out = out};
    enum emb_status st = emb_likely_begin(c, o->set, o->n_set, out, &coarse, err);
    if (st == EMB_OK && out->n_input == 0) {
        emb_case_free(&coarse);
        st = emb_fail(err, EMB_ERR_CONFIG, "case", "everything with a spread is stated: the answer "
                      "is that of 'emberpipe run'");
    }
    if (st != EMB_OK) {
        return st;
    }
    st = room(&w, err);
    st = st == EMB_OK ? emb_measure_parse("total.engine_fuel", &w.engine_fuel, err) : st;
    st = st == EMB_OK ? emb_measure_parse("total.dosed_fuel", &w.dosed_fuel, err) : st;
    st = st == EMB_OK ? run_all(&w, err) : st;
    if (st == EMB_OK) {
        count(&w);
    }
    free(w.time);
    free(w.engine);
    free(w.dosed);
    free(w.reached);
    emb_case_free(&coarse);
    return st;
}

static double seconds_now(void)
{
    struct timespec ts;
    clock_gettime(CLOCK_MONOTONIC, &ts);
    return (double)ts.tv_sec + 1e-9 * (double)ts.tv_nsec;
}

enum emb_status emb_likely(const struct emb_case *c, const struct emb_likely_options *o,
                           struct emb_likely *out, struct emb_err *err)
{
    const double begin = seconds_now();
    *out = (struct emb_likely){.n = o->samples > 0 ? o->samples : SAMPLES, .seed = o->seed,
                               .full = o->full, .cells = o->cells > 0 ? o->cells : CELLS,
                               .rtol = o->rtol > 0.0 ? o->rtol : emb_likely_rtol,
                               .n_target = c->n_target};
    snprintf(out->title, sizeof out->title, "%s", c->title != NULL ? c->title : "");
    if (c->n_target == 0) {
        return emb_fail(err, EMB_ERR_CONFIG, "targets",
                        "the case asks nothing; give it a target, for example  targets: [{name: "
                        "hot, at: doc, above: 250 degC}]");
    }
    const enum emb_status st = sample(c, o, out, err);
    out->seconds = seconds_now() - begin;
    return st;
}
