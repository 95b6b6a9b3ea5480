/* run.c - the segment loop: make the next linear piece of the inputs, restart if it begins with a
 * jump, step to its end or to the next control sample, watch targets, record rows. */
#include "emberpipe/run.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "emberpipe/inputs.h"
#include "sim.h"
#include "twins.h"

/* A round interval that gives some 600 rows. */
static double choose_interval(double t_end)
{
    static const double nice[] = {0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600};
    for (size_t i = 0; i < sizeof nice / sizeof *nice; i++) {
        if (t_end / nice[i] <= 1000.0) {
            return nice[i];
        }
    }
    return 600.0;
}

const double *emb_sim_state(const struct emb_sim *s)
{
    return s->twin_y != NULL ? s->twin_y : emb_integrator_state(s->in);
}

const double *emb_sim_quads(const struct emb_sim *s)
{
    return s->twin_q != NULL ? s->twin_q : emb_integrator_quads(s->in);
}

/* The engine answers to the back pressure, in steps of 20 Pa: 0.02 % of the air, which spares the
 * integrator most jumps and is not felt. What the line was just seen to do stays as seen: the
 * answer comes after. */
static void feel_back_pressure(struct emb_sim *s)
{
    const double dp = emb_sim_back_pressure(s);
    if (fabs(dp - s->back_pressure) > 20.0) {
        s->back_pressure = dp;
        emb_twins_feel(s);
    }
}

/* After a step: targets on or off, best values, peaks. A root stop lies on the threshold, so
 * direction decides there. */
static void watch(struct emb_sim *s, double t, const int *crossed)
{
    size_t left = 0;
    for (size_t i = 0; i < s->c->n_target; i++) {
        const struct emb_target *g = &s->c->target[i];
        struct emb_track *k = &s->track[i];
        const double v = emb_sim_target_value(s, g), d = g->below ? g->value - v : v - g->value;
        bool on = d > 0.0;
        if (crossed != NULL && crossed[i] != 0) {
            on = g->below ? crossed[i] < 0 : crossed[i] > 0;
        }
        if (g->below ? v < k->best : v > k->best) {
            k->best = v;
            k->t_best = t;
        }
        if (on && !k->on) {
            k->since = t;
            emb_sim_note(s, t, "target '%s': threshold crossed", g->name);
        }
        if (on || k->on) {
            k->longest = fmax(k->longest, t - k->since);
        }
        if ((on || k->on) && isnan(k->reached) && t - k->since >= g->hold) {
            k->reached = k->since + g->hold;
        }
        k->on = on;
        left += isnan(k->reached) ? 1 : 0;
    }
    s->decided = s->verdicts_only && left == 0;
    for (size_t i = 0; i < s->line.n_slot; i++) {
        const double v =
            fmax(emb_sim_hottest(s, i),
                 s->spot[i][EMB_SPOT_MEAN] == SIZE_MAX ? s->now.march.slot[i].out.T : 0.0);
        if (v > s->peak[i]) {
            s->peak[i] = v;
            s->t_peak[i] = t;
        }
    }
}

static int record_row(struct emb_sim *s, double t, const double *y)
{
    return emb_sim_look(s, t, y) != 0 || emb_sim_record(s, t) != 0 || emb_twins_record(s, t) != 0;
}

static int record_within(struct emb_sim *s, double t)
{
    emb_integrator_interpolate(s->in, t, s->scratch);
    emb_sim_aside(s);
    emb_sim_forget(s);
    const int rc = record_row(s, t, s->scratch);
    emb_sim_aside(s);
    return rc;
}

static enum emb_status record_until(struct emb_sim *s, double t, struct emb_err *err)
{
    while (s->next_row <= t && !s->verdicts_only) {
        const double at = s->next_row;
        if ((at < t ? record_within(s, at) : record_row(s, t, emb_sim_state(s))) != 0) {
            return emb_fail(err, EMB_ERR_NOMEM, "run", "cannot record a row at t = %g s", at);
        }
        s->next_row = at + s->interval;
    }
    return EMB_OK;
}

/* On to the end of the piece, or where a control looks next. */
static enum emb_status advance(struct emb_sim *s, const struct emb_hooks *hooks, double t_end,
                               struct emb_err *err)
{
    enum emb_stop why = EMB_STOP_STEP;
    double t = emb_integrator_time(s->in); /* [s] */
    do {
        const double stop = fmin(s->piece.t1, fmax(emb_sim_next_look(s), t + 1e-6)); /* [s] */
        enum emb_status st = emb_integrator_step(s->in, stop, &why, err);
        if (st != EMB_OK) {
            return st;
        }
        t = emb_integrator_time(s->in);
        if (emb_sim_look(s, t, emb_sim_state(s)) != 0) {
            return emb_fail(err, EMB_ERR_SOLVER, "", "state out of range at t = %g s", t);
        }
        if ((st = record_until(s, t, err)) != EMB_OK) {
            return st;
        }
        const int *crossed = why == EMB_STOP_ROOT ? emb_integrator_roots_found(s->in) : NULL;
        watch(s, t, crossed);
        emb_twins_watch(s, t, crossed);
        if ((st = emb_sim_limits(s, t, err)) != EMB_OK) {
            return st;
        }
        feel_back_pressure(s);
        emb_sim_control_watch(s, t);
        if (hooks != NULL && hooks->progress != NULL &&
            hooks->progress(t, t_end, hooks->user) != 0) {
            return emb_fail(err, EMB_ERR_SOLVER, "", "cancelled at t = %g s", t);
        }
    } while (why != EMB_STOP_TIME && !s->decided && t < emb_sim_next_look(s));
    return EMB_OK;
}

static void span_begin(struct emb_sim *s, const struct emb_piece *p, size_t *phase, size_t *pass)
{
    struct emb_result *r = s->out;
    if (r->n_span > 0 && *phase == p->phase && *pass == p->pass) {
        r->span[r->n_span - 1].t1 = p->t1;
        return;
    }
    *phase = p->phase;
    *pass = p->pass;
    if (r->n_span >= 2000) {
        return;
    }
    struct emb_span *n = emb_result_grow(r->span, &r->n_span, sizeof *n);
    if (n != NULL) {
        r->span = n;
        n += r->n_span - 1;
        const char *name = s->c->duty[p->phase].name;
        snprintf(n->name, sizeof n->name, "%s", name != NULL ? name : "phase");
        n->t0 = p->t0;
        n->t1 = p->t1;
    }
}

static enum emb_status run_piece(struct emb_sim *s, const struct emb_hooks *hooks, double t_end,
                                 struct emb_err *err)
{
    bool jump = s->piece.jump;
    double t = s->piece.t0; /* [s] */
    if (jump || s->levers != NULL) {
        emb_sim_forget(s);
    }
    emb_sim_stretches_break(s);
    while (t < s->piece.t1 && !s->decided) {
        emb_sim_look(s, t, emb_sim_state(s));
        feel_back_pressure(s);
        emb_twins_before(s);
        emb_sim_control(s, t, &jump);
        emb_sim_loops_sample(s, t, jump);
        emb_twins_control(s, t, jump);
        enum emb_status st = EMB_OK;
        if (jump) { /* the same t and y, but other inputs */
            emb_sim_forget(s);
            emb_memory_jump(s->memory);
            emb_secant_forget(s->secant);
        }
        if (jump && t > 0.0) {
            st = emb_integrator_restart(s->in, err);
        }
        jump = false;
        if (st == EMB_OK) {
            st = advance(s, hooks, t_end, err);
        }
        if (st != EMB_OK) {
            return st;
        }
        t = emb_integrator_time(s->in);
    }
    return EMB_OK;
}

static enum emb_status run_all(struct emb_sim *s, const struct emb_hooks *hooks,
                               struct emb_err *err)
{
    struct emb_duty duty;
    const double t_end = emb_duty_length(s->c);
    size_t phase = 0, pass = 0;
    enum emb_status st = EMB_OK;
    s->interval = s->c->output_interval > 0.0 ? s->c->output_interval : choose_interval(t_end);
    emb_duty_begin(&duty, s->c);
    while (st == EMB_OK && !s->decided && emb_duty_next(&duty, &s->piece)) {
        emb_twins_piece(s);
        if (s->in == NULL) {
            st = emb_integrator_new(&s->ode, 0.0, s->y0, &s->in, err);
            if (st == EMB_OK && emb_sim_look(s, 0.0, s->y0) == 0) {
                st = record_until(s, 0.0, err);
            }
        }
        if (st == EMB_OK) {
            span_begin(s, &s->piece, &phase, &pass);
            st = run_piece(s, hooks, t_end, err);
        }
    }
    return st;
}

static void finish(struct emb_sim *s, const struct emb_err *err, enum emb_status st)
{
    struct emb_result *r = s->out;
    r->t_end = emb_integrator_time(s->in);
    r->complete = (st == EMB_OK);
    if (st != EMB_OK && err != NULL) {
        snprintf(r->message, sizeof r->message, "%s", err->msg);
    }
    r->counters = emb_integrator_counters(s->in);
    r->method = s->ode.method;
    r->book_limit = r->method == EMB_METHOD_TRAPEZOID ? 3e-4 : 1e-6; /* of energy, see README */
    emb_sim_look(s, r->t_end, emb_sim_state(s));
    emb_sim_books(s);
    emb_sim_verdicts(s);
    emb_twins_finish(s);
    if (!s->verdicts_only) {
        emb_sim_warnings(s);
    }
}

static double seconds_now(void)
{
    struct timespec ts;
    clock_gettime(CLOCK_MONOTONIC, &ts);
    return (double)ts.tv_sec + 1e-9 * (double)ts.tv_nsec;
}

struct along { /* neighbours; n 0: none */
    struct emb_neighbour *nb;
    size_t n;
    double nudge; /* [-] */
};

static enum emb_status run(const struct emb_case *c, bool verdicts_only, const struct along *along,
                           const struct emb_hooks *hooks, struct emb_result *out,
                           struct emb_err *err)
{
    struct emb_sim *s = calloc(1, sizeof *s);
    struct emb_err own = {EMB_OK, "", ""};
    const double begin = seconds_now();
    memset(out, 0, sizeof *out);
    if (s == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "run", "out of memory");
    }
    s->verdicts_only = verdicts_only;
    snprintf(out->title, sizeof out->title, "%s", c->title != NULL ? c->title : "");
    enum emb_status st = emb_sim_build(s, c, out, &own);
    if (st == EMB_OK && along->n > 0) {
        st = emb_twins_begin(s, along->nb, along->n, along->nudge, &own);
    }
    if (st == EMB_OK) {
        st = run_all(s, hooks, &own);
    }
    if (s->in != NULL) {
        finish(s, &own, st);
    }
    emb_twins_free(s);
    emb_sim_drop(s);
    free(s);
    out->wall_seconds = seconds_now() - begin;
    return st == EMB_OK ? EMB_OK : emb_fail(err, own.status, own.where, "%s", own.msg);
}

enum emb_status emb_run(const struct emb_case *c, const struct emb_hooks *hooks,
                        struct emb_result *out, struct emb_err *err)
{
    return run(c, false, &(struct along){0}, hooks, out, err);
}

enum emb_status emb_run_verdicts(const struct emb_case *c, const struct emb_hooks *hooks,
                                 struct emb_result *out, struct emb_err *err)
{
    return run(c, true, &(struct along){0}, hooks, out, err);
}

enum emb_status emb_run_neighbours(const struct emb_case *c, struct emb_neighbour *nb, size_t n,
                                   double nudge, const struct emb_hooks *hooks,
                                   struct emb_result *out, struct emb_err *err)
{
    return run(c, false, &(struct along){nb, n, nudge}, hooks, out, err);
}
