/* The sequence: warm up, dose when the face is hot enough, hold, stop on soot or time, cool down;
 * give up with a reason. */
#include "emberpipe/regen.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "emberpipe/temperature.h"

static const double fuel_heat = 43.098e6; /* [J/kg] 40 CFR 1036.550 Table 1 */
static const double hysteresis =
    20.0; /* [K] dosing stops this far below the enable temperature: judgement */

void emb_regen_begin(const struct emb_regen_cfg *c, struct emb_regen_state *s, double t)
{
    (void)c;
    memset(s, 0, sizeof *s);
    s->stage = EMB_REGEN_WARMUP;
    s->since = t;
    s->cold_since = NAN;
}

static void enter(struct emb_regen_state *s, enum emb_regen_stage stage, double t)
{
    s->stage = stage;
    s->since = t;
    if (stage != EMB_REGEN_DOSE) {
        s->rate = 0.0;
        s->integral = 0.0;
    }
}

static void give_up(struct emb_regen_state *s, double t)
{
    enter(s, EMB_REGEN_ABORTED, t);
}

static void sample_warmup(const struct emb_regen_cfg *c, const struct emb_regen_signals *in,
                          struct emb_regen_state *s)
{
    s->best_face = fmax(s->best_face, in->face);
    if (in->face >= c->enable_temperature) {
        enter(s, EMB_REGEN_DOSE, in->t);
    } else if (in->t - s->since > c->warmup_limit) {
        snprintf(s->reason, sizeof s->reason,
                 "face gas only %.0f °C (%.0f °F) after %.0f min; dosing needs %.0f °C (%.0f °F)",
                 emb_degC(s->best_face), emb_degF(s->best_face), c->warmup_limit / 60.0,
                 emb_degC(c->enable_temperature), emb_degF(c->enable_temperature));
        give_up(s, in->t);
    }
}

double emb_regen_fuel(const struct emb_regen_signals *in, double dT)
{
    return in->flow * in->cp * dT / fuel_heat;
}

/* Feed-forward from the heat balance, plus a slow integral that may not wind up past the limits. */
static void command_rate(const struct emb_regen_cfg *c, const struct emb_regen_signals *in,
                         struct emb_regen_state *s)
{
    const double error = c->target_temperature - in->hold;                       /* [K] */
    const double forward = emb_regen_fuel(in, c->target_temperature - in->face); /* [kg/s] */
    const double integral = s->integral + c->integral * error * c->sample;       /* [kg/s] */
    const double want = forward + c->gain * error + integral;                    /* [kg/s] */
    /* at a limit the integral may only move back from it */
    if ((want > 0.0 || error > 0.0) && (want < c->max_rate || error < 0.0)) {
        s->integral = integral;
    }
    const double step = c->slew * c->sample; /* [kg/s] */
    const double rate = fmin(fmax(want, 0.0), c->max_rate);
    s->rate = fmin(fmax(rate, s->rate - step), s->rate + step);
}

static void sample_dose(const struct emb_regen_cfg *c, const struct emb_regen_signals *in,
                        struct emb_regen_state *s)
{
    const bool cold = in->face < c->enable_temperature - hysteresis;
    if (!cold) {
        s->cold_since = NAN;
    } else if (isnan(s->cold_since)) {
        s->cold_since = in->t;
    }
    if (in->soot <= c->stop_soot) {
        snprintf(s->reason, sizeof s->reason, "soot is down to %.0f %%", 100.0 * in->soot);
        enter(s, EMB_REGEN_COOLDOWN, in->t);
    } else if (in->t - s->since > c->time_limit) {
        snprintf(s->reason, sizeof s->reason, "time limit of %.0f min, %.0f %% soot left",
                 c->time_limit / 60.0, 100.0 * in->soot);
        enter(s, EMB_REGEN_COOLDOWN, in->t);
    } else if (cold && in->t - s->cold_since > c->fade_time) {
        snprintf(s->reason, sizeof s->reason,
                 "the face cooled to %.0f °C (%.0f °F) and stayed there for %.0f s",
                 emb_degC(in->face), emb_degF(in->face), c->fade_time);
        give_up(s, in->t);
    } else if (cold) {
        s->rate = 0.0; /* at once: fuel on a cold face only wets it */
    } else {
        command_rate(c, in, s);
    }
}

void emb_regen_sample(const struct emb_regen_cfg *c, const struct emb_regen_signals *in,
                      struct emb_regen_state *s)
{
    const bool active = s->stage == EMB_REGEN_WARMUP || s->stage == EMB_REGEN_DOSE;
    if (active && in->hottest > c->abort_temperature) {
        snprintf(s->reason, sizeof s->reason,
                 "a brick reached %.0f °C (%.0f °F), limit %.0f °C (%.0f °F)",
                 emb_degC(in->hottest), emb_degF(in->hottest), emb_degC(c->abort_temperature),
                 emb_degF(c->abort_temperature));
        give_up(s, in->t);
    } else if (s->stage == EMB_REGEN_WARMUP) {
        sample_warmup(c, in, s);
    } else if (s->stage == EMB_REGEN_DOSE) {
        sample_dose(c, in, s);
    } else if (s->stage == EMB_REGEN_COOLDOWN && in->t - s->since > c->cooldown) {
        enter(s, EMB_REGEN_DONE, in->t);
    }
}

const char *emb_regen_stage_name(enum emb_regen_stage stage)
{
    switch (stage) {
    case EMB_REGEN_OFF:
        return "off";
    case EMB_REGEN_WARMUP:
        return "warming up";
    case EMB_REGEN_DOSE:
        return "dosing";
    case EMB_REGEN_COOLDOWN:
        return "cooling down";
    case EMB_REGEN_DONE:
        return "done";
    case EMB_REGEN_ABORTED:
        return "given up";
    }
    return "";
}
