/* surface.c - surface mole fractions and what the flow loses over one cell.
 *
 * Each species sees a linear sink a (what consumes it, divided by its own mole fraction) and a
 * source P; with them the profile along the cell, and the film, have an exact solution, written
 * x = phi(a, P) below. The fixed point x = phi(a(x), P(x)) is found by Newton, begun with one
 * plain sweep from the bulk, so that the inhibited branch is picked where two exist; a plain sweep
 * also stands in wherever Newton would leave the positive side. */
#include <math.h>

#include "emberpipe/heat.h"
#include "extents.h"
#include "gauss.h"
#include "law.h"

enum { MAX_ITERATIONS = 120, FOLLOW_FOR = 10, PLAIN_FOR = 6, WIDEST = EMB_NX };
static const double trace =
    1e-18; /* [-] less takes no part: spares numbers too small to be quick */

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

/* ---- all species of one cell, numbered by place ---- */

struct cell {
    const struct emb_surface_plan *plan;
    int n_coupled;                           /* solved together: the plan's, or in the end all */
    double N, inv_N;                         /* [mol/s], [s/mol] */
    double x_in[EMB_NGAS], km[EMB_NGAS];     /* [-], [mol/s] film */
    double sink[EMB_NGAS], source[EMB_NGAS]; /* [mol/s] */
    double *x;                               /* [-] at the surface: the first values of o */
    double weight[EMB_NGAS];                 /* [-] makes a change of x relative */
    const struct emb_law *law;
    struct emb_rates o;
};

/* The reversible one: a sink linear in NO and a source from all NOx; what else it changes goes by
 * the net rate. */
static void add_reversible(struct cell *c, int j, int from)
{
    const struct emb_surface_plan *p = c->plan;
    const double back = c->o.volume * c->law->k[j] * c->law->back; /* [mol/s] */
    for (int i = 0; i < p->n_turned; i++) {
        const int a = p->turned[i];
        if (a < from) {
            continue;
        }
        const double f = p->set->r[j].nu[p->active[a]] * c->o.r[j]; /* [mol/s] */
        if (a == p->no) {
            c->sink[a] += c->o.v[j] + back * c->x[a];
            c->source[a] += back * c->o.nox;
        } else {
            c->sink[a] += larger(-f, 0.0);
            c->source[a] += larger(f, 0.0);
        }
    }
}

/* For the active species from place `from` on. */
static void add_fluxes(struct cell *c, int from)
{
    const struct emb_surface_plan *p = c->plan;
    for (int a = from; a < p->n_active; a++) {
        c->sink[a] = emb_flux(&p->sink, a, c->o.r);
        c->source[a] = emb_flux(&p->source, a, c->o.r);
    }
    if (p->reversible >= 0) {
        add_reversible(c, p->reversible, from);
    }
}

static struct along answer(const struct cell *c, int a)
{
    return along_cell(c->inv_N, c->x_in[a], c->km[a], c->sink[a] * c->o.slope[a], c->source[a]);
}

/* ---- Newton's matrix; `width` as in gauss.h ---- */

/* Takes from a row the slopes of reaction j's share in a flux that changes the answer by `by`
 * [s/mol]; what inhibition does to it is only counted. */
static inline void add_share(const struct cell *c, int j, double by, int n, double *row,
                             double *inhibited)
{
    const struct emb_surface_plan *p = c->plan;
    const struct emb_surface_product *r = &p->rate[j];
    const double f = by * c->o.v[j]; /* [-] */
    inhibited[r->group] += f;
    for (int q = 0; q < r->n; q++) {
        const int of = p->made_of[r->value[q]];
        if (of < n) {
            row[of] -= f * c->o.slope[r->value[q]];
        }
    }
}

static inline void add_shares(const struct cell *c, const struct emb_surface_terms *t, int a,
                              double by, int n, double *row, double *inhibited)
{
    for (int i = t->from[a]; i < t->from[a + 1]; i++) {
        add_share(c, t->term[i].reaction, by * t->term[i].nu, n, row, inhibited);
    }
}

static inline void add_reversible_share(const struct cell *c, int a, double by_sink,
                                        double by_source, int n, double *row, double *inhibited)
{
    const int j = c->plan->reversible;
    const double nu = c->plan->set->r[j].nu[c->plan->active[a]];
    add_share(c, j, nu < 0.0 ? -nu * by_sink : nu * by_source, n, row, inhibited);
    if (a == c->plan->no) {
        row[a] -= by_sink * c->o.volume * c->law->k[j] * c->law->back;
    }
}

/* A row of I minus the slopes of the answers: of answer a by its sink and by its source [s/mol]. */
static inline void newton_row(const struct cell *c, int a, const struct along *f, int n, int width,
                              double *row)
{
    const struct emb_surface_plan *p = c->plan;
    const double by_sink = f->dx_da * c->o.slope[a];
    double inhibited[1 + EMB_MAX_INHIBITIONS] = {0.0}; /* [-] by group */
    for (int m = 0; m < width; m++) {
        row[m] = 0.0;
    }
    row[a] = 1.0 + by_sink * c->sink[a] * c->o.slope[a]; /* a = sink/x falls as x grows */
    add_shares(c, &p->sink, a, by_sink, n, row, inhibited);
    add_shares(c, &p->source, a, f->dx_dP, n, row, inhibited);
    if (p->reversible >= 0) {
        add_reversible_share(c, a, by_sink, f->dx_dP, n, row, inhibited);
    }
    for (size_t i = 0; i < p->set->n_inhibition; i++) {
        for (int m = 0; m < width; m++) {
            row[m] += inhibited[1 + i] * c->o.dlnG[i][m];
        }
    }
    row[width - 1] = f->x - c->x[a];
}

/* The Newton correction d of the n coupled species, from their plain sweep f. */
static inline bool newton_of(const struct cell *c, const struct along *f, double *d, int n,
                             int width)
{
    double A[EMB_NGAS * WIDEST];
    for (int a = 0; a < n; a++) {
        newton_row(c, a, &f[a], n, width, A + a * width);
    }
    const bool solved = emb_gauss(n, width, A);
    for (int a = 0; a < n; a++) {
        d[a] = A[a * width + width - 1];
    }
    return solved;
}

/* The built-in sets couple two species (reduction) or five (oxidation): worth code of their own. */
static bool newton_step(const struct cell *c, const struct along *f, double *d)
{
    return c->n_coupled == 2   ? newton_of(c, f, d, 2, 4)
           : c->n_coupled == 5 ? newton_of(c, f, d, 5, 6)
                               : newton_of(c, f, d, c->n_coupled, WIDEST);
}

/* ---- the search ---- */

/* Rates at x and every coupled species' answer to them; returns the largest relative misfit. */
static double misfit(struct cell *c, struct along *f)
{
    double worst = 0.0; /* [-] */
    emb_law_values(c->law, &c->o);
    emb_law_groups(c->law, &c->o);
    emb_law_rates(c->law, &c->o);
    add_fluxes(c, 0);
    for (int a = 0; a < c->n_coupled; a++) {
        f[a] = answer(c, a);
        c->weight[a] = 1.0 / (1e-6 + c->x[a]);
        worst = larger(worst, fabs(f[a].x - c->x[a]) * c->weight[a]);
    }
    return worst;
}

/* One step of all coupled species; d gets it [-]. Returns its largest relative size. */
static double advance(struct cell *c, const struct along *f, bool newton, double *d)
{
    double change = 0.0; /* [-] */
    newton = newton && newton_step(c, f, d);
    for (int a = 0; a < c->n_coupled; a++) {
        const double next = newton ? c->x[a] + d[a] : f[a].x;
        d[a] = (next > 0.1 * f[a].x ? next : f[a].x) - c->x[a];
        change = larger(change, fabs(d[a]) * c->weight[a]);
        c->x[a] += d[a];
    }
    return change;
}

/* Returns the largest relative change of a follower. */
static double follow(struct cell *c)
{
    double change = 0.0; /* [-] */
    for (int a = c->n_coupled; a < c->plan->n_active; a++) {
        const bool changes = c->sink[a] != 0.0 || c->source[a] != 0.0;
        const double x = changes ? answer(c, a).x : c->x_in[a]; /* [-] */
        change = larger(change, fabs(x - c->x[a]) / (1e-9 + c->x[a]));
        c->x[a] = x;
    }
    return change;
}

/* One follower may feed another (HNCO makes NH3): until none moves any more. Where they do not,
 * rates are straight in them, and one pass is all. */
static void settle_followers(struct cell *c)
{
    double change = c->plan->n_active > c->n_coupled ? 1.0 : 0.0; /* [-] */
    for (int k = 0; change > 1e-9 && k < EMB_NGAS; k++) {
        add_fluxes(c, c->n_coupled);
        change = follow(c);
        if (c->plan->chained) {
            emb_law_values(c->law, &c->o);
        } else {
            change = 0.0;
        }
        emb_law_rates(c->law, &c->o); /* followers do not inhibit */
    }
}

/* Where a step made the misfit larger, half of it is taken back. */
static void halve(struct cell *c, double *d)
{
    for (int a = 0; a < c->n_coupled; a++) {
        d[a] *= 0.5;
        c->x[a] -= d[a];
    }
}

/* Inhibition after a last small step d, along its slope: what is left out is the square of that. */
static void carry_groups(struct cell *c, const double *d)
{
    for (size_t i = 0; i < c->plan->set->n_inhibition; i++) {
        double dln = 0.0; /* [-] */
        for (int a = 0; a < c->n_coupled; a++) {
            dln += c->o.dlnG[i][a] * d[a];
        }
        c->o.by_G[1 + i] *= 1.0 - dln;
    }
}

/* Where little reacts two plain sweeps do; elsewhere Newton, which squares its error, so that a
 * small last step is enough. Just past an ignition its steps lead nowhere: the misfit has a
 * smallest value there that is no solution; plain sweeps creep past it. Where a scarce species
 * (oxygen) ties the followers to the others, all are solved together. */
static void solve_cell(struct cell *c, bool warm)
{
    bool close = false; /* the last step was Newton's and small */
    struct along f[EMB_NGAS];
    double d[EMB_NGAS] = {0.0}, before = INFINITY, change = 1.0; /* [-] */
    int halved = 0, plain = 0;
    for (int k = 0; k < MAX_ITERATIONS; k++) {
        if (k == FOLLOW_FOR) {
            c->n_coupled = c->plan->n_active;
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
        emb_law_raise(c->law, &c->o);
        carry_groups(c, d);
    } else {
        emb_law_values(c->law, &c->o);
        emb_law_groups(c->law, &c->o);
    }
    emb_law_rates(c->law, &c->o);
    settle_followers(c);
}

/* What shares in a hint are taken of [-]: a ratio to less than this would mean nothing. */
static inline double whole(const struct cell *c, int a)
{
    return c->x_in[a] + 1e-6;
}

/* What has only begun to flow must not start from nothing: it would never react. */
static bool start(struct cell *c, const struct emb_surface_hint *h)
{
    const bool warm = h != NULL && h->known;
    for (int a = 0; a < c->plan->n_active; a++) {
        c->x[a] =
            warm ? larger(h->x[c->plan->active[a]] * whole(c, a), 1e-6 * c->x_in[a]) : c->x_in[a];
    }
    return warm;
}

static void leave_answer(const struct cell *c, struct emb_surface_hint *h)
{
    h->answered = true;
    for (int a = 0; a < c->plan->n_active; a++) {
        h->answer[c->plan->active[a]] = c->x[a] / whole(c, a);
    }
}

static void enter(struct cell *c, const struct emb_surface_plan *plan, const struct emb_surface *s,
                  const double *n)
{
    double x[EMB_NGAS]; /* [-] by species */
    c->plan = plan;
    c->n_coupled = plan->n_coupled;
    c->x = c->o.value;
    c->N = emb_moles(n);
    c->inv_N = 1.0 / c->N;
    for (int k = 0; k < EMB_NGAS; k++) {
        x[k] = n[k] * c->inv_N;
        x[k] = x[k] > trace ? x[k] : 0.0;
    }
    for (int a = 0; a < plan->n_active; a++) {
        c->x_in[a] = x[plan->active[a]];
        c->km[a] = s->transfer[plan->active[a]];
    }
    c->o.volume = s->volume;
    c->o.nox = x[EMB_NO] + x[EMB_NO2];
}

double emb_surface_react(const struct emb_surface_plan *plan, const struct emb_surface *s,
                         double n[EMB_NSPECIES])
{
    struct cell c;
    struct emb_law own;
    double stored = 0.0;
    c.law = s->law != NULL ? s->law : &own;
    if (s->law == NULL) {
        emb_law_init(&own, plan, s);
    }
    enter(&c, plan, s, n);
    solve_cell(&c, start(&c, s->hint));
    if (s->hint != NULL) {
        leave_answer(&c, s->hint);
    }
    emb_extents_apply(plan, c.N, c.o.r, n);
    for (size_t j = 0; j < plan->set->n; j++) {
        stored += plan->set->r[j].nu_store * c.o.r[j];
    }
    return stored;
}
