/* look.c - evaluate the line at one moment: inputs, march, observations; and the callbacks' view of
 * a target. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/inputs.h"
#include "sim.h"

static void overlay(const struct emb_levers *l, bool parked, double *u)
{
    const double v[5] = {l->throttle, l->egr, l->brake, l->close_post, l->late_post};
    static const int slot[5] = {EMB_U_THROTTLE, EMB_U_EGR, EMB_U_BRAKE, EMB_U_CLOSE_POST,
                                EMB_U_LATE_POST};
    for (int i = 0; i < 5; i++) {
        if (!isnan(v[i])) {
            u[slot[i]] = v[i];
        }
    }
    if (parked && !isnan(l->idle_speed)) {
        u[EMB_U_SPEED] = fmax(u[EMB_U_SPEED], l->idle_speed);
    }
}

void emb_sim_moment(const struct emb_sim *s, double t, struct emb_moment *at)
{
    const struct emb_piece *p = &s->piece;
    const double f = fmin(fmax((t - p->t0) / (p->t1 - p->t0), 0.0), 1.0);
    memset(at, 0, sizeof *at);
    for (int i = 0; i < EMB_NINPUT; i++) {
        at->u[i] = p->u0[i] + f * (p->u1[i] - p->u0[i]);
    }
    at->back_pressure = s->back_pressure;
    at->hint = s->memory->hint;
    at->close = s->exact ? 0.0 : s->close;
    if (s->levers != NULL) {
        overlay(s->levers, p->parked, at->u);
    }
    emb_sim_loops_apply(s, t, at->u);
    if (s->c->regen.present) {
        const double rate = emb_stretch_value(&s->dose, t); /* [kg/s] */
        if (s->c->regen.doser < 0) {
            at->u[EMB_U_LATE_POST] += rate;
        } else {
            at->u[EMB_U_DOSE + s->line.slot[s->c->regen.doser].channel] = rate;
        }
    }
}

void emb_sim_forget(struct emb_sim *s)
{
    s->now.marched = s->now.corrected = s->now.seen = false;
}

int emb_sim_march(struct emb_sim *s, double t, const double *y, double *dydt)
{
    struct emb_moment at;
    emb_sim_forget(s);
    emb_sim_moment(s, t, &at);
    emb_memory_predict(s->memory, t);
    const int rc = emb_line_march(&s->line, &at, y, dydt, &s->now.march);
    s->now.marched = rc == 0;
    s->now.march_t = t;
    memcpy(s->now.march_y, y, s->line.n_state * sizeof *y);
    return rc;
}

bool emb_sim_marched(const struct emb_sim *s, double t, const double *y)
{
    bool near = s->now.marched && t == s->now.march_t;
    for (size_t i = 0; near && i < s->line.n_state; i++) {
        const double off = s->exact ? 0.0 : s->c->rtol * fabs(y[i]) + s->atol[i];
        near = fabs(y[i] - s->now.march_y[i]) <= off;
    }
    return near;
}

int emb_sim_look(struct emb_sim *s, double t, const double *y)
{
    const size_t bytes = s->line.n_state * sizeof *y;
    if (s->now.seen && t == s->now.seen_t && memcmp(y, s->now.seen_y, bytes) == 0) {
        return 0;
    }
    if (!emb_sim_marched(s, t, y)) {
        const int rc = emb_sim_march(s, t, y, NULL);
        if (rc != 0) {
            return rc;
        }
    }
    struct emb_moment at;
    emb_sim_moment(s, t, &at);
    emb_line_observe(&s->line, &at, y, &s->now.march, s->now.observed);
    memcpy(s->now.seen_y, y, bytes);
    s->now.seen_t = t;
    s->now.seen = true;
    return 0;
}

void emb_sim_aside(struct emb_sim *s)
{
    const struct emb_view was = s->now;
    s->now = s->aside;
    s->aside = was;
}

size_t emb_sim_observation(const struct emb_sim *s, size_t slot, const char *name)
{
    const struct emb_component_type *t = s->line.slot[slot].type;
    for (size_t i = 0; i < t->n_observation; i++) {
        if (strcmp(t->observation[i].name, name) == 0) {
            return s->line.slot[slot].observation + i;
        }
    }
    return SIZE_MAX;
}

static size_t target_spot(const struct emb_sim *s, const struct emb_target *g)
{
    static const char *const name[] = {
        "mean_temperature", "soot_share", "conversion_co", "conversion_hc",
        "conversion_nox",   "rate",       "rate",          "conversion_nox"};
    const size_t slot = (size_t)g->at;
    const bool reading = g->quantity == EMB_Q_TEMPERATURE && s->c->line[slot].kind == EMB_SENSOR;
    return emb_sim_observation(s, slot, reading ? "reading" : name[g->quantity]);
}

int emb_sim_find_spots(struct emb_sim *s)
{
    static const char *const name[EMB_N_SPOTS] = {"mean_temperature", "hottest",    "hottest_at",
                                                  "pressure_drop",    "soot_share", "channel_open",
                                                  "coverage"};
    s->target_at = calloc(s->c->n_target + 1, sizeof *s->target_at);
    s->spot = calloc(s->line.n_slot + 1, sizeof *s->spot);
    if (s->target_at == NULL || s->spot == NULL) {
        return -1;
    }
    for (size_t i = 0; i < s->c->n_target; i++) {
        s->target_at[i] = target_spot(s, &s->c->target[i]);
    }
    for (size_t i = 0; i < s->line.n_slot; i++) {
        for (int k = 0; k < EMB_N_SPOTS; k++) {
            s->spot[i][k] = emb_sim_observation(s, i, name[k]);
        }
    }
    return 0;
}

double emb_sim_seen(const struct emb_sim *s, size_t slot, enum emb_spot spot)
{
    const size_t i = s->spot[slot][spot];
    return i == SIZE_MAX ? NAN : s->now.observed[i];
}

double emb_sim_target_value(const struct emb_sim *s, const struct emb_target *g)
{
    const size_t i = s->target_at[g - s->c->target], slot = (size_t)g->at;
    if (g->quantity == EMB_Q_NOX_CHECK) {
        /* over 0.1 K, so that the value is continuous for the search of its crossing */
        const double T = emb_sim_seen(s, slot, EMB_SPOT_MEAN);
        return s->now.observed[i] * fmin(fmax((T - g->while_above) / 0.1, 0.0), 1.0);
    }
    return i == SIZE_MAX ? s->now.march.slot[slot].out.T : s->now.observed[i];
}

double emb_sim_hottest(const struct emb_sim *s, size_t slot)
{
    const double hottest = emb_sim_seen(s, slot, EMB_SPOT_HOTTEST);
    return fmax(isnan(hottest) ? emb_sim_seen(s, slot, EMB_SPOT_MEAN) : hottest, 0.0);
}

double emb_sim_back_pressure(const struct emb_sim *s)
{
    double dp = 0.0; /* [Pa] */
    for (size_t i = 0; i < s->line.n_slot; i++) {
        const double drop = emb_sim_seen(s, i, EMB_SPOT_DROP);
        dp += isnan(drop) ? 0.0 : drop;
    }
    return dp;
}
