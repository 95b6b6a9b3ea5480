/* replay_case.c - from a case and a log to the case that the log drives. */
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/duty.h"
#include "emberpipe/engine.h"
#include "emberpipe/temperature.h"
#include "shop_log.h"

void emb_replay_note(struct emb_replay *r, const char *fmt, ...)
{
    va_list ap;
    if (r != NULL && r->n_note < EMB_REPLAY_MAX_NOTES) {
        va_start(ap, fmt);
        vsnprintf(r->note[r->n_note], sizeof r->note[0], fmt, ap);
        va_end(ap);
        r->n_note++;
    }
}

/* Index of the element a reading belongs to, by the name ahead of its point; -1: none. */
static int element_of(const struct emb_case *c, const char *reads)
{
    char name[EMB_LOG_NAME];
    snprintf(name, sizeof name, "%.*s", (int)strcspn(reads, "."), reads);
    return emb_case_find(c, name);
}

/* What is to drive the line: the logged inlet, else the first temperature along the line. */
static const struct emb_log_column *inlet_find(const struct emb_case *c, const struct emb_log *log)
{
    const struct emb_log_column *best = emb_log_find(log, EMB_LOG_INLET);
    int at = (int)c->n_line;
    for (size_t k = 0; best == NULL && k < log->n_column; k++) {
        const int i = strcmp(log->column[k].unit, "K") == 0
                          ? element_of(c, log->column[k].reads) : -1;
        at = log->column[k].role == EMB_LOG_READING && i >= 0 && i < at ? i : at;
    }
    for (size_t k = 0; best == NULL && k < log->n_column; k++) {
        const bool here = log->column[k].role == EMB_LOG_READING &&
                          strcmp(log->column[k].unit, "K") == 0 &&
                          element_of(c, log->column[k].reads) == at;
        best = here ? &log->column[k] : best;
    }
    return best;
}

static bool no_length(enum emb_kind k)
{
    return k == EMB_DOSER || k == EMB_DEF || k == EMB_SENSOR || k == EMB_LEAK;
}

static int index_cut(int i, int n)
{
    return i < n ? -1 : i - n;
}

/* Drops what lies ahead of the sensor that drives the line. Elements without a length stay: a doser
 * beside the sensor feeds what follows. */
static enum emb_status line_cut(struct emb_case *d, const struct emb_log_column *inlet,
                                struct emb_replay *notes, struct emb_err *err)
{
    int n = element_of(d, inlet->reads);
    n += !no_length(d->line[n].kind);
    while (n > 0 && n <= (int)d->n_line && no_length(d->line[n - 1].kind)) {
        n--;
    }
    if (n >= (int)d->n_line) {
        return emb_fail(err, EMB_ERR_CONFIG, inlet->name,
                        "drives the line (the log holds no inlet temperature) but nothing lies "
                        "behind it; log the gas temperature ahead of the first brick");
    }
    for (int i = 0; i < n; i++) {
        free(d->line[i].name);
    }
    d->n_line -= (size_t)n;
    memmove(d->line, d->line + n, d->n_line * sizeof *d->line);
    size_t kept = 0;
    for (size_t i = 0; i < d->n_target; i++) {
        if (d->target[i].at >= n) {
            d->target[i].at -= n;
            d->target[kept++] = d->target[i];
        } else {
            free(d->target[i].name);
        }
    }
    d->n_target = kept;
    d->regen.doser = index_cut(d->regen.doser, n);
    d->regen.enable_at = index_cut(d->regen.enable_at, n);
    d->regen.hold_at = index_cut(d->regen.hold_at, n);
    emb_replay_note(notes, "no inlet temperature in the log: '%.60s' drives the line from '%s' on; "
                    "the %d element%s ahead of it are left out",
                    inlet->name, d->line[0].name, n, n == 1 ? "" : "s");
    return EMB_OK;
}

/* Mass flow of the exhaust at row i. */
static double flow_at(const struct emb_log *log, size_t i)
{
    const struct emb_log_column *flow = emb_log_find(log, EMB_LOG_FLOW);
    const struct emb_log_column *air = emb_log_find(log, EMB_LOG_AIR);
    const struct emb_log_column *fuel = emb_log_find(log, EMB_LOG_FUEL);
    if (flow != NULL) {
        return flow->v[i];
    }
    /* without a fuel signal: air over fuel of 40, between idle and load, judgement */
    return fuel != NULL ? air->v[i] + fuel->v[i] : air->v[i] * (1.0 + 1.0 / 40.0);
}

static enum emb_status flow_check(const struct emb_case *c, const struct emb_log *log,
                                  struct emb_replay *notes, struct emb_err *err)
{
    const struct emb_log_column *speed = emb_log_find(log, EMB_LOG_SPEED);
    if (emb_log_find(log, EMB_LOG_FLOW) == NULL) {
        if (emb_log_find(log, EMB_LOG_AIR) == NULL) {
            return emb_fail(err, EMB_ERR_CONFIG, "log",
                            "holds no exhaust flow and no intake air flow; one of them has to "
                            "drive the line");
        }
        emb_replay_note(notes, "exhaust flow taken as intake air plus %s",
                        emb_log_find(log, EMB_LOG_FUEL) != NULL ? "fuel"
                                                                : "2.5 % of it as fuel");
    }
    if (speed == NULL || c->source != EMB_SOURCE_ENGINE) {
        return EMB_OK;
    }
    double got = 0.0, want = 0.0;
    for (size_t i = 0; i < log->n; i++) {
        got += flow_at(log, i);
        /* four strokes; dry air 287 J/(kg K) */
        want += c->engine.volumetric_efficiency * c->engine.displacement * speed->v[i] /
                (4.0 * 3.14159265358979323846) * c->ambient.pressure /
                (287.0 * (c->ambient.temperature + c->engine.charge_temperature_rise));
    }
    if (got < 0.15 * want || got > 6.0 * want) { /* throttle, EGR and boost stay within: judgement */
        return emb_fail(err, EMB_ERR_CONFIG, "log",
                        "the logged flow is %.3g times what an engine of %.1f L breathes at the "
                        "logged speed; is the unit of flow or speed right?",
                        got / want, 1e3 * c->engine.displacement);
    }
    return EMB_OK;
}

/* Rows at least `step` apart, each the mean of what lies between. Columns flow, temperature, dose. */
static enum emb_status trace_make(const struct emb_log *log, const double *inlet,
                                  const double *dose, double step, struct emb_trace *out,
                                  struct emb_err *err)
{
    const size_t k = dose != NULL ? 3 : 2;
    out->t = calloc(log->n, sizeof *out->t);
    out->v = calloc(log->n * k, sizeof *out->v);
    if (out->t == NULL || out->v == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "log", "out of memory");
    }
    double last = NAN, t_last = 0.0;
    for (size_t i = 0; i < log->n; i++) { /* a sensor that drives may pause only for a moment */
        t_last = isnan(inlet[i]) ? t_last : log->t[i];
        if (log->t[i] - t_last > 60.0) {
            return emb_fail(err, EMB_ERR_CONFIG, "log",
                            "line %u: the temperature that drives the line has no value for more "
                            "than 60 s; cut the log there",
                            log->line[i]);
        }
        last = isnan(last) ? inlet[i] : last;
    }
    out->n_col = k;
    for (size_t i = 0, next = 0; i < log->n; i = next) {
        double *v = out->v + k * out->n;
        for (next = i; next < log->n && (next == i || log->t[next] < log->t[i] + step); next++) {
            v[0] += fmax(flow_at(log, next), 1e-5);
            last = isnan(inlet[next]) ? last : inlet[next];
            v[1] += last;
            out->t[out->n] += log->t[next];
            if (dose != NULL) {
                v[2] += fmax(dose[next], 0.0);
            }
        }
        const double rows = (double)(next - i);
        for (size_t j = 0; j < k; j++) {
            v[j] /= rows;
        }
        out->t[out->n++] /= rows;
    }
    out->t[0] = 0.0;
    out->t[out->n - 1] = log->t[log->n - 1];
    return EMB_OK;
}

/* What the engine of the case breathes out at its first phase, as the composition of the stream. */
static void composition_take(const struct emb_case *c, struct emb_case *d,
                             struct emb_replay *notes)
{
    struct emb_duty duty;
    struct emb_piece piece;
    struct emb_engine_out out;
    emb_duty_begin(&duty, c);
    if (c->source != EMB_SOURCE_ENGINE || !emb_duty_next(&duty, &piece)) {
        return;
    }
    emb_engine_eval(&c->engine, &c->ambient, piece.u0, c->engine.warm_temperature, 0.0, &out);
    const double moles = emb_gas_moles(&out.gas), mass = emb_gas_mass(&out.gas);
    double flow = 0.0;
    for (int k = 0; k < EMB_NGAS; k++) {
        d->stream.x[k] = out.gas.n[k] / moles;
    }
    for (size_t i = 0; i < d->recording.n; i++) {
        flow += d->recording.v[i * d->recording.n_col] / (double)d->recording.n;
    }
    d->stream.soot = out.gas.n[EMB_SOOT] * emb_species_mass(EMB_SOOT) * flow / mass;
    emb_replay_note(notes, "composition of the exhaust: the engine of the case, warm, at the start "
                    "of its first phase; the log does not say");
}

static int by_value(const void *a, const void *b)
{
    const double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

/* The first reading of every temperature sensor, sorted. */
static size_t first_readings(const struct emb_log *log, double first[EMB_LOG_MAX_COLUMNS])
{
    size_t n = 0;
    for (size_t k = 0; k < log->n_column; k++) {
        const struct emb_log_column *c = &log->column[k];
        size_t i = 0;
        if (c->role != EMB_LOG_READING || strcmp(c->unit, "K") != 0) {
            continue;
        }
        while (i < log->n && isnan(c->v[i])) {
            i++;
        }
        if (i < log->n) {
            first[n++] = c->v[i];
        }
    }
    qsort(first, n, sizeof *first, by_value);
    return n;
}

/* A soaked line starts as its sensors say, unless the case says nearly the same: a single reading
 * is noise, and one sensor may be off. 10 K and 40 K: judgement. */
static void start_take(struct emb_case *d, const struct emb_log *log, struct emb_replay *notes)
{
    double first[EMB_LOG_MAX_COLUMNS];
    const size_t n = first_readings(log, first);
    const double mid = n > 0 ? 0.5 * (first[n / 2] + first[(n - 1) / 2]) : d->start_temperature;
    const double spread = n > 0 ? first[n - 1] - first[0] : 0.0;
    if (spread > 40.0) {
        emb_replay_note(notes, "the line was not soaked when the log began (%.0f to %.0f °C, %.0f "
                        "to %.0f °F); all parts start at %.0f °C (%.0f °F) as the case says, so "
                        "the first minutes cannot agree",
                        emb_degC(first[0]), emb_degC(first[n - 1]), emb_degF(first[0]),
                        emb_degF(first[n - 1]), emb_degC(d->start_temperature),
                        emb_degF(d->start_temperature));
    } else if (fabs(mid - d->start_temperature) > 10.0) {
        d->start_temperature = mid;
        emb_replay_note(notes, "all parts start at %.0f °C (%.0f °F), as the sensors read",
                        emb_degC(mid), emb_degF(mid));
    }
}

static enum emb_status duty_make(struct emb_case *d, struct emb_err *err)
{
    struct emb_phase *p = calloc(1, sizeof *p);
    char *name = malloc(sizeof "recorded");
    if (p == NULL || name == NULL) {
        free(p);
        free(name);
        return emb_fail(err, EMB_ERR_NOMEM, "log", "out of memory");
    }
    memcpy(name, "recorded", sizeof "recorded");
    for (size_t i = 0; i < d->n_duty; i++) {
        free(d->duty[i].name);
        free(d->duty[i].cycle);
        free(d->duty[i].trace.t);
        free(d->duty[i].trace.v);
    }
    free(d->duty);
    *p = (struct emb_phase){.name = name,
                            .mode = EMB_PHASE_RECORDED,
                            .duration = NAN,
                            .repeat = 1,
                            .speed = NAN,
                            .levers = {NAN, NAN, NAN, NAN, NAN, NAN}};
    d->duty = p;
    d->n_duty = 1;
    d->duty_repeat = 1;
    d->source = EMB_SOURCE_RECORDED;
    return EMB_OK;
}

static const double *dose_take(struct emb_case *d, const struct emb_log *log,
                               struct emb_replay *notes)
{
    const struct emb_log_column *dose = emb_log_find(log, EMB_LOG_DOSE);
    bool doser = false;
    for (size_t i = 0; i < d->n_line; i++) {
        doser = doser || d->line[i].kind == EMB_DOSER;
    }
    if (doser && dose == NULL) {
        emb_replay_note(notes, "the log holds no dosed fuel: the comparison holds only while none "
                        "was dosed");
    } else if (!doser && dose != NULL) {
        emb_replay_note(notes, "'%.60s' is left out: this part of the line has no fuel doser",
                        dose->name);
    }
    d->regen.present = false; /* the vehicle's own control has already decided */
    return doser && dose != NULL ? dose->v : NULL;
}

static void ambient_take(struct emb_case *d, const struct emb_log *log, struct emb_replay *notes)
{
    const struct emb_log_column *a = emb_log_find(log, EMB_LOG_AMBIENT);
    double sum = 0.0, n = 0.0;
    for (size_t i = 0; a != NULL && i < log->n; i++) {
        sum += isnan(a->v[i]) ? 0.0 : a->v[i];
        n += !isnan(a->v[i]);
    }
    if (n > 0.0) {
        d->ambient.temperature = sum / n;
        emb_replay_note(notes, "ambient temperature from the log: %.0f °C (%.0f °F) on average",
                        emb_degC(sum / n), emb_degF(sum / n));
    }
}

enum emb_status emb_replay_case(const struct emb_case *c, const struct emb_log *log, double step,
                                struct emb_case *out, struct emb_replay *notes,
                                struct emb_err *err)
{
    const struct emb_log_column *inlet = inlet_find(c, log);
    enum emb_status st = flow_check(c, log, notes, err);
    *out = (struct emb_case){0};
    if (st == EMB_OK && inlet == NULL) {
        st = emb_fail(err, EMB_ERR_CONFIG, "log", "holds no gas temperature that could drive the line");
    }
    st = st == EMB_OK ? emb_case_copy(c, out, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    ambient_take(out, log, notes);
    start_take(out, log, notes);
    if (inlet->role == EMB_LOG_READING) {
        st = line_cut(out, inlet, notes, err);
    }
    free(out->recording.t);
    free(out->recording.v);
    out->recording = (struct emb_trace){0};
    st = st == EMB_OK ? duty_make(out, err) : st;
    if (st == EMB_OK) {
        st = trace_make(log, inlet->v, dose_take(out, log, notes), step, &out->recording, err);
    }
    if (st == EMB_OK) {
        composition_take(c, out, notes);
        out->output_interval = fmax(1.0, ceil(log->t[log->n - 1] / 2000.0));
    } else {
        emb_case_free(out);
    }
    return st;
}
