/* trace.c - straight pieces from the rows of a trace. */
#include "trace.h"

#include <string.h>

#include "emberpipe/engine.h"

double emb_air_along(const struct emb_case *c, double road_speed)
{
    return fmax(c->ambient.wind, c->ambient.underbody * road_speed);
}

void emb_at_road(const struct emb_case *c, double v, double accel, double grade, double *u)
{
    emb_road_load(&c->vehicle, &c->engine, v, accel, grade, &u[EMB_U_SPEED], &u[EMB_U_TORQUE]);
    u[EMB_U_AIR] = emb_air_along(c, v);
}

/* Inputs at one row of a cycle. */
static void at_row(const struct emb_case *c, const struct emb_phase *p, const struct emb_trace *t,
                   size_t i, double *u)
{
    const double *v = t->v + i * t->n_col;
    if (p->mode == EMB_PHASE_ROAD_CYCLE) {
        const size_t a = i > 0 ? i - 1 : 0, b = i + 1 < t->n ? i + 1 : i;
        const double accel = (t->v[b * t->n_col] - t->v[a * t->n_col]) / (t->t[b] - t->t[a]);
        emb_at_road(c, v[0], accel, t->n_col > 1 ? v[1] : 0.0, u);
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

void emb_raise_idle(const struct emb_levers *l, double *u)
{
    u[EMB_U_SPEED] = fmax(u[EMB_U_SPEED], emb_lever(l->idle_speed, 0.0));
}

/* Row that begins the interval in which time `at` [s] lies. */
static size_t row_at(const struct emb_trace *t, double at)
{
    size_t low = 0, high = t->n - 1;
    while (high - low > 1) {
        const size_t middle = (low + high) / 2;
        *(t->t[middle] <= at ? &low : &high) = middle;
    }
    return low;
}

static bool stands(const struct emb_phase *p, const struct emb_trace *t, size_t row)
{
    return p->mode == EMB_PHASE_ROAD_CYCLE && t->v[row * t->n_col] < emb_standing;
}

/* Is input b on the straight line from a to c, to round-off? */
static bool straight(const double *a, const double *b, const double *c, double f)
{
    for (int i = 0; i < EMB_NINPUT; i++) {
        const double on = a[i] + f * (c[i] - a[i]);
        if (fabs(b[i] - on) > 1e-9 * (1.0 + fabs(b[i]))) {
            return false;
        }
    }
    return true;
}

/* From one row as far as the inputs run straight: a day stands still for hours, row by row. */
static double straight_piece(const struct emb_case *c, const struct emb_phase *p,
                             const struct emb_trace *t, size_t row, struct emb_piece *o)
{
    size_t end = row + 1;
    double next[EMB_NINPUT];
    at_row(c, p, t, row, o->u0);
    at_row(c, p, t, end, o->u1);
    memcpy(next, o->u1, sizeof next);
    o->parked = stands(p, t, row) && stands(p, t, end);
    while (end + 1 < t->n && (stands(p, t, end) && stands(p, t, end + 1)) == o->parked) {
        at_row(c, p, t, end + 1, next);
        const double f = (t->t[end] - t->t[row]) / (t->t[end + 1] - t->t[row]); /* [-] */
        if (!straight(o->u0, o->u1, next, f)) {
            break;
        }
        memcpy(o->u1, next, sizeof next);
        end++;
    }
    if (o->parked) {
        emb_raise_idle(&p->levers, o->u0);
        emb_raise_idle(&p->levers, o->u1);
    }
    return t->t[end];
}

double emb_trace_piece(const struct emb_case *c, const struct emb_phase *p,
                       const struct emb_trace *t, double from, double length, struct emb_piece *o)
{
    const size_t row = row_at(t, from);
    const double to = straight_piece(c, p, t, row, o);
    if (to <= length) {
        return to;
    }
    const double f = (length - t->t[row]) / (to - t->t[row]); /* [-] */
    for (int i = 0; i < EMB_NINPUT; i++) {
        o->u1[i] = o->u0[i] + f * (o->u1[i] - o->u0[i]);
    }
    return length;
}
