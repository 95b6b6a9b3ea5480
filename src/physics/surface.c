/* surface.c - surface mole fractions and what the flow loses over one cell.
 *
 * Each species sees a linear sink a (what consumes it, divided by its own mole fraction) and a
 * source P; with them the profile along the cell, and the film, have an exact solution, written
 * x = phi(a, P) below. The fixed point x = phi(a(x), P(x)) is found by Newton, begun with one
 * plain sweep from the bulk, so that the inhibited branch is picked where two exist; a plain sweep
 * also stands in wherever Newton would leave the positive side. */
#include <math.h>
#include <string.h>

#include "emberpipe/heat.h"
#include "extents.h"
#include "gauss.h"
#include "law.h"

enum { MAX_ITERATIONS = 120, MAX_COUPLED = EMB_SMALL, FOLLOW_FOR = 10, PLAIN_FOR = 6 };
static const double trace =
    1e-18;                        /* [-] less takes no part: spares numbers too small to be quick */
static const double tiny = 1e-30; /* [-] against division by nothing */

static inline double larger(double a, double b)
{
    return a > b ? a : b;
}

/* ---- one species along one cell ---- */

struct along {
    double x, dx_da, dx_dP; /* [-], [s/mol], [s/mol] */
};

/* phi(z) = (1 - exp(-z))/z: mean over the inlet of a first-order sink; psi = (1 - phi)/z. */
static struct along along_cell(double inv_N, double x_in, double km, double a, double P)
{
    const bool film = km < INFINITY;
    const double v = film ? 1.0 / (km + a) : 0.0, w = film ? km * v : 1.0;
    const double g = w * inv_N, z = a * g; /* [s/mol], [-] */
    double phi, psi, dpsi;                 /* [-] */
    if (z < 0.02) {                        /* series: relative error below 1e-11 */
        phi = 1.0 - z * (0.5 - z * (1.0 / 6.0 - z * (1.0 / 24.0 - z * (1.0 / 120.0))));
        psi = 0.5 - z * (1.0 / 6.0 - z * (1.0 / 24.0 - z * (1.0 / 120.0 - z * (1.0 / 720.0))));
        dpsi = -1.0 / 6.0 + z * (1.0 / 12.0);
    } else {
        const double inv_z = 1.0 / z;
        phi = z < 50.0 ? (1.0 - exp(-z)) * inv_z : inv_z;
        psi = (1.0 - phi) * inv_z;
        dpsi = (phi - 2.0 * psi) * inv_z;
    }
    const double mean = x_in * phi + P * psi * g; /* [-] in the gas */
    const double dmean = g * (w * (x_in * (psi - phi) + P * g * dpsi) - P * psi * v);
    const double x = w * mean + v * P;
    return (struct along){x, w * dmean - v * x, w * psi * g + v};
}

/* ---- all species of one cell ---- */

struct cell {
    const struct emb_surface_plan *plan;
    const struct emb_surface *s;
    int n_coupled; /* solved together: the plan's, or in the end all active species */
    const int *rank;
    const double *x_in;                      /* [-] */
    double N, inv_N;                         /* [mol/s], [s/mol] */
    double x[EMB_NX];                        /* [-] at the surface */
    double sink[EMB_NGAS], source[EMB_NGAS]; /* [mol/s] */
    struct emb_law law;
    struct emb_rates o;
};

/* The reversible one: a sink linear in NO and a source from all NOx; what else it changes goes by
 * the net rate. */
static void add_reversible(struct cell *c, size_t j)
{
    const double back = c->law.k[j] * c->law.back; /* [mol/s] */
    for (int a = 0; a < c->plan->n_active; a++) {
        const int k = c->plan->active[a];
        const double f = c->plan->set->r[j].nu[k] * c->o.r[j]; /* [mol/s] */
        if (k == EMB_NO) {
            c->sink[k] += c->o.v[j] + back * c->x[k];
            c->source[k] += back * c->law.nox;
        } else {
            *(f < 0.0 ? &c->sink[k] : &c->source[k]) += fabs(f);
        }
    }
}

static void add_fluxes(struct cell *c)
{
    const struct emb_surface_plan *p = c->plan;
    for (int k = 0; k < EMB_NGAS; k++) {
        c->sink[k] = c->source[k] = 0.0;
    }
    for (int i = 0; i < p->n_sink; i++) {
        c->sink[p->sink[i].species] += p->sink[i].nu * c->o.r[p->sink[i].reaction];
    }
    for (int i = 0; i < p->n_source; i++) {
        c->source[p->source[i].species] += p->source[i].nu * c->o.r[p->source[i].reaction];
    }
    if (p->reversible >= 0) {
        add_reversible(c, (size_t)p->reversible);
    }
}

static struct along answer(const struct cell *c, int k)
{
    return along_cell(c->inv_N, c->x_in[k], c->s->transfer[k], c->sink[k] / larger(c->x[k], tiny),
                      c->source[k]);
}

/* Derivatives of forward rate j [mol/s] by the coupled mole fractions. */
static void rate_slopes(const struct cell *c, size_t j, double *dv)
{
    const struct emb_reaction *r = &c->plan->set->r[j];
    const double v = c->o.v[j];
    for (int m = 0; m < c->n_coupled; m++) {
        dv[m] = r->inhibited > 0 ? -v * c->o.dlnG[r->inhibited - 1][c->plan->active[m]] : 0.0;
    }
    for (int q = 0; q < r->n_power; q++) {
        const int k = r->power[q].x;
        if (c->rank[k] >= 0) {
            dv[c->rank[k]] += v * emb_law_log_slope(c->x[k], r->power[q].order);
        }
    }
}

/* What one flux's change does to the answer of species a: `by` is the answer's slope. */
static void add_row(const struct cell *c, int a, double by, const double *dv,
                    double A[MAX_COUPLED][MAX_COUPLED])
{
    for (int m = 0; m < c->n_coupled; m++) {
        A[a][m] -= by * dv[m];
    }
}

/* by_sink, by_source: slopes of every coupled species' answer by its sink and its source [s/mol] */
static void reversible_rows(const struct cell *c, const double *dv, const double *by_sink,
                            const double *by_source, double A[MAX_COUPLED][MAX_COUPLED])
{
    const size_t j = (size_t)c->plan->reversible;
    for (int a = 0; a < c->n_coupled; a++) {
        const int k = c->plan->active[a];
        const double nu = c->plan->set->r[j].nu[k];
        if (nu != 0.0) {
            add_row(c, a, nu < 0.0 ? -nu * by_sink[a] : nu * by_source[a], dv, A);
        }
        if (k == EMB_NO) {
            A[a][a] -= by_sink[a] * c->law.k[j] * c->law.back;
        }
    }
}

/* The Newton correction of the coupled species, from their plain sweep f. */
static bool newton_step(const struct cell *c, const struct along *f, double *d)
{
    const struct emb_surface_plan *p = c->plan;
    const int n = c->n_coupled;
    double A[MAX_COUPLED][MAX_COUPLED], dv[EMB_MAX_REACTIONS][MAX_COUPLED];
    double by_sink[MAX_COUPLED], by_source[MAX_COUPLED]; /* [s/mol] */
    for (int a = 0; a < n; a++) {
        const int k = p->active[a];
        const double inv = 1.0 / larger(c->x[k], tiny);
        by_sink[a] = f[a].dx_da * inv;
        by_source[a] = f[a].dx_dP;
        memset(A[a], 0, (size_t)n * sizeof **A);
        A[a][a] = 1.0 + by_sink[a] * c->sink[k] * inv; /* a = sink/x falls as x grows */
        d[a] = f[a].x - c->x[k];
    }
    for (size_t j = 0; j < p->set->n; j++) {
        rate_slopes(c, j, dv[j]);
    }
    for (int i = 0; i < p->n_sink; i++) {
        const int a = c->rank[p->sink[i].species];
        if (a >= 0) {
            add_row(c, a, p->sink[i].nu * by_sink[a], dv[p->sink[i].reaction], A);
        }
    }
    for (int i = 0; i < p->n_source; i++) {
        const int a = c->rank[p->source[i].species];
        if (a >= 0) {
            add_row(c, a, p->source[i].nu * by_source[a], dv[p->source[i].reaction], A);
        }
    }
    if (p->reversible >= 0) {
        reversible_rows(c, dv[p->reversible], by_sink, by_source, A);
    }
    return emb_gauss_small(n, A, d);
}

/* Rates at x and every coupled species' answer to them; returns the largest relative misfit. */
static double misfit(struct cell *c, struct along *f)
{
    double worst = 0.0; /* [-] */
    emb_law_groups(&c->law, c->x, &c->o);
    emb_law_rates(&c->law, c->x, &c->o);
    add_fluxes(c);
    for (int a = 0; a < c->n_coupled; a++) {
        const int k = c->plan->active[a];
        f[a] = answer(c, k);
        worst = larger(worst, fabs(f[a].x - c->x[k]) / (1e-6 + c->x[k]));
    }
    return worst;
}

/* One step of all coupled species; d gets it [-]. Returns its largest relative size. */
static double advance(struct cell *c, const struct along *f, bool newton, double *d)
{
    double change = 0.0; /* [-] */
    newton = newton && newton_step(c, f, d);
    for (int a = 0; a < c->n_coupled; a++) {
        const int k = c->plan->active[a];
        const double next = newton ? c->x[k] + d[a] : f[a].x;
        d[a] = (next > 0.1 * f[a].x ? next : f[a].x) - c->x[k];
        change = larger(change, fabs(d[a]) / (1e-6 + c->x[k]));
        c->x[k] += d[a];
    }
    return change;
}

/* Returns the largest relative change of a follower. */
static double follow(struct cell *c)
{
    double change = 0.0; /* [-] */
    for (int a = c->n_coupled; a < c->plan->n_active; a++) {
        const int k = c->plan->active[a];
        const bool changes = c->sink[k] != 0.0 || c->source[k] != 0.0;
        const double x = changes ? answer(c, k).x : c->x_in[k]; /* [-] */
        change = larger(change, fabs(x - c->x[k]) / (1e-9 + c->x[k]));
        c->x[k] = x;
    }
    return change;
}

/* One follower may feed another (HNCO makes NH3): until none moves any more. */
static void settle_followers(struct cell *c)
{
    double change = c->plan->n_active > c->n_coupled ? 1.0 : 0.0; /* [-] */
    for (int k = 0; change > 1e-9 && k < EMB_NGAS; k++) {
        add_fluxes(c);
        change = follow(c);
        change = c->plan->chained ? change : 0.0;
        emb_law_rates(&c->law, c->x, &c->o); /* followers do not inhibit */
    }
}

/* Where a step made the misfit larger, half of it is taken back. */
static void halve(struct cell *c, double *d)
{
    for (int a = 0; a < c->n_coupled; a++) {
        d[a] *= 0.5;
        c->x[c->plan->active[a]] -= d[a];
    }
}

/* Inhibition after a last small step d, along its slope: what is left out is the square of that. */
static void carry_groups(struct cell *c, const double *d)
{
    for (size_t i = 0; i < c->plan->set->n_inhibition; i++) {
        double dln = 0.0; /* [-] */
        for (int a = 0; a < c->n_coupled; a++) {
            dln += c->o.dlnG[i][c->plan->active[a]] * d[a];
        }
        c->o.inv_G[i] *= 1.0 - dln;
    }
}

/* Where little reacts two plain sweeps do; elsewhere Newton, which squares its error, so that a
 * small last step is enough. Just past an ignition its steps lead nowhere: the misfit has a
 * smallest value there that is no solution; plain sweeps creep past it. Where a scarce species
 * (oxygen) ties the followers to the others, all are solved together. */
static void solve_cell(struct cell *c)
{
    bool close = false; /* the last step was Newton's and small */
    struct along f[MAX_COUPLED];
    double d[MAX_COUPLED] = {0.0}, before = INFINITY, change = 1.0; /* [-] */
    const bool warm = c->s->hint != NULL && c->s->hint->known;
    int halved = 0, plain = 0;
    for (int k = 0; k < MAX_ITERATIONS; k++) {
        if (k == FOLLOW_FOR) {
            c->n_coupled = c->plan->n_active;
            c->rank = c->plan->place;
            before = INFINITY;
        }
        const double now = misfit(c, f);
        if (k > 2 && now > before && halved < 3) {
            halve(c, d);
            halved++;
            continue;
        }
        plain = halved == 3 ? PLAIN_FOR : plain > 0 ? plain - 1 : 0;
        before = plain > 0 ? INFINITY : now;
        halved = 0;
        const bool newton = plain == 0 && (warm || k > 1 || (k == 1 && change > 1e-4));
        change = advance(c, f, newton, d);
        close = newton && change < 1e-5;
        if (close || change < 1e-9) {
            break;
        }
        follow(c);
    }
    if (close) {
        carry_groups(c, d);
    } else {
        emb_law_groups(&c->law, c->x, &c->o);
    }
    emb_law_rates(&c->law, c->x, &c->o);
    settle_followers(c);
}

/* What has only begun to flow must not start from nothing: it would never react. */
static void start_from(const struct emb_surface_hint *h, const double *x_in, double *x)
{
    for (int k = 0; k < EMB_NGAS; k++) {
        x[k] = larger(h->x[k], 1e-6 * x_in[k]);
    }
}

double emb_surface_react(const struct emb_surface_plan *plan, const struct emb_surface *s,
                         double n[EMB_NSPECIES])
{
    const struct emb_reaction_set *set = plan->set;
    struct cell c;
    double x_in[EMB_NGAS], stored = 0.0;
    c.plan = plan;
    c.s = s;
    c.n_coupled = plan->n_coupled;
    c.rank = plan->rank;
    c.N = emb_moles(n);
    c.x_in = x_in;
    c.inv_N = 1.0 / c.N;
    for (int i = 0; i < EMB_NGAS; i++) {
        const double x = n[i] * c.inv_N;
        x_in[i] = c.x[i] = x > trace ? x : 0.0;
    }
    emb_law_init(&c.law, set, s, x_in);
    if (s->hint != NULL && s->hint->known) {
        start_from(s->hint, x_in, c.x);
    }
    solve_cell(&c);
    if (s->hint != NULL) {
        s->hint->answered = true;
        memcpy(s->hint->answer, c.x, sizeof s->hint->answer);
    }
    emb_extents_limit(plan, n, c.N, c.o.r);
    for (size_t j = 0; j < set->n; j++) {
        const double *nu = set->r[j].nu, r = c.o.r[j];
        for (int i = 0; i < EMB_NSPECIES; i++) {
            n[i] += nu[i] * r;
        }
        stored += set->r[j].nu_store * c.o.r[j];
    }
    return stored;
}
