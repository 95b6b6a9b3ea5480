/* replay.c - measured against computed, sensor by sensor. */
#include "emberpipe/replay.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shop_log.h"

void emb_replay_free(struct emb_replay *r)
{
    for (size_t i = 0; i < r->n_sensor; i++) {
        free(r->sensor[i].measured);
        free(r->sensor[i].computed);
    }
    free(r->sensor);
    free(r->t);
    *r = (struct emb_replay){0};
}

/* A reading ahead of all heat capacity, in a log without an inlet temperature, is what drives. */
static bool drives(const struct emb_case *d, const struct emb_log *log, const char *reads)
{
    for (size_t i = 0; i < d->n_line && emb_log_find(log, EMB_LOG_INLET) == NULL; i++) {
        const enum emb_kind k = d->line[i].kind;
        if (k != EMB_DOSER && k != EMB_DEF && k != EMB_SENSOR && k != EMB_LEAK) {
            return false;
        }
        const size_t n = strlen(d->line[i].name);
        if (strncmp(reads, d->line[i].name, n) == 0 && reads[n] == '.') {
            return true;
        }
    }
    return false;
}

bool emb_replay_comparable(const struct emb_case *driven, const struct emb_log *log,
                           const struct emb_log_column *c, const struct emb_result *r, size_t *at)
{
    const int i = c->role == EMB_LOG_READING ? emb_result_find(r, c->reads) : -1;
    *at = (size_t)(i < 0 ? 0 : i);
    return i >= 0 && !drives(driven, log, c->reads);
}

double emb_replay_at(const struct emb_result *r, size_t at, double t)
{
    size_t lo = 0, hi = r->n_row - 1;
    while (hi - lo > 1) {
        const size_t mid = (lo + hi) / 2;
        if (r->row[mid * r->n_column] <= t) {
            lo = mid;
        } else {
            hi = mid;
        }
    }
    const double *a = r->row + lo * r->n_column, *b = r->row + hi * r->n_column;
    const double f = hi > lo ? fmin(fmax((t - a[0]) / (b[0] - a[0]), 0.0), 1.0) : 0.0;
    return a[at] + f * (b[at] - a[at]);
}

/* 300 s and 60 K: judgement. */
bool emb_replay_stuck(const struct emb_log *log, const double *measured, const double *computed,
                      size_t from, size_t *begin, size_t *end)
{
    for (size_t i = from; i < log->n; i = *end) {
        double lo = computed[i], hi = computed[i];
        for (*end = i + 1; *end < log->n && measured[*end] == measured[i]; (*end)++) {
            lo = fmin(lo, computed[*end]);
            hi = fmax(hi, computed[*end]);
        }
        *begin = i;
        if (log->t[*end - 1] - log->t[i] >= 300.0 && hi - lo > 60.0) {
            return true;
        }
    }
    return false;
}

static void mask_stuck(const struct emb_log *log, struct emb_replay *out,
                       struct emb_replay_sensor *s, unsigned column)
{
    size_t begin = 0, end = 0;
    while (strcmp(s->unit, "K") == 0 &&
           emb_replay_stuck(log, s->measured, s->computed, end, &begin, &end)) {
        emb_replay_note(out, "line %u, column %u ('%.60s'): stays the same to the last digit for "
                        "%.0f s while the model says it should move: left out as stuck",
                        log->line[begin], column, s->name, log->t[end - 1] - log->t[begin]);
        for (size_t i = begin; i < end; i++) {
            s->measured[i] = NAN;
        }
    }
}

static void statistics(struct emb_replay_sensor *s, const double *t, size_t n)
{
    double sum = 0.0, square = 0.0, as_degF = 0.0;
    s->lo = INFINITY;
    s->hi = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        if (isnan(s->measured[i])) {
            continue;
        }
        const double d = s->computed[i] - s->measured[i];
        s->n++;
        const double if_degF = (s->measured[i] - 273.15 + 459.67) / 1.8; /* NIST SP 811 */
        sum += d;
        square += d * d;
        as_degF += (s->computed[i] - if_degF) * (s->computed[i] - if_degF);
        s->lo = fmin(s->lo, s->measured[i]);
        s->hi = fmax(s->hi, s->measured[i]);
        if (fabs(d) >= fabs(s->worst)) {
            s->worst = d;
            s->t_worst = t[i];
        }
    }
    s->bias = s->n > 0 ? sum / (double)s->n : NAN;
    s->rmse = s->n > 0 ? sqrt(square / (double)s->n) : NAN;
    s->rmse_if_degF = s->n > 0 && strcmp(s->unit, "K") == 0 ? sqrt(as_degF / (double)s->n) : NAN;
}

/* First time above the value after having been below it; NaN: never. */
static double crossing(const double *t, const double *v, size_t n, double value)
{
    size_t last = n;
    for (size_t i = 0; i < n; i++) {
        if (isnan(v[i])) {
            continue;
        }
        if (v[i] >= value) {
            return last == n ? NAN : t[last] + (value - v[last]) / (v[i] - v[last]) * (t[i] - t[last]);
        }
        last = i;
    }
    return NAN;
}

static void threshold_add(struct emb_replay_sensor *s, const double *t, size_t n, double value)
{
    const double measured = crossing(t, s->measured, n, value);
    for (size_t i = 0; i < s->n_threshold; i++) {
        if (fabs(s->threshold[i].value - value) < 5.0) {
            return;
        }
    }
    if (!isnan(measured) && s->n_threshold < EMB_REPLAY_MAX_THRESHOLDS) {
        s->threshold[s->n_threshold++] = (struct emb_replay_threshold){
            value, measured, crossing(t, s->computed, n, value)};
    }
}

/* The middle of what was measured to the next 10 degC, and whatever the case itself watches. */
static void thresholds(const struct emb_case *d, struct emb_replay_sensor *s, const double *t,
                       size_t n)
{
    if (strcmp(s->unit, "K") != 0 || s->n == 0 || s->hi - s->lo < 20.0) {
        return;
    }
    threshold_add(s, t, n, 273.15 + 10.0 * round(0.1 * (0.5 * (s->lo + s->hi) - 273.15)));
    if (d->regen.enable_temperature > 0.0) {
        threshold_add(s, t, n, d->regen.enable_temperature);
    }
    for (size_t i = 0; i < d->n_target; i++) {
        if (d->target[i].quantity == EMB_Q_TEMPERATURE && !d->target[i].below) {
            threshold_add(s, t, n, d->target[i].value);
        }
    }
}

static enum emb_status sensor_compare(const struct emb_case *driven, const struct emb_log *log,
                                      const struct emb_log_column *c, const struct emb_result *r,
                                      size_t at, struct emb_replay *out)
{
    struct emb_replay_sensor *s = &out->sensor[out->n_sensor];
    memcpy(s->name, c->name, sizeof s->name);
    memcpy(s->reads, c->reads, sizeof s->reads);
    memcpy(s->unit, c->unit, sizeof s->unit);
    s->measured = malloc(log->n * sizeof *s->measured);
    s->computed = malloc(log->n * sizeof *s->computed);
    out->n_sensor++;
    if (s->measured == NULL || s->computed == NULL) {
        return EMB_ERR_NOMEM;
    }
    for (size_t i = 0; i < log->n; i++) {
        s->measured[i] = log->t[i] <= r->t_end ? c->v[i] : NAN;
        s->computed[i] = emb_replay_at(r, at, log->t[i]);
    }
    mask_stuck(log, out, s, (unsigned)c->at + 1);
    statistics(s, log->t, log->n);
    thresholds(driven, s, log->t, log->n);
    return EMB_OK;
}

enum emb_status emb_replay_compare(const struct emb_case *driven, const struct emb_log *log,
                                   const struct emb_result *r, struct emb_replay *out,
                                   struct emb_err *err)
{
    enum emb_status st = EMB_OK;
    snprintf(out->title, sizeof out->title, "%s", driven->title != NULL ? driven->title : "");
    out->t = malloc(log->n * sizeof *out->t);
    out->sensor = calloc(log->n_column, sizeof *out->sensor);
    if (out->t == NULL || out->sensor == NULL || r->n_row == 0) {
        return emb_fail(err, EMB_ERR_NOMEM, "replay", "out of memory");
    }
    memcpy(out->t, log->t, log->n * sizeof *out->t);
    out->n_row = log->n;
    for (size_t k = 0; k < log->n_column && st == EMB_OK; k++) {
        const struct emb_log_column *c = &log->column[k];
        size_t at = 0;
        if (emb_replay_comparable(driven, log, c, r, &at)) {
            if (strncmp(c->name, c->reads, strlen(c->name)) != 0) {
                emb_replay_note(out, "'%.80s' is held against %.80s", c->name, c->reads);
            }
            st = sensor_compare(driven, log, c, r, at, out);
        } else if (c->role == EMB_LOG_READING) {
            emb_replay_note(out, "'%.60s' is not compared: it lies ahead of where the log drives "
                            "the line, or drives it", c->name);
        }
    }
    if (st != EMB_OK) {
        return emb_fail(err, st, "replay", "out of memory");
    }
    if (out->n_sensor == 0) {
        return emb_fail(err, EMB_ERR_CONFIG, "log",
                        "no sensor is left to compare: all lie ahead of where the log drives the "
                        "line");
    }
    return EMB_OK;
}

enum emb_status emb_replay(const struct emb_case *c, const struct emb_log *log,
                           const struct emb_hooks *hooks, struct emb_replay *out,
                           struct emb_err *err)
{
    struct emb_case driven;
    struct emb_result r = {0};
    *out = (struct emb_replay){0};
    for (size_t i = 0; i < log->n_note; i++) {
        emb_replay_note(out, "%s", log->note[i]);
    }
    enum emb_status st = emb_replay_case(c, log, 0.0, &driven, out, err);
    if (st != EMB_OK) {
        return st;
    }
    st = emb_run(&driven, hooks, &r, err);
    if (st == EMB_OK) {
        st = emb_replay_compare(&driven, log, &r, out, err);
    }
    emb_result_free(&r);
    emb_case_free(&driven);
    return st;
}
