/* books.c - what went in, came out and stayed: energy, elements, soot; the heat budget; totals. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "emberpipe/inputs.h"
#include "sim.h"

static const double nothing = 1e-12; /* [J], [mol] or [kg] */

/* held: what was there at the start; a book is measured against the largest of what passed and what
 * was held */
static void add_book(struct emb_sim *s, const char *name, const char *unit, double in, double out,
                     double stored, double held)
{
    struct emb_result *r = s->out;
    struct emb_book *b = emb_result_grow(r->book, &r->n_book, sizeof *b);
    if (b == NULL) {
        return;
    }
    r->book = b;
    b += r->n_book - 1;
    snprintf(b->name, sizeof b->name, "%s", name);
    snprintf(b->unit, sizeof b->unit, "%s", unit);
    b->in = in;
    b->out = out;
    b->stored = stored;
    b->residual = in - out - stored;
    const double scale = fmax(fabs(in), fmax(fabs(out), fmax(fabs(stored), held)));
    /* where nothing but round-off passed, there is nothing to be relative to */
    b->relative = scale > nothing ? b->residual / scale : 0.0;
}

static void add_heat(struct emb_sim *s, double joule, const char *what, const char *name)
{
    struct emb_result *r = s->out;
    struct emb_heat_item *h = emb_result_grow(r->heat, &r->n_heat, sizeof *h);
    if (h == NULL) {
        return;
    }
    r->heat = h;
    h += r->n_heat - 1;
    h->joule = joule;
    if (name[0] == '\0') {
        snprintf(h->label, sizeof h->label, "%s", what);
    } else {
        snprintf(h->label, sizeof h->label, "%s '%s'", what, name);
    }
}

static void add_total(struct emb_sim *s, const char *name, double value, const char *unit,
                      const char *meaning)
{
    struct emb_result *r = s->out;
    struct emb_total *t = emb_result_grow(r->total, &r->n_total, sizeof *t);
    if (t == NULL) {
        return;
    }
    r->total = t;
    t += r->n_total - 1;
    snprintf(t->name, sizeof t->name, "%s", name);
    snprintf(t->unit, sizeof t->unit, "%s", unit);
    snprintf(t->meaning, sizeof t->meaning, "%s", meaning);
    t->value = value;
}

/* The chemistry of a slot is the formation enthalpy that its gas lost. At dosers and leaks the gas
 * itself grows or shrinks, so there the feed or the leak is set against it and what remains is
 * latent or sensible heat. */
static void heat_budget(struct emb_sim *s, const double *q, double stored)
{
    double released = 0.0, spray = q[EMB_I_FEED_H], leak = -q[EMB_I_LEAK_H];
    for (size_t i = 0; i < s->line.n_slot; i++) {
        const double v = q[EMB_I_SLOTS + EMB_PER_SLOT * i + 1];
        const enum emb_kind kind = s->c->line[i].kind;
        released += v;
        spray += (kind == EMB_DOSER || kind == EMB_DEF) ? v : 0.0;
        leak += (kind == EMB_LEAK) ? v : 0.0;
    }
    add_heat(s, q[EMB_I_SOURCE_H] - q[EMB_I_TAIL_H] - released,
             "engine heat that stayed (brought less carried out)", "");
    for (size_t i = 0; i < s->line.n_slot; i++) {
        const double v = q[EMB_I_SLOTS + EMB_PER_SLOT * i + 1];
        const enum emb_kind kind = s->c->line[i].kind;
        if (fabs(v) > 1.0 && kind != EMB_DOSER && kind != EMB_DEF && kind != EMB_LEAK) {
            add_heat(s, v, "chemistry and water in", s->c->line[i].name);
        }
    }
    if (spray != 0.0) {
        add_heat(s, spray, "evaporation and breakdown of sprays", "");
    }
    if (leak != 0.0) {
        add_heat(s, leak, "escaped through leaks", "");
    }
    for (size_t i = 0; i < s->line.n_slot; i++) {
        const double v = q[EMB_I_SLOTS + EMB_PER_SLOT * i];
        if (v != 0.0) {
            add_heat(s, -v, "lost to the air from", s->c->line[i].name);
        }
    }
    if (q[EMB_I_WORK] != 0.0) {
        add_heat(s, -q[EMB_I_WORK], "taken by the turbine", "");
    }
    add_heat(s, -stored, "stored in metal, bricks and films", "");
}

static void totals(struct emb_sim *s, const double *q)
{
    const double Mn = emb_species_mass(EMB_NO2);
    if (s->c->source == EMB_SOURCE_ENGINE) {
        add_total(s, "engine_fuel", q[EMB_I_FUEL_ENGINE], "kg",
                  "fuel through the engine, post-injections included");
        add_total(s, "late_post_fuel", q[EMB_I_LATE_POST], "kg", "of which late post-injection");
        add_total(s, "engine_work", q[EMB_I_POWER], "J", "work at the flywheel and accessories");
    }
    add_total(s, "dosed_fuel", q[EMB_I_FUEL_DOSED], "kg", "fuel dosed into the line");
    add_total(s, "def", q[EMB_I_DEF], "kg", "DEF dosed");
    add_total(s, "soot_in", q[EMB_I_SOOT_IN], "kg", "soot that entered the line");
    add_total(s, "soot_burnt", q[EMB_I_SOOT_BURNT], "kg", "soot burnt in filters");
    add_total(s, "soot_out", q[EMB_I_SOOT_TAIL], "kg", "soot that left at the tailpipe");
    if (q[EMB_I_SOOT_LEAKED] > 0.0) {
        add_total(s, "soot_leaked", q[EMB_I_SOOT_LEAKED], "kg", "soot that escaped through leaks");
    }
    add_total(s, "nox_in", q[EMB_I_NOX_IN] * Mn, "kg", "NOx as NO2 that entered the line");
    add_total(s, "nox_out", q[EMB_I_NOX_TAIL] * Mn, "kg", "NOx as NO2 that left at the tailpipe");
    add_total(s, "nh3_out", q[EMB_I_NH3_TAIL] * emb_species_mass(EMB_NH3), "kg", "NH3 slip");
    add_total(s, "n2o_out", q[EMB_I_N2O_TAIL] * emb_species_mass(EMB_N2O), "kg",
              "N2O that left at the tailpipe");
    add_total(s, "co_out", q[EMB_I_CO_TAIL] * emb_species_mass(EMB_CO), "kg",
              "CO that left at the tailpipe");
    add_total(s, "hc_out", q[EMB_I_HC_TAIL] * emb_species_mass(EMB_FUEL), "kg",
              "hydrocarbons (as fuel) that left");
    for (size_t i = 0; i < s->line.n_slot; i++) {
        if (s->c->line[i].kind == EMB_FILTER) {
            char name[64];
            snprintf(name, sizeof name, "%s.soot", s->c->line[i].name);
            add_total(s, name, s->now.observed[emb_sim_observation(s, i, "soot")], "kg/m3",
                      "soot in the filter at the end");
            snprintf(name, sizeof name, "%s.soot_share", s->c->line[i].name);
            add_total(s, name, s->now.observed[emb_sim_observation(s, i, "soot_share")], "-",
                      "of the configured full load");
        }
    }
}

static double soot_held(const struct emb_sim *s, const double *y)
{
    double kg = 0.0;
    for (size_t i = 0; i < s->line.n_slot; i++) {
        if (s->line.slot[i].type == &emb_brick_type) {
            kg += y[s->line.slot[i].offset]; /* crust on the face */
        } else if (s->c->line[i].kind == EMB_FILTER) {
            struct emb_stock k = {0};
            s->line.slot[i].type->stock(s->line.slot[i].par, y + s->line.slot[i].offset, &k);
            kg += k.el[EMB_EL_C] * emb_species_mass(EMB_SOOT);
        }
    }
    return kg;
}

void emb_sim_books(struct emb_sim *s)
{
    static const char *const element[EMB_NELEMENTS] = {"carbon", "hydrogen", "oxygen", "nitrogen"};
    const double *q = emb_sim_quads(s), *y = emb_sim_state(s);
    struct emb_stock now;
    emb_line_stock(&s->line, y, &now);
    const double stored = now.energy - s->stock0.energy;
    add_book(s, "energy", "J", q[EMB_I_SOURCE_H] + q[EMB_I_FEED_H],
             q[EMB_I_TAIL_H] + q[EMB_I_LEAK_H] + q[EMB_I_LOSS] + q[EMB_I_WORK], stored, 0.0);
    for (int e = 0; e < EMB_NELEMENTS; e++) {
        add_book(s, element[e], "mol", q[EMB_I_SOURCE_EL + e] + q[EMB_I_FEED_EL + e],
                 q[EMB_I_TAIL_EL + e] + q[EMB_I_LEAK_EL + e], now.el[e] - s->stock0.el[e], 0.0);
    }
    const double held = soot_held(s, y) - soot_held(s, s->y0),
                 gone = q[EMB_I_SOOT_TAIL] + q[EMB_I_SOOT_BURNT] + q[EMB_I_SOOT_LEAKED]; /* [kg] */
    add_book(s, "soot", "kg", q[EMB_I_SOOT_IN], gone, held, soot_held(s, s->y0));
    heat_budget(s, q, stored);
    totals(s, q);
}
