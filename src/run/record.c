/* record.c - the table of results: which columns there are, and one row of them. The number of rows
 * is bounded: when the table is full every other row is dropped and the interval doubles, so memory
 * is flat in simulated time. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/inputs.h"
#include "sim.h"

enum { MAX_ROWS = 4096 };

static const struct emb_column global_columns[EMB_N_GLOBAL] = {
    {"time", "s", "simulated time"},
    {"engine.speed", "rad/s", "engine speed"},
    {"engine.fuel", "kg/s", "fuel burnt or sprayed by the engine"},
    {"exhaust.flow", "kg/s", "gas that enters the line"},
    {"exhaust.temperature", "K", "gas that enters the line"},
    {"exhaust.nox", "kg/s", "NOx as NO2 that enters the line"},
    {"exhaust.soot", "kg/s", "soot that enters the line"},
    {"dosing.fuel", "kg/s", "fuel dosed into the line"},
    {"dosing.def", "kg/s", "DEF dosed into the line"},
    {"tailpipe.temperature", "K", "gas that leaves the line"},
    {"tailpipe.nox", "kg/s", "NOx as NO2 that leaves the line"},
    {"tailpipe.nh3", "-", "mole fraction of NH3 that leaves the line"},
    {"tailpipe.hc", "-", "mole fraction of hydrocarbon carbon that leaves the line"},
    {"tailpipe.co", "-", "mole fraction of CO that leaves the line"},
};

void *emb_result_grow(void *array, size_t *n, size_t item)
{
    char *p = realloc(array, (*n + 1) * item);
    if (p != NULL) {
        memset(p + *n * item, 0, item);
        (*n)++;
    }
    return p;
}

void emb_sim_note(struct emb_sim *s, double t, const char *fmt, ...)
{
    struct emb_note *p = emb_result_grow(s->out->note, &s->out->n_note, sizeof *p);
    va_list ap;
    if (p == NULL) {
        return; /* the log is a courtesy; the run goes on */
    }
    s->out->note = p;
    p += s->out->n_note - 1;
    p->t = t;
    va_start(ap, fmt);
    vsnprintf(p->text, sizeof p->text, fmt, ap);
    va_end(ap);
}

int emb_sim_columns(struct emb_sim *s)
{
    struct emb_result *r = s->out;
    r->n_column = EMB_N_GLOBAL + s->line.n_observation + s->line.n_slot;
    r->column = calloc(r->n_column, sizeof *r->column);
    s->row_capacity = 256;
    r->row = calloc(s->row_capacity * r->n_column, sizeof *r->row);
    if (r->column == NULL || r->row == NULL) {
        return -1;
    }
    memcpy(r->column, global_columns, sizeof global_columns);
    struct emb_column *c = r->column + EMB_N_GLOBAL;
    for (size_t i = 0; i < s->line.n_slot; i++) {
        const struct emb_component_type *t = s->line.slot[i].type;
        for (size_t k = 0; k < t->n_observation; k++, c++) {
            snprintf(c->name, sizeof c->name, "%s.%s", s->c->line[i].name, t->observation[k].name);
            snprintf(c->unit, sizeof c->unit, "%s", t->observation[k].unit);
            snprintf(c->meaning, sizeof c->meaning, "%s", t->observation[k].meaning);
        }
    }
    for (size_t i = 0; i < s->line.n_slot; i++, c++) {
        snprintf(c->name, sizeof c->name, "%s.gas_temperature", s->c->line[i].name);
        snprintf(c->unit, sizeof c->unit, "K");
        snprintf(c->meaning, sizeof c->meaning, "gas that leaves this element");
    }
    return emb_sim_places(s);
}

static void fill_row(const struct emb_sim *s, double t, double *v)
{
    const struct emb_gas *a = &s->now.march.source, *b = &s->now.march.slot[s->line.n_slot - 1].out;
    const double Mn = emb_species_mass(EMB_NO2), N = emb_gas_moles(b);
    double fuel = 0.0, def = 0.0;
    struct emb_moment at;
    emb_sim_moment(s, t, &at);
    for (size_t i = 0; i < s->line.n_slot; i++) {
        fuel += s->now.march.slot[i].fuel;
        def += s->now.march.slot[i].def;
    }
    const double g[EMB_N_GLOBAL] = {t,
                                    at.u[EMB_U_SPEED],
                                    s->now.march.engine_fuel,
                                    emb_gas_mass(a),
                                    a->T,
                                    (a->n[EMB_NO] + a->n[EMB_NO2]) * Mn,
                                    a->n[EMB_SOOT] * emb_species_mass(EMB_SOOT),
                                    fuel,
                                    def,
                                    b->T,
                                    (b->n[EMB_NO] + b->n[EMB_NO2]) * Mn,
                                    b->n[EMB_NH3] / N,
                                    (b->n[EMB_FUEL] + 3.0 * b->n[EMB_C3H6] + b->n[EMB_CH4]) / N,
                                    b->n[EMB_CO] / N};
    memcpy(v, g, sizeof g);
    memcpy(v + EMB_N_GLOBAL, s->now.observed, s->line.n_observation * sizeof *v);
    for (size_t i = 0; i < s->line.n_slot; i++) {
        v[EMB_N_GLOBAL + s->line.n_observation + i] = s->now.march.slot[i].out.T;
    }
}

static void thin_out(struct emb_sim *s)
{
    struct emb_result *r = s->out;
    const size_t keep = (r->n_row + 1) / 2;
    for (size_t i = 1; i < keep; i++) {
        memmove(r->row + i * r->n_column, r->row + 2 * i * r->n_column,
                r->n_column * sizeof *r->row);
    }
    emb_sim_profile_thin(r, keep);
    r->n_row = keep;
    s->interval *= 2.0;
}

int emb_sim_record(struct emb_sim *s, double t)
{
    struct emb_result *r = s->out;
    if (r->n_row == MAX_ROWS) {
        thin_out(s);
    }
    if (r->n_row == s->row_capacity) {
        double *p = realloc(r->row, 2 * s->row_capacity * r->n_column * sizeof *p);
        if (p == NULL) {
            return -1;
        }
        r->row = p;
        s->row_capacity *= 2;
        if (emb_sim_profile_grow(s) != 0) {
            return -1;
        }
    }
    emb_sim_profile(s);
    fill_row(s, t, r->row + r->n_row * r->n_column);
    r->n_row++;
    return 0;
}
