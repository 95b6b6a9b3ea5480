/* ode.c - the running line as the integrator sees it: rates, Newton matrix, books, thresholds. */
#include <math.h>
#include <string.h>

#include "emberpipe/inputs.h"
#include "emberpipe/tolerance.h"
#include "sim.h"

/* [s] rows closer than this leave a formula of high order nothing smooth to work on: judgement. Of
 * a cycle nobody knows what the engine did in between; a recorded log is held against readings, so
 * every bend of it is followed. */
static const double rows_apart = 5.0;

/* [-] of what a step may be off: who moves by less between two iterates has hardly moved.
 * Judgement; with 1 the energy book begins to open. */
static const double little = 0.3;

/* The iterate before, for the trapezoid, which is content with so little that most cells need not
 * be asked again. NULL: there is none. */
static const struct emb_nearby *nearby(struct emb_sim *s, double t, const double *y,
                                       struct emb_nearby *n)
{
    const double small = little * emb_ode_slack(&s->ode); /* [tolerances] */
    *n = (struct emb_nearby){.chain = s->chain, .weight = s->small};
    if (s->ode.method != EMB_METHOD_TRAPEZOID || !emb_secant_last(s->secant, t, &n->at)) {
        return NULL;
    }
    emb_tolerance_weights(s->line.n_state, small, s->c->rtol, s->atol, y, s->small);
    n->small_T = small * (s->c->rtol * 600.0 + s->c->temperature_atol); /* warm gas */
    return n;
}

static int ode_rhs(double t, const double *y, double *d, void *user)
{
    struct emb_sim *s = user;
    struct emb_nearby near;
    s->now.march.near = nearby(s, t, y, &near);
    const int rc = emb_sim_march(s, t, y, d);
    s->now.march.near = NULL;
    memcpy(s->rates, d, s->line.n_state * sizeof *d);
    return rc;
}

static int ode_jacobian(double t, const double *y, const double *fy, void *user)
{
    struct emb_sim *s = user;
    struct emb_moment at;
    (void)fy;
    emb_secant_forget(s->secant);
    emb_sim_moment(s, t, &at);
    emb_memory_predict(s->memory, t);
    return emb_line_jacobian(&s->line, &at, y, s->chain);
}

static int ode_factor(double gamma, void *user)
{
    const struct emb_sim *s = user;
    return emb_chain_factor(s->chain, gamma) == 0 ? 0 : 1;
}

static void ode_solve(double *b, void *user)
{
    struct emb_sim *s = user;
    if (s->twins != NULL) { /* the corrections of slopes come in between */
        emb_chain_solve(s->chain, b);
    } else {
        emb_secant_solve(
            s->secant,
            &(struct emb_point){s->now.march_t, s->now.march_y, s->rates, s->now.march.passed}, b);
    }
    s->now.corrected = s->now.marched;
}

static void add_change(struct emb_gas *g, const double *by)
{
    g->T += by[0];
    for (int k = 0; k < EMB_NSPECIES; k++) {
        g->n[k] += by[1 + k];
    }
}

/* What Newton's last correction adds to a tally of a slot, whose first link is given. */
static double tally_change(const struct emb_sim *s, size_t slot, size_t link, const double *y,
                           enum emb_line_tally which)
{
    double sum = 0.0; /* [unit of the tally] */
    for (size_t i = 0; i < s->line.slot[slot].shape.n_cells; i++) {
        const struct emb_link *k = &s->chain->link[link + i];
        double dx[EMB_LINK_STATES];
        for (size_t j = 0; j < k->n; j++) {
            dx[j] = y[k->row + j] - s->now.march_y[k->row + j];
        }
        sum += emb_chain_tally(s->chain, link + i, which, dx);
    }
    return sum;
}

/* What leaks follows from what passes. */
static void settle_leak(struct emb_slot_flow *f)
{
    double before[EMB_NELEMENTS], behind[EMB_NELEMENTS]; /* [mol/s] */
    if (f->leak_H == 0.0) {
        return;
    }
    emb_gas_elements(&f->in, before);
    emb_gas_elements(&f->out, behind);
    f->leak_H = emb_gas_enthalpy(&f->in) - emb_gas_enthalpy(&f->out);
    for (int e = 0; e < EMB_NELEMENTS; e++) {
        f->leak[e] = before[e] - behind[e];
    }
}

/* Turns the march of the last rates into that of y, which Newton made of them: with the same
 * derivatives, so that what a step takes from the states is what it adds to the integrals, however
 * well Newton has converged, and the books stay closed. */
static void settle_march(struct emb_sim *s, const double *y)
{
    size_t link = s->line.first;
    add_change(&s->now.march.source, emb_chain_in(s->chain, link));
    for (size_t i = 0; i < s->line.n_slot; i++) {
        struct emb_slot_flow *f = &s->now.march.slot[i];
        const size_t last = link + s->line.slot[i].shape.n_cells - 1;
        add_change(&f->in, emb_chain_in(s->chain, link));
        add_change(&f->out, emb_chain_out(s->chain, last));
        f->loss += tally_change(s, i, link, y, EMB_TALLY_LOSS);
        f->soot_burnt += tally_change(s, i, link, y, EMB_TALLY_SOOT);
        settle_leak(f);
        link = last + 1;
    }
    memcpy(s->now.march_y, y, s->line.n_state * sizeof *y);
    s->now.corrected = false;
}

static void slot_integrals(const struct emb_sim *s, double *q)
{
    double before = emb_gas_formation(&s->now.march.slot[0].in), behind; /* [W] */
    for (size_t i = 0; i < s->line.n_slot; i++) {
        const struct emb_slot_flow *f = &s->now.march.slot[i];
        q[EMB_I_LOSS] += f->loss;
        q[EMB_I_WORK] += f->work;
        q[EMB_I_FEED_H] += f->feed_H;
        q[EMB_I_LEAK_H] += f->leak_H;
        q[EMB_I_FUEL_DOSED] += f->fuel;
        q[EMB_I_DEF] += f->def;
        q[EMB_I_SOOT_BURNT] += f->soot_burnt;
        if (f->leak_H != 0.0) { /* nothing else happens in a leak */
            q[EMB_I_SOOT_LEAKED] +=
                (f->in.n[EMB_SOOT] - f->out.n[EMB_SOOT]) * emb_species_mass(EMB_SOOT);
        }
        for (int e = 0; e < EMB_NELEMENTS; e++) {
            q[EMB_I_FEED_EL + e] += f->feed[e];
            q[EMB_I_LEAK_EL + e] += f->leak[e];
        }
        q[EMB_I_SLOTS + EMB_PER_SLOT * i] = f->loss;
        behind = emb_gas_formation(&f->out); /* what leaves one slot enters the next */
        q[EMB_I_SLOTS + EMB_PER_SLOT * i + 1] = before - behind;
        before = behind;
    }
}

static void end_integrals(const struct emb_sim *s, const struct emb_moment *at, double *q)
{
    const struct emb_gas *a = &s->now.march.source, *b = &s->now.march.slot[s->line.n_slot - 1].out;
    q[EMB_I_SOURCE_H] = emb_gas_enthalpy(a);
    q[EMB_I_TAIL_H] = emb_gas_enthalpy(b);
    emb_gas_elements(a, q + EMB_I_SOURCE_EL);
    emb_gas_elements(b, q + EMB_I_TAIL_EL);
    q[EMB_I_FUEL_ENGINE] = s->now.march.engine_fuel;
    q[EMB_I_POWER] = s->now.march.engine_power;
    q[EMB_I_LATE_POST] = at->u[EMB_U_LATE_POST];
    q[EMB_I_SOOT_IN] = a->n[EMB_SOOT] * emb_species_mass(EMB_SOOT);
    q[EMB_I_SOOT_TAIL] = b->n[EMB_SOOT] * emb_species_mass(EMB_SOOT);
    q[EMB_I_NOX_IN] = a->n[EMB_NO] + a->n[EMB_NO2];
    q[EMB_I_NOX_TAIL] = b->n[EMB_NO] + b->n[EMB_NO2];
    q[EMB_I_NH3_TAIL] = b->n[EMB_NH3];
    q[EMB_I_N2O_TAIL] = b->n[EMB_N2O];
    q[EMB_I_CO_TAIL] = b->n[EMB_CO];
    q[EMB_I_HC_TAIL] = b->n[EMB_FUEL] + 3.0 * b->n[EMB_C3H6] + b->n[EMB_CH4];
}

static void all_integrals(const struct emb_sim *s, double t, double *q)
{
    struct emb_moment at;
    emb_sim_moment(s, t, &at);
    memset(q, 0, s->ode.n_quad * sizeof *q);
    end_integrals(s, &at, q);
    slot_integrals(s, q);
}

/* Called once a step has been accepted; its last rates, and what Newton then made of them, are what
 * counts here, however far that went. */
static int ode_quad(double t, const double *y, double *q, void *user)
{
    struct emb_sim *s = user;
    if (!(s->now.marched && s->now.march_t == t) && emb_sim_march(s, t, y, NULL) != 0) {
        return 1;
    }
    if (s->now.corrected) {
        settle_march(s, y);
    }
    all_integrals(s, t, q);
    emb_memory_accept(s->memory, t);
    return 0;
}

int emb_sim_integrands(struct emb_sim *s, double t, const double *y, double *q)
{
    const int rc = emb_sim_march(s, t, y, NULL);
    if (rc == 0) {
        all_integrals(s, t, q);
    }
    return rc;
}

static int ode_roots(double t, const double *y, double *g, void *user)
{
    struct emb_sim *s = user;
    if (emb_sim_look(s, t, y) != 0) {
        return 1;
    }
    for (size_t i = 0; i < s->c->n_target; i++) {
        g[i] = emb_sim_target_value(s, &s->c->target[i]) - s->c->target[i].value;
    }
    return 0;
}

enum emb_method emb_run_method(const struct emb_case *c)
{
    if (c->method != EMB_METHOD_AUTO) {
        return c->method;
    }
    const bool rows = emb_duty_cycle_length(c, rows_apart) > 0.5 * emb_duty_length(c);
    return rows ? EMB_METHOD_TRAPEZOID : EMB_METHOD_BDF;
}

void emb_sim_ode(struct emb_sim *s)
{
    s->ode = (struct emb_ode){.method = emb_run_method(s->c),
                              .n = s->line.n_state,
                              .n_quad = EMB_I_SLOTS + EMB_PER_SLOT * s->line.n_slot,
                              .n_root = s->c->n_target,
                              .rhs = ode_rhs,
                              .jacobian = ode_jacobian,
                              .factor = ode_factor,
                              .solve = ode_solve,
                              .quad = ode_quad,
                              .roots = ode_roots,
                              .rtol = s->c->rtol,
                              .atol = s->atol,
                              .user = s};
}
