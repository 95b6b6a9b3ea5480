/* verdict.c - each target: reached and when, or never, how far short, and why. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "emberpipe/temperature.h"
#include "sim.h"

static const char *quantity_words(const struct emb_sim *s, const struct emb_target *g)
{
    switch (g->quantity) {
    case EMB_Q_TEMPERATURE:
        return s->c->line[g->at].kind == EMB_SENSOR ? "reading" : "mean temperature";
    case EMB_Q_SOOT:
        return "soot load";
    case EMB_Q_CONVERSION_CO:
        return "CO conversion";
    case EMB_Q_CONVERSION_HC:
        return "HC conversion";
    case EMB_Q_CONVERSION_NOX:
        return "NOx conversion";
    case EMB_Q_NOX_CHECK:
        return "NOx check: conversion";
    case EMB_Q_DOSING:
        return "fuel dosing";
    case EMB_Q_DEF_DOSING:
        return "DEF dosing";
    }
    return "";
}

static void describe(const struct emb_sim *s, const struct emb_target *g, struct emb_verdict *v)
{
    const char *side = g->below ? "below" : "above";
    char hold[32] = "";
    if (g->hold > 0.0) {
        snprintf(hold, sizeof hold, " for %.0f s", g->hold);
    }
    if (g->quantity == EMB_Q_TEMPERATURE) {
        snprintf(v->what, sizeof v->what, "%s %s %.0f °C (%.0f °F)%s", quantity_words(s, g), side,
                 emb_degC(g->value), emb_degF(g->value), hold);
    } else if (g->quantity == EMB_Q_NOX_CHECK) {
        snprintf(v->what, sizeof v->what, "NOx conversion above %.0f %% with over %.0f °C (%.0f °F)%s",
                 100.0 * g->value, emb_degC(g->while_above), emb_degF(g->while_above), hold);
    } else if (g->quantity == EMB_Q_DOSING || g->quantity == EMB_Q_DEF_DOSING) {
        snprintf(v->what, sizeof v->what, "%s %s %.3g g/s%s", quantity_words(s, g), side,
                 1e3 * g->value, hold);
    } else {
        snprintf(v->what, sizeof v->what, "%s %s %.0f %%%s", quantity_words(s, g), side,
                 100.0 * g->value, hold);
    }
}

/* Heat that chemistry released in and ahead of an element [J]. */
static double released_upto(const struct emb_sim *s, size_t slot)
{
    const double *q = emb_sim_quads(s);
    double sum = 0.0;
    for (size_t i = 0; i <= slot; i++) {
        sum += q[EMB_I_SLOTS + EMB_PER_SLOT * i + 1];
    }
    return sum;
}

static double peak_gas_in(const struct emb_sim *s, size_t slot)
{
    const struct emb_result *r = s->out;
    const size_t col = (slot == 0) ? 4 : EMB_N_GLOBAL + s->line.n_observation + slot - 1;
    double best = 0.0;
    for (size_t i = 0; i < r->n_row; i++) {
        best = fmax(best, r->row[i * r->n_column + col]);
    }
    return best;
}

static void explain(const struct emb_sim *s, const struct emb_target *g, struct emb_verdict *v)
{
    const size_t at = (size_t)g->at;
    const double gas = peak_gas_in(s, at), MJ = released_upto(s, at) / 1e6;
    if (g->hold > 0.0 && v->longest > 0.0) {
        snprintf(v->why, sizeof v->why,
                 "the threshold was passed, but for %.0f s at most; %.0f s are asked for",
                 v->longest, g->hold);
        return;
    }
    if (g->quantity != EMB_Q_TEMPERATURE || g->below) {
        snprintf(v->why, sizeof v->why, "the gas that entered it peaked at %.0f °C (%.0f °F)",
                 emb_degC(gas), emb_degF(gas));
        return;
    }
    int n = snprintf(v->why, sizeof v->why,
                     "the gas that entered it peaked at %.0f °C (%.0f °F); chemistry in and ahead "
                     "of it released %.1f MJ",
                     emb_degC(gas), emb_degF(gas), MJ);
    if (s->c->regen.present && s->c->regen.doser > g->at && n > 0 && (size_t)n < sizeof v->why) {
        snprintf(v->why + n, sizeof v->why - (size_t)n,
                 "; fuel is dosed behind it, at '%s', so it stays near engine temperature",
                 s->c->line[s->c->regen.doser].name);
    } else if (s->regen.reason[0] != '\0' && n > 0 && (size_t)n < sizeof v->why) {
        snprintf(v->why + n, sizeof v->why - (size_t)n, "; regeneration: %s", s->regen.reason);
    }
}

void emb_sim_verdicts(struct emb_sim *s)
{
    struct emb_result *r = s->out;
    for (size_t i = 0; i < s->c->n_target; i++) {
        const struct emb_target *g = &s->c->target[i];
        const struct emb_track *k = &s->track[i];
        struct emb_verdict *v = emb_result_grow(r->verdict, &r->n_verdict, sizeof *v);
        if (v == NULL) {
            return;
        }
        r->verdict = v;
        v += r->n_verdict - 1;
        snprintf(v->name, sizeof v->name, "%s", g->name != NULL ? g->name : "target");
        snprintf(v->at, sizeof v->at, "%s", s->c->line[g->at].name);
        v->is_temperature = g->quantity == EMB_Q_TEMPERATURE;
        const bool flow = g->quantity == EMB_Q_DOSING || g->quantity == EMB_Q_DEF_DOSING;
        snprintf(v->unit, sizeof v->unit, "%s", v->is_temperature ? "K" : flow ? "kg/s" : "-");
        v->below = g->below;
        v->value = g->value;
        v->hold = g->hold;
        v->reached = !isnan(k->reached);
        v->t_reached = k->reached;
        v->best = k->best;
        v->t_best = k->t_best;
        v->longest = k->longest;
        describe(s, g, v);
        if (!v->reached && !s->verdicts_only) {
            explain(s, g, v);
        }
    }
}
