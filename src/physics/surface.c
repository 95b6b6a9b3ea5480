/* surface.c - surface mole fractions and what the flow loses over one cell.
 *
 * Each species sees a linear sink a (what consumes it, divided by its own mole fraction) and a
 * source P; with them the profile along the cell, and the film, have an exact solution, written
 * x = phi(a, P) here (along.h). The fixed point x = phi(a(x), P(x)) is found by Newton, begun with
 * one plain sweep from the bulk, so that the inhibited branch is picked where two exist; a plain
 * sweep also stands in wherever Newton would leave the positive side. */
#include <math.h>

#include "along.h"
#include "extents.h"
#include "gauss.h"
#include "law.h"

enum { MAX_ITERATIONS = 500, FOLLOW_FOR = 10, PLAIN_FOR = 6, WIDEST = EMB_NX };
static const double closest = 1e-5; /* [-] last step, if nothing else is asked */
static const double trace =
    1e-18; /* [-] less takes no part: spares numbers too small to be quick */

static inline double larger(double a, double b)
{
    return a > b ? a : b;
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
static void add_reversible(struct cell *c, int j)
{
    const struct emb_surface_plan *p = c->plan;
    const double back = c->o.volume * c->law->k[j] * c->law->back; /* [mol/s] */
    for (int i = 0; i < p->n_turned; i++) {
        const int a = p->turned[i];
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

static void add_fluxes(struct cell *c)
{
    const struct emb_surface_plan *p = c->plan;
    for (int a = 0; a < p->n_active; a++) {
        c->sink[a] = c->source[a] = 0.0;
    }
    emb_add_terms(&p->sink, c->o.r, c->sink);
    emb_add_terms(&p->source, c->o.r, c->source);
    if (p->reversible >= 0) {
        add_reversible(c, p->reversible);
    }
}

static struct emb_along answer(const struct cell *c, int a)
{
    return emb_along_cell(c->inv_N, c->x_in[a], c->km[a], c->sink[a] * c->o.slope[a], c->source[a]);
}

/* ---- Newton's matrix; `width` as in gauss.h ---- */

/* Takes from row a the slopes of reaction j's share in a flux that changes the answer by `by`
 * [s/mol]; what inhibition does to it is only counted, group by group. */
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

enum { GROUPS = 1 + EMB_MAX_INHIBITIONS };

static inline void add_shares(const struct cell *c, const struct emb_surface_terms *t,
                              const double *by, int n, int width, double *A,
                              double (*inhibited)[GROUPS])
{
    for (int i = 0; i < t->n; i++) {
        const struct emb_surface_term *q = &t->term[i];
        if (q->to < n) {
            add_share(c, q->reaction, by[q->to] * q->nu, n, A + q->to * width, inhibited[q->to]);
        }
    }
}

static inline void add_reversible_shares(const struct cell *c, const double *by_sink,
                                         const double *by_source, int n, int width, double *A,
                                         double (*inhibited)[GROUPS])
{
    const struct emb_surface_plan *p = c->plan;
    const int j = p->reversible;
    for (int i = 0; i < p->n_turned && p->turned[i] < n; i++) {
        const int a = p->turned[i];
        const double nu = p->set->r[j].nu[p->active[a]];
        add_share(c, j, nu < 0.0 ? -nu * by_sink[a] : nu * by_source[a], n, A + a * width,
                  inhibited[a]);
        if (a == p->no) {
            A[a * width + a] -= by_sink[a] * c->o.volume * c->law->k[j] * c->law->back;
        }
    }
}

/* I minus the slopes of the answers, and in the last column what they are off. */
static inline void newton_rows(const struct cell *c, const struct emb_along *f, int n, int width,
                               double *A)
{
    const struct emb_surface_plan *p = c->plan;
    double by_sink[EMB_NGAS], by_source[EMB_NGAS]; /* [s/mol] slopes of the answers */
    double inhibited[EMB_NGAS][GROUPS];            /* [-] */
    for (int a = 0; a < n; a++) {
        by_sink[a] = f[a].dx_da * c->o.slope[a];
        by_source[a] = f[a].dx_dP;
        for (int g = 0; g < GROUPS; g++) {
            inhibited[a][g] = 0.0;
        }
        for (int m = 0; m < width; m++) {
            A[a * width + m] = 0.0;
        }
        /* a = sink/x falls as x grows */
        A[a * width + a] = 1.0 + by_sink[a] * c->sink[a] * c->o.slope[a];
    }
    add_shares(c, &p->sink, by_sink, n, width, A, inhibited);
    add_shares(c, &p->source, by_source, n, width, A, inhibited);
    if (p->reversible >= 0) {
        add_reversible_shares(c, by_sink, by_source, n, width, A, inhibited);
    }
    for (int a = 0; a < n; a++) {
        for (size_t i = 0; i < p->set->n_inhibition; i++) {
            for (int m = 0; m < width; m++) {
                A[a * width + m] += inhibited[a][1 + i] * c->o.dlnG[i][m];
            }
        }
        A[a * width + width - 1] = f[a].x - c->x[a];
    }
}

/* The Newton correction d of the n coupled species, from their plain sweep f. */
static inline bool newton_of(const struct cell *c, const struct emb_along *f, double *d, int n,
                             int width)
{
    double A[EMB_NGAS * WIDEST];
    newton_rows(c, f, n, width, A);
    const bool solved = emb_gauss(n, width, A);
    for (int a = 0; a < n; a++) {
        d[a] = A[a * width + width - 1];
    }
    return solved;
}

/* The built-in sets couple two species (reduction) or five (oxidation): worth code of their own. */
static bool newton_step(const struct cell *c, const struct emb_along *f, double *d)
{
    return c->n_coupled == 2   ? newton_of(c, f, d, 2, 4)
           : c->n_coupled == 5 ? newton_of(c, f, d, 5, 6)
                               : newton_of(c, f, d, c->n_coupled, WIDEST);
}

/* ---- the search ---- */

/* Rates at x and every coupled species' answer to them; returns the largest relative misfit. */
static double misfit(struct cell *c, struct emb_along *f)
{
    double worst = 0.0; /* [-] */
    emb_law_values(c->law, &c->o);
    emb_law_groups(c->law, &c->o);
    emb_law_rates(c->law, &c->o);
    add_fluxes(c);
    for (int a = 0; a < c->n_coupled; a++) {
        f[a] = answer(c, a);
        c->weight[a] = 1.0 / (1e-6 + c->x[a]);
        worst = larger(worst, fabs(f[a].x - c->x[a]) * c->weight[a]);
    }
    return worst;
}

/* One step of all coupled species; d gets it [-]. Returns its largest relative size. */
static double advance(struct cell *c, const struct emb_along *f, bool newton, double *d)
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
        add_fluxes(c);
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
 * smallest value there that is no solution; plain sweeps creep past it, twice as many of them each
 * time that Newton then turns back. Where a scarce species (oxygen) ties the followers to the
 * others, all are solved together. */
static void solve_cell(struct cell *c, bool warm, double close_by)
{
    bool close = false; /* the last step was Newton's and small */
    struct emb_along f[EMB_NGAS];
    double d[EMB_NGAS], before = INFINITY, change = 1.0; /* [-] */
    int halved = 0, plain = 0, sweeps = PLAIN_FOR;
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
        plain = halved == 3 ? sweeps : plain > 0 ? plain - 1 : 0;
        sweeps *= halved == 3 ? 2 : 1;
        before = plain > 0 ? INFINITY : now;
        halved = 0;
        const bool newton = plain == 0 && (warm || k > 1 || (k == 1 && change > 1e-4));
        change = advance(c, f, newton, d);
        close = newton && change < close_by;
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
    solve_cell(&c, start(&c, s->hint), s->close > 0.0 ? s->close : closest);
    if (s->hint != NULL) {
        leave_answer(&c, s->hint);
    }
    emb_extents_apply(plan, c.N, c.o.r, n);
    for (size_t j = 0; j < plan->set->n; j++) {
        stored += plan->set->r[j].nu_store * c.o.r[j];
    }
    return stored;
}
