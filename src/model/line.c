/* line.c - the line as it is put together: slots, states, tolerances, stock; and the gas that
 * enters it. */
#include "emberpipe/line.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/engine.h"

struct emb_env emb_line_env(const struct emb_line *l, const struct emb_moment *at)
{
    return (struct emb_env){
        at->u, l->c->ambient.pressure, emb_wind_of(at->u[EMB_U_AIR]), at->hint, at->close, NAN,
        NAN};
}

void emb_slot_neighbours(const struct emb_slot *s, size_t i, const double *y, struct emb_env *env)
{
    const struct emb_shape *h = &s->shape;
    const double *T = y + s->offset + h->n_shared + i * h->n_cell; /* [K] state 0 of the cell */
    env->before = i > 0 && h->n_cell > 0 ? T[-(ptrdiff_t)h->n_cell] : NAN;
    env->behind = i + 1 < h->n_cells && h->n_cell > 0 ? T[h->n_cell] : NAN;
}

static void prescribed_gas(const double *u, struct emb_gas *g)
{
    double M = 0.0, rest = 1.0;
    memset(g, 0, sizeof *g);
    for (int k = 1; k < EMB_NGAS; k++) {
        rest -= u[EMB_U_X + k];
        M += u[EMB_U_X + k] * emb_species_mass(k);
    }
    M += rest * emb_species_mass(EMB_N2);
    const double N = (u[EMB_U_FLOW] - u[EMB_U_SOOT]) / M;
    for (int k = 0; k < EMB_NGAS; k++) {
        g->n[k] = N * (k == EMB_N2 ? rest : u[EMB_U_X + k]);
    }
    g->n[EMB_SOOT] = u[EMB_U_SOOT] / emb_species_mass(EMB_SOOT);
    g->T = u[EMB_U_TEMPERATURE];
}

/* Block: coolant heat in, radiator above the thermostat, 60 W/K from the surfaces (judgement). */
static double block_rate(const struct emb_engine_cfg *e, const struct emb_ambient *a, double T,
                         double coolant)
{
    const double over = T - e->warm_temperature, radiator = over > 0.0 ? 8e3 * over : 0.0;
    return (coolant - radiator - 60.0 * (T - a->temperature)) / e->thermal_mass;
}

void emb_line_source(const struct emb_line *l, const struct emb_moment *at, const double *y,
                     double *dydt, struct emb_gas *g, struct emb_march *m)
{
    if (l->c->source != EMB_SOURCE_ENGINE) {
        prescribed_gas(at->u, g);
        if (m != NULL) {
            m->engine_fuel = m->engine_power = 0.0;
        }
        return;
    }
    struct emb_engine_out e;
    emb_engine_eval(&l->c->engine, &l->c->ambient, at->u, y[0], at->back_pressure, &e);
    *g = e.gas;
    if (dydt != NULL) {
        dydt[0] = block_rate(&l->c->engine, &l->c->ambient, y[0], e.coolant);
    }
    if (m != NULL) {
        m->engine_fuel = e.fuel;
        m->engine_power = e.power;
    }
}

enum emb_status emb_line_build(const struct emb_case *c, struct emb_line *l, struct emb_err *err)
{
    int fuel = 0, def = 0; /* dosers of each kind so far */
    memset(l, 0, sizeof *l);
    l->c = c;
    l->slot = calloc(c->n_line + 1, sizeof *l->slot);
    if (l->slot == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "line", "out of memory");
    }
    l->first = l->n_state = (c->source == EMB_SOURCE_ENGINE) ? 1 : 0;
    for (size_t i = 0; i < c->n_line; i++) {
        struct emb_slot *s = &l->slot[i];
        s->type = emb_component_get(c->line[i].kind);
        s->channel = c->line[i].kind == EMB_DEF ? def : fuel;
        s->par = s->type->prepare(&c->line[i], c, s->channel);
        l->n_slot = i + 1;
        if (s->par == NULL) {
            emb_line_free(l);
            return emb_fail(err, EMB_ERR_NOMEM, c->line[i].name, "out of memory");
        }
        fuel += (c->line[i].kind == EMB_DOSER) ? 1 : 0;
        def += (c->line[i].kind == EMB_DEF) ? 1 : 0;
        s->type->shape(s->par, &s->shape);
        s->offset = l->n_state;
        s->observation = l->n_observation;
        l->n_state += s->shape.n_shared + s->shape.n_cells * s->shape.n_cell;
        l->n_observation += s->type->n_observation;
        l->n_cells += s->shape.n_cells;
    }
    if (l->n_state == 0) {
        emb_line_free(l);
        return emb_fail(err, EMB_ERR_CONFIG, "line",
                        "nothing in the line can get warm; add a pipe or a brick");
    }
    return EMB_OK;
}

void emb_line_free(struct emb_line *l)
{
    for (size_t i = 0; i < l->n_slot; i++) {
        free(l->slot[i].par);
    }
    free(l->slot);
    memset(l, 0, sizeof *l);
}

void emb_line_start(const struct emb_line *l, double *y)
{
    if (l->first) {
        y[0] = l->c->engine.start_temperature;
    }
    for (size_t s = 0; s < l->n_slot; s++) {
        l->slot[s].type->init(l->slot[s].par, l->c->start_temperature, y + l->slot[s].offset);
    }
}

/* Which slot, and which of its described states, owns state i. */
static const struct emb_slot *owner(const struct emb_line *l, size_t i, size_t *cell, size_t *which)
{
    for (size_t s = l->n_slot; s-- > 0;) {
        const struct emb_slot *k = &l->slot[s];
        if (i >= k->offset && k->shape.n_cell > 0) {
            const size_t j = i - k->offset, sh = k->shape.n_shared;
            *cell = (j < sh) ? 0 : (j - sh) / k->shape.n_cell;
            *which = (j < sh) ? k->shape.n_cell + j : (j - sh) % k->shape.n_cell;
            return k;
        }
    }
    return NULL;
}

/* Those of describe() belong to rtol 1e-6 and go with its root: a looser run need not follow traces
 * of what is stored, a tighter one should not drown in them. Judgement. */
void emb_line_tolerances(const struct emb_line *l, double T_atol, double *atol)
{
    const double wider = sqrt(l->c->rtol / 1e-6); /* [-] */
    for (size_t i = 0; i < l->n_state; i++) {
        size_t cell, which;
        struct emb_state_info info = {"", 0.0};
        const struct emb_slot *s = (i < l->first) ? NULL : owner(l, i, &cell, &which);
        if (s != NULL) {
            s->type->describe(s->par, which, &info);
        }
        atol[i] =
            (info.atol > 0.0) ? info.atol * wider : T_atol; /* 0 in describe(): a temperature */
    }
}

void emb_line_state_name(const struct emb_line *l, size_t i, char *buf, size_t size)
{
    size_t cell, which;
    struct emb_state_info info;
    const struct emb_slot *s = (i < l->first) ? NULL : owner(l, i, &cell, &which);
    if (s == NULL) {
        snprintf(buf, size, "engine block temperature [K]");
        return;
    }
    s->type->describe(s->par, which, &info);
    snprintf(buf, size, "%s, cell %zu: %s", l->c->line[s - l->slot].name, cell + 1, info.name);
}

void emb_line_stock(const struct emb_line *l, const double *y, struct emb_stock *out)
{
    memset(out, 0, sizeof *out);
    for (size_t s = 0; s < l->n_slot; s++) {
        l->slot[s].type->stock(l->slot[s].par, y + l->slot[s].offset, out);
    }
}

void emb_line_observe(const struct emb_line *l, const struct emb_moment *at, const double *y,
                      const struct emb_march *m, double *values)
{
    const struct emb_env env = emb_line_env(l, at);
    for (size_t s = 0; s < l->n_slot; s++) {
        const struct emb_slot *k = &l->slot[s];
        k->type->observe(k->par, &env, y + k->offset, &m->slot[s].in, &m->slot[s].out,
                         values + k->observation);
    }
}
