/* Walks the phases: each call yields one linear piece of the inputs. */
#include "emberpipe/duty.h"
#include "emberpipe/engine.h"

#include <math.h>
#include <string.h>

static double lever(double v, double unset)
{
    return isnan(v) ? unset : v;
}

static const struct emb_trace *trace_of(const struct emb_case *c, const struct emb_phase *p)
{
    switch (p->mode) {
    case EMB_PHASE_ROAD_CYCLE:
    case EMB_PHASE_ENGINE_CYCLE:
        return &p->trace;
    case EMB_PHASE_RECORDED:
        return &c->recording;
    case EMB_PHASE_ENGINE:
    case EMB_PHASE_ROAD:
    case EMB_PHASE_STREAM:
        return NULL;
    }
    return NULL;
}

static double phase_length(const struct emb_case *c, const struct emb_phase *p)
{
    const struct emb_trace *t = trace_of(c, p);
    if (t == NULL || t->n < 2) {
        return p->duration;
    }
    const double whole = t->t[t->n - 1];
    return isnan(p->duration) ? whole : fmin(p->duration, whole);
}

double emb_duty_length(const struct emb_case *c)
{
    double sum = 0.0;
    for (size_t i = 0; i < c->n_duty; i++) {
        sum += phase_length(c, &c->duty[i]) * c->duty[i].repeat;
    }
    return sum * c->duty_repeat;
}

void emb_duty_begin(struct emb_duty *d, const struct emb_case *c)
{
    memset(d, 0, sizeof *d);
    d->c = c;
}

static double air_along(const struct emb_case *c, double road_speed) /* [m/s] */
{
    return fmax(c->ambient.wind, c->ambient.underbody * road_speed);
}

static void common_inputs(const struct emb_case *c, const struct emb_phase *p, double *u)
{
    const struct emb_levers *l = &p->levers;
    memset(u, 0, EMB_NINPUT * sizeof *u);
    u[EMB_U_THROTTLE] = lever(l->throttle, 0.0);
    u[EMB_U_EGR] = lever(l->egr, 1.0);
    u[EMB_U_BRAKE] = lever(l->brake, 0.0);
    u[EMB_U_CLOSE_POST] = lever(l->close_post, 0.0);
    u[EMB_U_LATE_POST] = lever(l->late_post, 0.0);
    u[EMB_U_AIR] = air_along(c, lever(p->road_speed, 0.0));
    const struct emb_stream_cfg *s = &c->stream, *o = &p->stream;
    const bool over = p->mode == EMB_PHASE_STREAM;
    u[EMB_U_FLOW] = over ? lever(o->flow, s->flow) : s->flow;
    u[EMB_U_TEMPERATURE] = over ? lever(o->temperature, s->temperature) : s->temperature;
    u[EMB_U_SOOT] = over ? lever(o->soot, s->soot) : s->soot;
    for (int k = 0; k < EMB_NGAS; k++) {
        u[EMB_U_X + k] = over ? lever(o->x[k], s->x[k]) : s->x[k];
    }
}

static const double standing = 0.1; /* [m/s] slower is parked; as in the road load */

static void at_road(const struct emb_case *c, double v, double accel, double grade, double *u)
{
    emb_road_load(&c->vehicle, &c->engine, v, accel, grade, &u[EMB_U_SPEED], &u[EMB_U_TORQUE]);
    u[EMB_U_AIR] = air_along(c, v);
}

/* Inputs at one row of a cycle. */
static void at_row(const struct emb_case *c, const struct emb_phase *p, const struct emb_trace *t,
                   size_t i, double *u)
{
    const double *v = t->v + i * t->n_col;
    if (p->mode == EMB_PHASE_ROAD_CYCLE) {
        const size_t a = i > 0 ? i - 1 : 0, b = i + 1 < t->n ? i + 1 : i;
        const double accel = (t->v[b * t->n_col] - t->v[a * t->n_col]) / (t->t[b] - t->t[a]);
        at_road(c, v[0], accel, t->n_col > 1 ? v[1] : 0.0, u);
    } else if (p->mode == EMB_PHASE_ENGINE_CYCLE) {
        /* idle-to-rated scaling instead of the regulation's n_lo/n_hi/n_pref points: a
         * simplification of UN GTR No. 4 */
        const struct emb_engine_cfg *e = &c->engine;
        u[EMB_U_SPEED] = e->idle_speed + fmax(v[0], 0.0) * (e->rated_speed - e->idle_speed);
        u[EMB_U_TORQUE] = v[1] < 0.0 ? -emb_engine_drag_torque(e, u[EMB_U_SPEED])
                                     : v[1] * emb_engine_torque_limit(e, u[EMB_U_SPEED]);
    } else {
        u[EMB_U_FLOW] = v[0];
        u[EMB_U_TEMPERATURE] = v[1];
        if (t->n_col > 2) { /* fuel that the vehicle commanded, not our own control */
            u[EMB_U_DOSE] = v[2];
        }
    }
}

/* Only a standing vehicle may idle faster; the lever never slows the engine. */
static void raise_idle(const struct emb_levers *l, double *u)
{
    u[EMB_U_SPEED] = fmax(u[EMB_U_SPEED], lever(l->idle_speed, 0.0));
}

static void at_phase(const struct emb_case *c, const struct emb_phase *p, double *u)
{
    const struct emb_engine_cfg *e = &c->engine;
    if (p->mode == EMB_PHASE_ROAD) {
        at_road(c, p->road_speed, 0.0, p->grade, u);
        if (p->road_speed < standing) {
            raise_idle(&p->levers, u);
        }
    } else if (p->mode == EMB_PHASE_ENGINE && c->source == EMB_SOURCE_ENGINE) {
        u[EMB_U_SPEED] = lever(p->speed, lever(p->levers.idle_speed, e->idle_speed));
        u[EMB_U_TORQUE] = lever(p->load, 0.0) * emb_engine_torque_limit(e, u[EMB_U_SPEED]);
    }
}

/* From one row to the next, or to where the phase is cut off between them. */
static void row_piece(struct emb_duty *d, const struct emb_phase *p, const struct emb_trace *t,
                      struct emb_piece *o)
{
    const double from = t->t[d->row], step = t->t[d->row + 1] - from;  /* [s] */
    const double f = fmin((phase_length(d->c, p) - from) / step, 1.0); /* [-] */
    o->t0 = d->t;
    o->t1 = d->t + f * step;
    at_row(d->c, p, t, d->row, o->u0);
    at_row(d->c, p, t, d->row + 1, o->u1);
    for (int i = 0; f < 1.0 && i < EMB_NINPUT; i++) {
        o->u1[i] = o->u0[i] + f * (o->u1[i] - o->u0[i]);
    }
    o->parked = p->mode == EMB_PHASE_ROAD_CYCLE && t->v[d->row * t->n_col] < standing &&
                t->v[(d->row + 1) * t->n_col] < standing;
    if (o->parked) {
        raise_idle(&p->levers, o->u0);
        raise_idle(&p->levers, o->u1);
    }
    d->row++;
}

static void next_phase(struct emb_duty *d)
{
    d->row = 0;
    d->passes++;
    if (++d->repeat >= d->c->duty[d->phase].repeat) {
        d->repeat = 0;
        if (++d->phase == d->c->n_duty) {
            d->phase = 0;
            d->round++;
        }
    }
}

bool emb_duty_next(struct emb_duty *d, struct emb_piece *o)
{
    if (d->round >= d->c->duty_repeat || d->c->n_duty == 0) {
        return false;
    }
    const struct emb_phase *p = &d->c->duty[d->phase];
    const struct emb_trace *t = trace_of(d->c, p);
    memset(o, 0, sizeof *o);
    o->phase = d->phase;
    o->pass = d->passes;
    o->regenerate = p->regenerate;
    common_inputs(d->c, p, o->u0);
    memcpy(o->u1, o->u0, sizeof o->u1);
    if (t != NULL && t->n >= 2) {
        row_piece(d, p, t, o);
        if (d->row + 1 >= t->n || t->t[d->row] >= phase_length(d->c, p) * (1.0 - 1e-12)) {
            next_phase(d);
        }
    } else {
        at_phase(d->c, p, o->u0);
        memcpy(o->u1, o->u0, sizeof o->u1);
        o->t0 = d->t;
        o->t1 = d->t + p->duration;
        o->parked = p->mode != EMB_PHASE_ROAD || p->road_speed < standing;
        next_phase(d);
    }
    for (int i = 0; i < EMB_NINPUT; i++) {
        o->jump =
            o->jump || !d->started || fabs(o->u0[i] - d->last[i]) > 1e-9 * (1.0 + fabs(d->last[i]));
    }
    memcpy(d->last, o->u1, sizeof d->last);
    d->started = true;
    d->t = o->t1;
    return true;
}
