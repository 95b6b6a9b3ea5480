/* Walks the phases: each call yields one linear piece of the inputs. */
#include "emberpipe/duty.h"
#include "emberpipe/engine.h"
#include "trace.h"

#include <math.h>
#include <string.h>

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

double emb_duty_cycle_length(const struct emb_case *c, double apart)
{
    double sum = 0.0; /* [s] */
    for (size_t i = 0; i < c->n_duty; i++) {
        const struct emb_trace *t = trace_of(c, &c->duty[i]);
        if (t != NULL && t != &c->recording && t->n > 1 &&
            t->t[t->n - 1] - t->t[0] <= apart * (double)(t->n - 1)) {
            sum += phase_length(c, &c->duty[i]) * c->duty[i].repeat;
        }
    }
    return sum * c->duty_repeat;
}

void emb_duty_begin(struct emb_duty *d, const struct emb_case *c)
{
    memset(d, 0, sizeof *d);
    d->c = c;
}

static void common_inputs(const struct emb_case *c, const struct emb_phase *p, double *u)
{
    const struct emb_levers *l = &p->levers;
    memset(u, 0, EMB_NINPUT * sizeof *u);
    u[EMB_U_THROTTLE] = emb_lever(l->throttle, 0.0);
    u[EMB_U_EGR] = emb_lever(l->egr, 1.0);
    u[EMB_U_BRAKE] = emb_lever(l->brake, 0.0);
    u[EMB_U_CLOSE_POST] = emb_lever(l->close_post, 0.0);
    u[EMB_U_LATE_POST] = emb_lever(l->late_post, 0.0);
    u[EMB_U_AIR] = emb_air_along(c, emb_lever(p->road_speed, 0.0));
    const struct emb_stream_cfg *s = &c->stream, *o = &p->stream;
    const bool over = p->mode == EMB_PHASE_STREAM;
    u[EMB_U_FLOW] = over ? emb_lever(o->flow, s->flow) : s->flow;
    u[EMB_U_TEMPERATURE] = over ? emb_lever(o->temperature, s->temperature) : s->temperature;
    u[EMB_U_SOOT] = over ? emb_lever(o->soot, s->soot) : s->soot;
    for (int k = 0; k < EMB_NGAS; k++) {
        u[EMB_U_X + k] = over ? emb_lever(o->x[k], s->x[k]) : s->x[k];
    }
}

static void at_phase(const struct emb_case *c, const struct emb_phase *p, double *u)
{
    const struct emb_engine_cfg *e = &c->engine;
    if (p->mode == EMB_PHASE_ROAD) {
        emb_at_road(c, p->road_speed, 0.0, p->grade, u);
        if (p->road_speed < emb_standing) {
            emb_raise_idle(&p->levers, u);
        }
    } else if (p->mode == EMB_PHASE_ENGINE && c->source == EMB_SOURCE_ENGINE) {
        u[EMB_U_SPEED] = emb_lever(p->speed, emb_lever(p->levers.idle_speed, e->idle_speed));
        u[EMB_U_TORQUE] = emb_lever(p->load, 0.0) * emb_engine_torque_limit(e, u[EMB_U_SPEED]);
    }
}

static void next_phase(struct emb_duty *d)
{
    d->at = 0.0;
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
        const double length = phase_length(d->c, p), from = d->at; /* [s] in the trace */
        d->at = emb_trace_piece(d->c, p, t, from, length, o);
        o->t0 = d->t;
        o->t1 = d->t + d->at - from;
        if (d->at >= length * (1.0 - 1e-12)) {
            next_phase(d);
        }
    } else {
        at_phase(d->c, p, o->u0);
        memcpy(o->u1, o->u0, sizeof o->u1);
        o->t0 = d->t;
        o->t1 = d->t + p->duration;
        o->parked = p->mode != EMB_PHASE_ROAD || p->road_speed < emb_standing;
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
