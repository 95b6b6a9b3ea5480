/* advice.c - warnings: what was seen, why it matters, what to try. */
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "emberpipe/temperature.h"
#include "sim.h"

__attribute__((format(printf, 3, 4))) static void warn(struct emb_sim *s, const char *advice,
                                                       const char *fmt, ...)
{
    struct emb_result *r = s->out;
    struct emb_warning *w = emb_result_grow(r->warning, &r->n_warning, sizeof *w);
    va_list ap;
    if (w == NULL) {
        return;
    }
    r->warning = w;
    w += r->n_warning - 1;
    va_start(ap, fmt);
    vsnprintf(w->text, sizeof w->text, fmt, ap);
    va_end(ap);
    snprintf(w->advice, sizeof w->advice, "%s", advice);
}

static void passed_limits(struct emb_sim *s, size_t i)
{
    static const char *const advice =
        "nothing after that moment can be trusted; limits: stop ends the run there";
    if (!isnan(s->passed[i].melted)) {
        warn(s, advice, "the substrate of '%s' melts after %.0f s; the model goes on as if it held",
             s->c->line[i].name, s->passed[i].melted);
    }
    if (!isnan(s->passed[i].full)) {
        warn(s, advice, "soot and ash no longer fit into the channels of '%s' after %.0f s",
             s->c->line[i].name, s->passed[i].full);
    }
}

static void urea_left(struct emb_sim *s, size_t i)
{
    if (s->c->line[i].kind != EMB_DEF) {
        return;
    }
    const char *name = s->c->line[i].name;
    const double film = 1e3 * s->now.observed[emb_sim_observation(s, i, "film")],
                 solid = 1e3 * s->now.observed[emb_sim_observation(s, i, "deposit")]; /* [g] */
    if (film > 5.0) {
        warn(s,
             "warmer exhaust at the DEF doser, a higher enable_temperature, less spray on the wall "
             "(wall_share)",
             "%.0f g of urea lie on the wall behind DEF doser '%s'", film, name);
    }
    if (solid > 1.0) {
        warn(
            s,
            "deposit risk: biuret goes above a wall of 200-230 °C (390-450 °F), cyanuric "
            "acid only above about 340 °C (640 °F); drive at load, then inspect by the maker's procedure",
            "%.1f g of solid deposit lie on the wall behind DEF doser '%s' (amount: judgement, not "
            "validated)",
            solid, name);
    }
}

static void about_element(struct emb_sim *s, size_t i)
{
    const struct emb_element_cfg *e = &s->c->line[i];
    struct emb_result *r = s->out;
    struct emb_element_note *n = emb_result_grow(r->element, &r->n_element, sizeof *n);
    if (n != NULL) {
        r->element = n;
        n += r->n_element - 1;
        snprintf(n->name, sizeof n->name, "%s", e->name);
        snprintf(n->kind, sizeof n->kind, "%s", s->line.slot[i].type->kind);
        n->peak = s->peak[i];
        n->t_peak = s->t_peak[i];
        n->peak_at = s->peak_at[i];
        n->end = s->now.march.slot[i].out.T;
    }
    if (e->kind == EMB_FILTER && s->peak[i] > e->u.filter.damage_temperature) {
        warn(s,
             "start with less soot, do not drop to idle while it burns; let the maker's limits "
             "decide",
             "filter '%s' reached %.0f °C (%.0f °F) at %.0f %% of its length after %.0f s, above "
             "its "
             "substrate limit of %.0f °C (%.0f °F)",
             e->name, emb_degC(s->peak[i]), emb_degF(s->peak[i]), 100.0 * s->peak_at[i],
             s->t_peak[i], emb_degC(e->u.filter.damage_temperature),
             emb_degF(e->u.filter.damage_temperature));
    }
    passed_limits(s, i);
    if (e->kind == EMB_FILTER && s->now.observed[emb_sim_observation(s, i, "soot_share")] > 1.0) {
        warn(s, "follow the maker's procedure for an overloaded filter before any regeneration",
             "filter '%s' ends with more soot than its configured full load", e->name);
    }
    const size_t closed = emb_sim_observation(s, i, "closed_share");
    if (closed != SIZE_MAX && s->now.observed[closed] > e->u.brick.blocked + 0.01) {
        warn(s,
             "raise the load or the idle speed so that the face passes 300 °C (570 °F) regularly",
             "crust on the face of '%s' closes %.0f %% of it (crust model: calibrated, not "
             "validated)",
             e->name, 100.0 * s->now.observed[closed]);
    }
    urea_left(s, i);
    if (e->kind == EMB_DOSER && s->now.observed[emb_sim_observation(s, i, "film")] > 20e-3) {
        warn(s,
             "warm the exhaust before dosing; never start a regeneration with a fuel-soaked line",
             "%.0f g of liquid fuel lie on the wall behind '%s'",
             1e3 * s->now.observed[emb_sim_observation(s, i, "film")], e->name);
    }
}

static void raw_fuel(struct emb_sim *s)
{
    const double *q = emb_sim_quads(s);
    const double dosed = q[EMB_I_FUEL_DOSED] + q[EMB_I_LATE_POST],
                 out = q[EMB_I_HC_TAIL] * emb_species_mass(EMB_FUEL);
    if (dosed > 0.0 && out > 0.05 * dosed) {
        warn(s,
             "check enable temperature, active area of the oxidation catalyst and flow; white "
             "smoke is fuel",
             "%.0f %% of the dosed fuel left unburnt at the tailpipe", 100.0 * out / dosed);
    }
    for (size_t i = 0; i < s->line.n_slot; i++) {
        bool oxidation = false;
        for (size_t j = i; s->c->line[i].kind == EMB_DOSER && j < s->line.n_slot; j++) {
            oxidation = oxidation || s->c->line[j].kind == EMB_OXICAT ||
                        (s->c->line[j].kind == EMB_FILTER && s->c->line[j].u.filter.coated > 0.0);
        }
        if (s->c->line[i].kind == EMB_DOSER && !oxidation) {
            warn(s, "put an oxidation catalyst behind it",
                 "no oxidation catalyst follows fuel doser '%s'", s->c->line[i].name);
        }
    }
}

static void hot_outlet(struct emb_sim *s)
{
    const struct emb_result *r = s->out;
    const int k = emb_result_find(r, "exhaust.temperature");
    double hot = 0.0, when = 0.0; /* [K], [s] */
    for (size_t i = 0; k >= 0 && s->c->source == EMB_SOURCE_ENGINE && i < r->n_row; i++) {
        const double *row = r->row + i * r->n_column;
        if (row[k] > hot) {
            hot = row[k];
            when = row[0];
        }
    }
    if (hot > s->c->engine.outlet_limit) {
        warn(s,
             "less throttle, brake or close post-injection; a real engine control would hold back "
             "fuel here",
             "the engine's outlet reached %.0f °C (%.0f °F) at %.0f s, above engine.outlet_limit "
             "of %.0f °C (%.0f °F)",
             emb_degC(hot), emb_degF(hot), when, emb_degC(s->c->engine.outlet_limit),
             emb_degF(s->c->engine.outlet_limit));
    }
}

void emb_sim_warnings(struct emb_sim *s)
{
    for (size_t i = 0; i < s->line.n_slot; i++) {
        about_element(s, i);
    }
    raw_fuel(s);
    hot_outlet(s);
    if (s->c->regen.present && s->regen.stage == EMB_REGEN_ABORTED) {
        warn(s,
             "more engine heat (idle speed, throttle), less heat loss, or a drive at load instead",
             "the regeneration was given up: %s", s->regen.reason);
    }
    for (size_t i = 0; i < s->out->n_book; i++) {
        if (fabs(s->out->book[i].relative) > s->out->book_limit) {
            warn(s, "tighten solver.rtol tenfold and compare",
                 "the %s book closes only to %.1e of what passed through", s->out->book[i].name,
                 s->out->book[i].relative);
        }
    }
}
