/* seek.c - NLopt over the cases of a study. Every combination is a search of its own. */
#include <gsl/gsl_qrng.h>
#include <math.h>
#include <nlopt.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/batch.h"
#include "emberpipe/run.h"
#include "emberpipe/study_search.h"
#include "seek_impl.h"

enum { MAX_FREE = 20 };
static const double first_step = 0.15, tolerance = 1e-3; /* [of the range] judgement */
static const double neighbour = 0.02;                    /* [of the range] */

struct shared {
    const struct emb_study *s;
    struct emb_search *x;
    const atomic_bool *stop;
    pthread_mutex_t lock;
    size_t next;
    bool out_of_memory;
};
struct job { /* one combination, one thread */
    struct shared *sh;
    struct emb_search_best *best;
    struct emb_search_point at; /* the last one run */
    size_t n_free, axis[MAX_FREE];
    double u[MAX_FREE]; /* of the last one run */
    bool any;
    double worst, scale; /* of the objective so far; what it is divided by for NLopt */
    double *excess;      /* n_limit, of the last one */
    long steps;          /* of the case that runs */
    nlopt_opt opt;
};

static bool is_stopped(const struct shared *sh)
{
    return sh->stop != NULL && atomic_load(sh->stop);
}

static int step_done(double t, double t_end, void *user)
{
    struct job *j = user;
    (void)t;
    (void)t_end;
    return ++j->steps > j->sh->s->cfg.max_steps || is_stopped(j->sh);
}

/* A time that was never reached, see the header. */
static double time_missed(const struct emb_measure *m, const struct emb_result *r)
{
    for (size_t i = 0; m->group == EMB_MEASURE_TARGET && i < r->n_verdict; i++) {
        const struct emb_verdict *v = &r->verdict[i];
        if (strcmp(v->name, m->name) == 0 && !v->reached && isfinite(v->best)) {
            const double gap = v->below ? v->best - v->value : v->value - v->best;
            const double hold = v->hold > 0.0 ? fmax(1.0 - v->longest / v->hold, 0.0) : 0.0;
            return r->t_end * (1.0 + hold + fmax(gap, 0.0) / fmax(fabs(v->value), 1e-9));
        }
    }
    return NAN;
}

static void limits_look(struct job *j)
{
    const struct emb_search *x = j->sh->x;
    j->at.excess = 0.0;
    for (size_t i = 0; i < x->n_limit; i++) {
        const struct emb_search_limit *l = &x->limit[i];
        const double v = j->at.outputs[l->output], size = fmax(fabs(l->value), 1e-12);
        j->excess[i] = isfinite(v) ? (l->below ? v - l->value : l->value - v) / size : 1.0;
        j->at.excess += fmax(j->excess[i], 0.0);
    }
    j->at.feasible = j->at.found && j->at.excess <= 1e-9;
}

static bool is_better(const struct emb_search_point *a, const struct emb_search_point *b)
{
    if (a->feasible != b->feasible) {
        return a->feasible;
    }
    if (!a->feasible && a->excess != b->excess) {
        return a->excess < b->excess;
    }
    return a->objective < b->objective;
}

static void keep_best(struct job *j)
{
    const struct emb_study *s = j->sh->s;
    struct emb_search_point *b = &j->best->p;
    if (j->best->runs == 0 || is_better(&j->at, b)) {
        memcpy(b->values, j->at.values, s->n_axis * sizeof *b->values);
        memcpy(b->cube, j->at.cube, s->n_axis * sizeof *b->cube);
        memcpy(b->outputs, j->at.outputs, s->n_output * sizeof *b->outputs);
        b->found = j->at.found;
        b->feasible = j->at.feasible;
        b->objective = j->at.objective;
        b->excess = j->at.excess;
    }
    j->best->runs++;
}

/* The case at j->at.cube; *missed: see time_missed. */
static enum emb_status run_here(struct job *j, double *missed)
{
    const struct emb_study *s = j->sh->s;
    const struct emb_hooks hooks = {step_done, j};
    struct emb_case c;
    struct emb_result r = {0};
    struct emb_err why = {EMB_OK, "", ""};
    j->steps = 0;
    emb_study_point(s, j->at.cube, j->at.values);
    enum emb_status st = emb_study_make(s, j->at.values, &c, &why);
    if (st == EMB_OK) {
        st = emb_run(&c, &hooks, &r, &why);
        emb_case_free(&c);
    }
    if (st != EMB_OK) {
        if (j->steps > s->cfg.max_steps) {
            emb_fail(&j->best->why, st, "", "given up after max_steps = %d steps of the integrator",
                     s->cfg.max_steps);
        }
        emb_fail(&j->best->why, st, why.where, "%s", why.msg); /* the first one stays */
        emb_result_free(&r);
        r = (struct emb_result){0}; /* half a run is no answer */
    }
    *missed = time_missed(&s->output[j->sh->x->output].measure, &r);
    emb_study_keep(s, &r, j->at.outputs, NULL);
    emb_result_free(&r);
    return st;
}

/* Runs the case at u (n_free numbers of 0 .. 1) unless it is the last one. */
static void look(struct job *j, const double *u)
{
    const struct emb_search *x = j->sh->x;
    double missed = NAN;
    if (j->any && memcmp(u, j->u, j->n_free * sizeof *u) == 0) {
        return;
    }
    for (size_t i = 0; i < j->n_free; i++) {
        j->at.cube[j->axis[i]] = j->u[i] = fmin(fmax(u[i], 0.0), 1.0);
    }
    const enum emb_status st = run_here(j, &missed);
    const double v = j->at.outputs[x->output];
    j->at.found = isfinite(v);
    j->at.objective = x->maximise ? -v : v;
    if (!j->at.found) { /* nowhere to go from there: a little worse than the worst so far */
        j->at.objective = isfinite(missed) && !x->maximise ? missed
                          : j->any                         ? j->worst + 0.1 * fabs(j->worst)
                                                           : 1e9;
    }
    j->worst = j->any ? fmax(j->worst, j->at.objective) : j->at.objective;
    j->any = true;
    limits_look(j);
    if (st == EMB_OK || !is_stopped(j->sh)) {
        j->best->failed += st != EMB_OK;
        keep_best(j);
    }
}

static double objective(unsigned n, const double *u, double *grad, void *user)
{
    struct job *j = user;
    (void)n;
    (void)grad;
    look(j, u);
    if (is_stopped(j->sh)) {
        nlopt_force_stop(j->opt);
    }
    return j->at.objective / j->scale;
}

/* DIRECT has no limits of its own: they count as much as the objective does. */
static double penalised(unsigned n, const double *u, double *grad, void *user)
{
    const double f = objective(n, u, grad, user);
    return f + 10.0 * ((struct job *)user)->at.excess;
}

static void limits(unsigned m, double *result, unsigned n, const double *u, double *grad, void *user)
{
    struct job *j = user;
    (void)n;
    (void)grad;
    look(j, u);
    memcpy(result, j->excess, m * sizeof *result);
}

/* Well-spread points, the middle first; the best of them goes to `start`. */
static void scan(struct job *j, size_t runs, double *start)
{
    struct emb_search_point before;
    gsl_qrng *q = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)j->n_free);
    double u[MAX_FREE];
    for (size_t i = 0; q != NULL && i < runs && !is_stopped(j->sh); i++) {
        before = j->best->p;
        const size_t runs_before = j->best->runs;
        gsl_qrng_get(q, u);
        look(j, u);
        if (runs_before == 0 || before.objective != j->best->p.objective ||
            before.excess != j->best->p.excess) {
            memcpy(start, u, j->n_free * sizeof *start);
        }
    }
    gsl_qrng_free(q);
}

static bool climb(struct job *j, nlopt_algorithm how, nlopt_func f, bool limited, size_t runs,
                  double *u)
{
    const unsigned n = (unsigned)j->n_free;
    const double scale = fabs(j->best->p.objective);
    double lo[MAX_FREE] = {0}, hi[MAX_FREE], small[MAX_FREE], none[EMB_SEARCH_LIMITS] = {0}, value = 0.0;
    for (size_t i = 0; i < j->n_free; i++) {
        hi[i] = 1.0;
        small[i] = tolerance;
    }
    j->scale = j->best->runs > 0 && scale > 0.0 && scale < 1e9 ? scale : 1.0;
    j->opt = nlopt_create(how, n);
    if (j->opt == NULL) {
        return false;
    }
    bool ok = nlopt_set_lower_bounds(j->opt, lo) > 0 && nlopt_set_upper_bounds(j->opt, hi) > 0 &&
              nlopt_set_min_objective(j->opt, f, j) > 0 &&
              nlopt_set_maxeval(j->opt, (int)runs) > 0 && nlopt_set_xtol_abs(j->opt, small) > 0 &&
              nlopt_set_initial_step1(j->opt, first_step) > 0;
    if (ok && limited) {
        ok = nlopt_add_inequality_mconstraint(j->opt, (unsigned)j->sh->x->n_limit, limits, j,
                                              none) > 0;
    }
    /* how it ended does not matter: every point it looked at is known to keep_best */
    ok = ok && nlopt_optimize(j->opt, u, &value) != NLOPT_OUT_OF_MEMORY;
    nlopt_destroy(j->opt);
    return ok;
}

static bool combination_search(struct job *j)
{
    const struct emb_search_cfg *cfg = &j->sh->s->cfg.search;
    const bool limited = j->sh->x->n_limit > 0, global = cfg->method == EMB_SEARCH_GLOBAL;
    const size_t runs = (size_t)cfg->runs, spread = global ? runs * 2 / 3 : runs / 3;
    double u[MAX_FREE] = {0};
    bool ok = true;
    if (j->n_free == 0) {
        look(j, u);
        return true;
    }
    for (size_t i = 0; i < j->n_free; i++) {
        u[i] = 0.5;
    }
    if (global) {
        ok = climb(j, NLOPT_GN_DIRECT_L, penalised, false, spread > 0 ? spread : 1, u);
    } else {
        scan(j, spread > 0 ? spread : 1, u);
    }
    /* BOBYQA wants two dimensions */
    const nlopt_algorithm how = limited || j->n_free < 2 ? NLOPT_LN_COBYLA : NLOPT_LN_BOBYQA;
    return ok && climb(j, how, objective, limited, runs - spread, u);
}

/* The combination's levels into the middle of their shares of the unit interval. */
static bool job_begin(struct shared *sh, size_t k, struct job *j)
{
    const struct emb_study *s = sh->s;
    *j = (struct job){.sh = sh, .best = &sh->x->item[k], .scale = 1.0};
    j->excess = calloc(sh->x->n_limit + 1, sizeof *j->excess);
    if (!emb_seek_point_make(s, &j->at) || j->excess == NULL) {
        return false;
    }
    for (size_t i = s->n_axis; i-- > 0;) {
        const size_t n = s->axis[i].n_level;
        if (n > 0) {
            j->at.cube[i] = ((double)(k % n) + 0.5) / (double)n;
            k /= n;
        }
    }
    for (size_t i = 0; i < s->n_axis; i++) {
        if (s->axis[i].n_level == 0) {
            j->axis[j->n_free++] = i;
        }
    }
    return true;
}

static void job_end(struct job *j)
{
    free(j->excess);
    emb_seek_point_free(&j->at);
}

static void *work(void *user)
{
    struct shared *sh = user;
    while (!is_stopped(sh)) {
        struct job j;
        pthread_mutex_lock(&sh->lock);
        const size_t k = sh->next++;
        pthread_mutex_unlock(&sh->lock);
        if (k >= sh->x->n) {
            break;
        }
        const bool ok = job_begin(sh, k, &j) && combination_search(&j);
        job_end(&j);
        if (!ok) {
            pthread_mutex_lock(&sh->lock);
            sh->out_of_memory = true;
            pthread_mutex_unlock(&sh->lock);
        }
    }
    return NULL;
}

static void spread_work(struct shared *sh, int threads)
{
    pthread_t thread[EMB_SEARCH_COMBINATIONS];
    int want = threads > 0 ? threads : emb_batch_cores(), n = 0;
    want = want > (int)sh->x->n ? (int)sh->x->n : want;
    while (n < want - 1 && pthread_create(&thread[n], NULL, work, sh) == 0) {
        n++;
    }
    work(sh);
    for (int i = 0; i < n; i++) {
        pthread_join(thread[i], NULL);
    }
}

/* The answer is run once more, and its neighbours are looked at. */
static bool verify(struct shared *sh)
{
    struct emb_search *x = sh->x;
    const struct emb_search_best found = x->item[x->best];
    struct emb_search_best other = {0};
    struct job j;
    bool ok = job_begin(sh, x->best, &j);
    double u[MAX_FREE];
    ok = emb_seek_point_make(sh->s, &other.p) && ok;
    j.best = &other;
    for (size_t i = 0; ok && i < j.n_free; i++) {
        u[i] = found.p.cube[j.axis[i]];
    }
    if (ok) {
        look(&j, u);
        const double limit = found.p.objective - 1e-3 * fabs(found.p.objective);
        x->same = fabs(j.at.objective - found.p.objective) <= 1e-6 * fabs(found.p.objective);
        for (size_t i = 0; i < 2 * j.n_free; i++) {
            double v[MAX_FREE];
            memcpy(v, u, sizeof v);
            v[i / 2] += i % 2 == 0 ? neighbour : -neighbour;
            if (v[i / 2] >= 0.0 && v[i / 2] <= 1.0) {
                look(&j, v);
                x->neighbours++;
                x->better += j.at.feasible && j.at.objective < limit;
            }
        }
    }
    job_end(&j);
    emb_seek_point_free(&other.p);
    return ok;
}

enum emb_status emb_seek_run(const struct emb_study *s, int threads, const atomic_bool *stop,
                               struct emb_search *out, struct emb_err *err)
{
    struct shared sh = {.s = s, .x = out, .stop = stop};
    enum emb_status st = emb_seek_begin(s, MAX_FREE, out, err);
    if (st != EMB_OK) {
        return st;
    }
    pthread_mutex_init(&sh.lock, NULL);
    spread_work(&sh, threads);
    out->best = out->n;
    for (size_t k = 0; k < out->n; k++) {
        const struct emb_search_point *p = &out->item[k].p;
        if (p->feasible && (out->best == out->n || is_better(p, &out->item[out->best].p))) {
            out->best = k;
        }
    }
    bool ok = !sh.out_of_memory;
    if (ok && out->best < out->n && !is_stopped(&sh)) {
        ok = verify(&sh);
    }
    pthread_mutex_destroy(&sh.lock);
    if (!ok) {
        emb_seek_free(out);
        return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    return EMB_OK;
}
