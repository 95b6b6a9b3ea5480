/* fit.c - the model as curves over its knobs. Runs are remembered: singles, pairs and differences
 * meet at the same places. */
#include "fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/run.h"
#include "shop_log.h"

void emb_fit_end(struct emb_fit *f)
{
    for (size_t i = 0; i < f->n_memo; i++) {
        free(f->memo[i]->y);
        free(f->memo[i]);
    }
    free(f->memo);
    free(f->bin);
    free(f->measured);
    free(f->weight);
    pthread_mutex_destroy(&f->lock);
}

/* Means over bins of 10 s or more: the noise of single rows is no information about heat. */
static void bins_fill(struct emb_fit *f, double width)
{
    const struct emb_replay *c = f->compared;
    for (size_t i = 0; i < c->n_row; i++) {
        const size_t b = (size_t)(c->t[i] / width);
        f->bin[i] = (unsigned)(b < f->n_bin ? b : f->n_bin - 1);
    }
    for (size_t k = 0; k < c->n_sensor; k++) {
        const struct emb_replay_sensor *s = &c->sensor[k];
        /* other units: their span counts as much as 100 K */
        const double w = strcmp(s->unit, "K") == 0 ? 1.0 : 100.0 / fmax(s->hi - s->lo, 1e-9);
        double *m = f->measured + k * f->n_bin, *n = f->weight + k * f->n_bin;
        for (size_t i = 0; i < c->n_row; i++) {
            if (!isnan(s->measured[i])) {
                m[f->bin[i]] += s->measured[i];
                n[f->bin[i]] += 1.0;
            }
        }
        for (size_t b = 0; b < f->n_bin; b++) {
            m[b] = n[b] > 0.0 ? m[b] / n[b] : 0.0;
            n[b] = n[b] > 0.0 ? w : 0.0;
        }
    }
}

enum emb_status emb_fit_begin(struct emb_fit *f, const struct emb_case *driven,
                              const struct emb_log *log, const struct emb_replay *compared,
                              const struct emb_knob *knob, size_t n_knob, struct emb_err *err)
{
    const double length = compared->t[compared->n_row - 1];
    const double width = fmax(10.0, length / 400.0);
    *f = (struct emb_fit){.driven = driven, .log = log, .compared = compared, .n_knob = n_knob,
                          .knob = knob, .n_bin = (size_t)ceil(length / width) + 1, .best = INFINITY};
    pthread_mutex_init(&f->lock, NULL);
    f->n = f->n_bin * compared->n_sensor;
    f->bin = calloc(compared->n_row, sizeof *f->bin);
    f->measured = calloc(f->n, sizeof *f->measured);
    f->weight = calloc(f->n, sizeof *f->weight);
    if (f->bin == NULL || f->measured == NULL || f->weight == NULL) {
        emb_fit_end(f);
        return emb_fail(err, EMB_ERR_NOMEM, "diagnose", "out of memory");
    }
    bins_fill(f, width);
    for (size_t k = 0; k < n_knob; k++) {
        f->x0[k] = emb_knob_scale(&knob[k], knob[k].healthy);
        f->step[k] = emb_knob_step(&knob[k]);
    }
    return EMB_OK;
}

/* Means of the computed readings over the same rows that made the measured means. */
static bool curve_fill(const struct emb_fit *f, const struct emb_result *r, double *y)
{
    const struct emb_replay *c = f->compared;
    double *count = calloc(f->n_bin, sizeof *count);
    for (size_t k = 0; count != NULL && k < c->n_sensor; k++) {
        const struct emb_replay_sensor *s = &c->sensor[k];
        const int at = emb_result_find(r, s->reads);
        double *sum = y + k * f->n_bin;
        memset(count, 0, f->n_bin * sizeof *count);
        memset(sum, 0, f->n_bin * sizeof *sum);
        for (size_t i = 0; at >= 0 && i < c->n_row; i++) {
            if (!isnan(s->measured[i])) {
                sum[f->bin[i]] += emb_replay_at(r, (size_t)at, c->t[i]);
                count[f->bin[i]] += 1.0;
            }
        }
        for (size_t b = 0; b < f->n_bin; b++) {
            sum[b] /= fmax(count[b], 1.0);
        }
    }
    free(count);
    return count != NULL;
}

/* A run that crawls at a place far off is given up: the fit turns back as from a failed one. */
static int step_limit(double t, double t_end, void *user)
{
    long *steps = user;
    (void)t;
    (void)t_end;
    return ++*steps > 50000;
}

static double *curve_run(struct emb_fit *f, const double *x)
{
    struct emb_case c;
    struct emb_result r = {0};
    double *y = NULL;
    long steps = 0;
    const struct emb_hooks hooks = {step_limit, &steps};
    if (emb_case_copy(f->driven, &c, NULL) != EMB_OK) {
        return NULL;
    }
    for (size_t k = 0; k < f->n_knob; k++) {
        if (x[k] != f->x0[k]) {
            emb_knob_apply(&f->knob[k], emb_knob_unscale(&f->knob[k], x[k]), &c);
        }
    }
    if (emb_run(&c, &hooks, &r, NULL) == EMB_OK && r.n_row > 1) {
        y = malloc(f->n * sizeof *y);
        if (y != NULL && !curve_fill(f, &r, y)) {
            free(y);
            y = NULL;
        }
    }
    emb_result_free(&r);
    emb_case_free(&c);
    return y;
}

static bool same_place(const struct emb_fit *f, const double *a, const double *b)
{
    for (size_t k = 0; k < f->n_knob; k++) {
        if (f->knob[k].kind != EMB_KNOB_OFFSET && a[k] != b[k]) {
            return false;
        }
    }
    return true;
}

static struct emb_curve *memo_find(struct emb_fit *f, const double *x)
{
    struct emb_curve *found = NULL;
    pthread_mutex_lock(&f->lock);
    for (size_t i = 0; i < f->n_memo && found == NULL; i++) {
        found = same_place(f, f->memo[i]->x, x) ? f->memo[i] : NULL;
    }
    pthread_mutex_unlock(&f->lock);
    return found;
}

static bool memo_add(struct emb_fit *f, struct emb_curve *c)
{
    pthread_mutex_lock(&f->lock);
    f->runs++;
    if (f->n_memo == f->room) {
        const size_t room = f->room == 0 ? 64 : 2 * f->room;
        struct emb_curve **grown = realloc(f->memo, room * sizeof(struct emb_curve *));
        f->memo = grown != NULL ? grown : f->memo;
        f->room = grown != NULL ? room : f->room;
    }
    const bool ok = f->n_memo < f->room;
    if (ok) {
        f->memo[f->n_memo++] = c;
    } else {
        f->no_memory = true;
    }
    pthread_mutex_unlock(&f->lock);
    return ok;
}

const double *emb_fit_curve(struct emb_fit *f, const double *x)
{
    struct emb_curve *c = memo_find(f, x);
    if (c != NULL) {
        return c->y;
    }
    c = calloc(1, sizeof *c);
    if (c == NULL) {
        return NULL;
    }
    memcpy(c->x, x, f->n_knob * sizeof *x);
    c->y = curve_run(f, x);
    if (!memo_add(f, c)) {
        free(c->y);
        free(c);
        return NULL;
    }
    return c->y;
}

int emb_fit_residuals(struct emb_fit *f, const double *x, double *r)
{
    const double *y = emb_fit_curve(f, x);
    if (y == NULL) {
        return -1;
    }
    for (size_t i = 0; i < f->n; i++) {
        r[i] = f->weight[i] * (y[i] - f->measured[i]);
    }
    for (size_t k = 0; k < f->n_knob; k++) {
        const struct emb_knob *o = &f->knob[k];
        for (size_t b = 0; o->kind == EMB_KNOB_OFFSET && b < f->n_bin; b++) {
            const size_t i = (size_t)o->at * f->n_bin + b;
            r[i] += f->weight[i] * emb_knob_unscale(o, x[k]);
        }
    }
    return 0;
}

int emb_fit_slope(struct emb_fit *f, const double *x, const double *r, size_t knob, double *col)
{
    double moved[EMB_MAX_KNOBS], lo = 0.0, hi = 0.0;
    memcpy(moved, x, f->n_knob * sizeof *x);
    emb_knob_limits(&f->knob[knob], &lo, &hi);
    const double step = x[knob] + f->step[knob] > hi ? -f->step[knob] : f->step[knob];
    moved[knob] += step;
    if (emb_fit_residuals(f, moved, col) != 0) {
        return -1;
    }
    for (size_t i = 0; i < f->n; i++) {
        col[i] = (col[i] - r[i]) / step;
    }
    return 0;
}

/* Sum of the autocorrelation while it stays clearly positive (Sokal 1997's window in its simplest
 * form), sensor by sensor: n / (1 + 2 sum rho) of n are independent. */
double emb_fit_effective(const struct emb_fit *f, const double *r)
{
    double effective = 0.0;
    for (size_t k = 0; k < f->compared->n_sensor; k++) {
        const double *v = r + k * f->n_bin, *w = f->weight + k * f->n_bin;
        double n = 0.0, var = 0.0, tau = 1.0;
        for (size_t i = 0; i < f->n_bin; i++) {
            n += w[i] > 0.0;
        }
        for (size_t i = 0; i < f->n_bin; i++) {
            var += w[i] > 0.0 ? v[i] * v[i] : 0.0; /* about zero: a bias is correlated all along */
        }
        for (size_t lag = 1; lag < f->n_bin / 2; lag++) {
            double sum = 0.0, pairs = 0.0;
            for (size_t i = lag; i < f->n_bin; i++) {
                const bool both = w[i] > 0.0 && w[i - lag] > 0.0;
                sum += both ? v[i] * v[i - lag] : 0.0;
                pairs += both;
            }
            const double rho = var > 0.0 && pairs > 0.0 ? sum / pairs / (var / n) : 0.0;
            if (rho < 2.0 / sqrt(fmax(n, 1.0))) { /* no longer told from zero */
                break;
            }
            tau += 2.0 * rho;
        }
        effective += n / tau;
    }
    return effective;
}
