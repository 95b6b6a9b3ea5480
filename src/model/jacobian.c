/* jacobian.c - derivatives of every cell by differences, into the chain of the line.
 *
 * The flowing variables are the temperature and the molar flows of the stream; inside a filter
 * those of the outlet channels follow. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/line.h"

enum { ONE = 1 + EMB_NSPECIES };

static double flowing(const struct emb_stream *s, size_t v)
{
    const struct emb_gas *g = v < ONE ? &s->gas : &s->wall;
    return v % ONE == 0 ? g->T : g->n[v % ONE - 1];
}

static void set_flowing(struct emb_stream *s, size_t v, double x)
{
    struct emb_gas *g = v < ONE ? &s->gas : &s->wall;
    *(v % ONE == 0 ? &g->T : &g->n[v % ONE - 1]) = x;
    emb_gas_fold(g, v < ONE ? &s->heat : &s->wall_heat);
}

static size_t width(const struct emb_slot *s, bool inside)
{
    return inside && s->shape.two_streams ? 2 * ONE : ONE;
}

/* What a cell notices of what enters, by bits: temperatures, and the species that it listens to. Of
 * the outlet channels only the temperature: what they carry has passed the wall. */
static unsigned long long heard(const struct emb_slot *s)
{
    const unsigned long long species = s->type->listens != NULL ? s->type->listens(s->par) : 0u;
    return 1u | species << 1 | 1ull << ONE;
}

/* Shapes of all links; returns how many. */
static size_t link_shapes(const struct emb_line *l, struct emb_link *shapes)
{
    size_t n = 0;
    if (l->first > 0) {
        shapes[n++] = (struct emb_link){.row = 0, .n = 1, .m_out = ONE, .lane = ONE};
    }
    for (size_t s = 0; s < l->n_slot; s++) {
        const struct emb_slot *k = &l->slot[s];
        const struct emb_shape *h = &k->shape;
        for (size_t i = 0; i < h->n_cells; i++, n++) {
            const size_t shared = i == 0 ? h->n_shared : 0; /* they go with the first cell */
            shapes[n] =
                (struct emb_link){.row = k->offset + (i == 0 ? 0 : h->n_shared + i * h->n_cell),
                                  .n = shared + h->n_cell,
                                  .t = shared,
                                  .m_in = n == 0 ? 0 : width(k, i > 0),
                                  .m_out = width(k, i + 1 < h->n_cells),
                                  .lane = ONE,
                                  .heard = heard(k)};
        }
    }
    return n;
}

struct emb_chain *emb_line_chain(const struct emb_line *l)
{
    struct emb_link *shapes = calloc(l->n_cells + 1, sizeof *shapes);
    struct emb_chain *c = NULL;
    if (shapes != NULL) {
        const size_t n = link_shapes(l, shapes);
        c = emb_chain_new(n, shapes);
    }
    free(shapes);
    return c;
}

/* One cell, with its surroundings fixed, as a function of its own states and what flows in. */
struct probe {
    const struct emb_slot *slot;
    struct emb_env env;
    size_t i, shared;          /* cell; shared states that go with it */
    double y[EMB_LINK_STATES]; /* shared states first */
    const double *common;      /* all shared states, for the cells behind the first */
    struct emb_stream in;
};
struct reply {
    struct emb_stream out;
    double rate[EMB_LINK_STATES], capacity, tally[EMB_LINK_TALLIES];
    double lost; /* [-] share of the stream that leaks out here */
};

static void ask(const struct probe *p, struct reply *r)
{
    struct emb_tally t = {0};
    double shared[EMB_LINK_STATES] = {0.0};
    const double *common = p->i == 0 ? p->y : p->common;
    p->slot->type->cell(p->slot->par, p->i, &p->env, common, p->y + p->shared, &p->in, &r->out,
                        shared, r->rate + p->shared, &t);
    memcpy(r->rate, shared, p->shared * sizeof *shared);
    r->capacity = t.capacity;
    r->tally[EMB_TALLY_LOSS] = t.loss;
    r->tally[EMB_TALLY_SOOT] = t.soot_burnt;
    r->lost = 0.0;
    if (t.leak[EMB_EL_N] > 0.0) {
        double in[EMB_NELEMENTS]; /* [mol/s] */
        emb_gas_elements(&p->in.gas, in);
        r->lost = t.leak[EMB_EL_N] / in[EMB_EL_N];
    }
}

static void column(const struct reply *now, const struct reply *base, double inv, size_t j,
                   struct emb_link *k, bool own)
{
    double *rates = own ? k->A : k->B, *flows = own ? k->C : k->D, *tallies = own ? k->E : k->F;
    const size_t stride = own ? k->n : k->n_ear;
    for (size_t i = 0; i < k->n; i++) {
        rates[i * stride + j] = (now->rate[i] - base->rate[i]) * inv;
    }
    for (size_t v = 0; v < k->m_out; v++) {
        flows[j * k->m_out + v] = (flowing(&now->out, v) - flowing(&base->out, v)) * inv;
    }
    for (size_t w = 0; w < EMB_LINK_TALLIES; w++) {
        tallies[w * stride + j] = (now->tally[w] - base->tally[w]) * inv;
    }
}

/* Ballast goes on in the same proportion as the whole stream; what does not, crosses the wall. In a
 * single stream all of it goes on but for what leaks, however many moles reactions make: or else a
 * Newton step would lose some. */
static void pass_through(const struct probe *p, const struct reply *base, struct emb_link *k)
{
    const double N = emb_gas_moles(&p->in.gas);
    const bool joined = k->m_in > ONE && k->m_out == ONE; /* the channels end here */
    const bool beside = k->m_out > ONE;
    const double on = beside && N > 0.0 ? emb_gas_moles(&base->out.gas) / N : 1.0 - base->lost;
    k->pass[0][0] = joined ? 1.0 : on;
    k->pass[0][1] = 1.0 - on;
    k->pass[1][0] = joined ? 1.0 : 0.0;
    k->pass[1][1] = 1.0;
}

/* A species that does not flow yet is ballast, though it would be heard: when it does, Newton will
 * ask for fresh derivatives. */
static void silent_column(size_t j, struct emb_link *k)
{
    const size_t v = k->ear[j];
    for (size_t i = 0; i < k->n; i++) {
        k->B[i * k->n_ear + j] = 0.0;
    }
    for (size_t w = 0; w < k->m_out; w++) {
        k->D[j * k->m_out + w] = w % ONE == v ? k->pass[0][w / ONE] : 0.0;
    }
    for (size_t w = 0; w < EMB_LINK_TALLIES; w++) {
        k->F[w * k->n_ear + j] = 0.0;
    }
}

/* Where a surface was searched for, asks again from its own answer, from which the columns start
 * too: what the search leaves over cancels. */
static void ask_base(struct probe *p, struct reply *base)
{
    bool searched = false;
    ask(p, base);
    for (int h = 0; h < EMB_HINTS; h++) {
        struct emb_surface_hint *hint = &p->env.hint[h];
        hint->known = hint->answered;
        memcpy(hint->x, hint->answer, sizeof hint->x);
        searched = searched || hint->answered;
    }
    if (searched) {
        ask(p, base);
    }
}

/* Has a surface gone over to another of its answers since the base? At an ignition a thousandth of
 * a kelvin is enough; what it does then is a jump and no slope, and a slope made of it would be so
 * steep that Newton takes every residual for a trifle. */
static bool jumped(const struct probe *p)
{
    bool far = false;
    for (int h = 0; h < EMB_HINTS; h++) {
        const struct emb_surface_hint *hint = &p->env.hint[h];
        for (int k = 0; hint->known && k < EMB_NGAS; k++) {
            const double off = fabs(hint->answer[k] - hint->x[k]); /* [-] shares of the flow */
            far = far || off > 0.01 + 0.1 * hint->x[k];
        }
    }
    return far;
}

enum moved { OWN, ENTERS, BEFORE, BEHIND }; /* what of a cell's arguments */

static double *lever(struct probe *p, enum moved what, size_t j)
{
    return what == OWN ? &p->y[j] : what == BEFORE ? &p->env.before : &p->env.behind;
}

static void set(struct probe *p, enum moved what, size_t j, double to)
{
    if (what == ENTERS) {
        set_flowing(&p->in, j, to);
    } else {
        *lever(p, what, j) = to;
    }
}

/* What a column is made of: a reply less another one, over what lies between. */
struct slope {
    const struct reply *to, *from;
    double by; /* 1 over the step */
};

/* One argument moved by a step from the base, or back by it where a surface jumps on the way. Where
 * it jumps either way the base is the odd one out, and the slope is that of the other answer. */
static struct slope ask_moved(struct probe *p, enum moved what, size_t j, double step,
                              const struct reply *base, struct reply moved[2])
{
    const double keep = what == ENTERS ? flowing(&p->in, j) : *lever(p, what, j);
    struct slope s = {&moved[0], base, 1.0 / step};
    set(p, what, j, keep + step);
    ask(p, &moved[0]);
    if (jumped(p) && keep > step) {
        set(p, what, j, keep - step);
        ask(p, &moved[1]);
        s = jumped(p) ? (struct slope){&moved[0], &moved[1], 0.5 / step}
                      : (struct slope){&moved[1], base, -1.0 / step};
    }
    set(p, what, j, keep);
    return s;
}

static void fill_link(struct probe *p, struct emb_link *k, struct reply *base)
{
    struct reply moved[2];
    const double N = emb_gas_moles(&p->in.gas);
    ask_base(p, base);
    for (size_t j = 0; j < k->n; j++) {
        const double step = j == k->t ? 1e-3 : 1e-5 * fabs(p->y[j]) + 1e-7;
        const struct slope s = ask_moved(p, OWN, j, step, base, moved);
        column(s.to, s.from, s.by, j, k, true);
    }
    pass_through(p, base, k);
    for (size_t j = 0; j < k->n_ear; j++) {
        const size_t v = k->ear[j];
        const double keep = flowing(&p->in, v);
        const double step = v % ONE == 0 ? 1e-3 : 1e-5 * keep + 1e-9 * N; /* [K], [mol/s] */
        if (keep == 0.0) {
            silent_column(j, k);
            continue;
        }
        const struct slope s = ask_moved(p, ENTERS, v, step, base, moved);
        column(s.to, s.from, s.by, j, k, false);
    }
}

/* What T of one neighbour does: by the slope of the solid along the cell, and by conduction, g
 * [1/s]. */
static struct emb_beside beside(struct probe *p, enum moved which, double g,
                                const struct emb_link *k, const struct reply *base)
{
    struct emb_beside b = {.rate = g};
    struct reply moved[2];
    if (isnan(*lever(p, which, 0)) || k->n == 0) {
        return (struct emb_beside){0};
    }
    const struct slope s = ask_moved(p, which, 0, 1e-3, base, moved);
    b.rate += (s.to->rate[k->t] - s.from->rate[k->t]) * s.by;
    for (size_t l = 0, v = 0; v < k->m_out; l++, v += k->lane) {
        b.out[l] = (flowing(&s.to->out, v) - flowing(&s.from->out, v)) * s.by;
    }
    return b;
}

static void add_neighbours(struct probe *p, const struct reply *base, struct emb_link *k)
{
    const struct emb_shape *h = &p->slot->shape;
    const double g = h->axial > 0.0 ? h->axial / base->capacity : 0.0; /* [1/s] */
    k->up = beside(p, BEFORE, g, k, base);
    k->down = beside(p, BEHIND, g, k, base);
    if (k->n > 0) {
        k->A[k->t * k->n + k->t] -=
            (isnan(p->env.before) ? 0.0 : g) + (isnan(p->env.behind) ? 0.0 : g);
    }
}

static void source_link(const struct emb_line *l, const struct emb_moment *at, const double *y,
                        struct emb_link *k, struct emb_stream *st)
{
    const double step = 1e-3, moved = y[0] + step; /* [K] */
    double d0 = 0.0, d1 = 0.0;                     /* [K/s] */
    struct emb_stream far;
    emb_line_source(l, at, y, &d0, &st->gas, NULL);
    emb_line_source(l, at, &moved, &d1, &far.gas, NULL);
    k->A[0] = (d1 - d0) / step;
    for (size_t v = 0; v < ONE; v++) {
        k->C[v] = (flowing(&far, v) - flowing(st, v)) / step;
    }
}

int emb_line_jacobian(const struct emb_line *l, const struct emb_moment *at, const double *y,
                      struct emb_chain *chain)
{
    struct emb_surface_hint hint[EMB_HINTS];
    struct emb_link *k = chain->link;
    struct probe p = {.env = emb_line_env(l, at)};
    struct reply base;
    const struct emb_surface_hint *line_hint = at->hint;
    p.env.hint = hint;
    p.env.close = 0.0; /* differences want all digits */
    memset(&p.in, 0, sizeof p.in);
    if (l->first > 0) {
        source_link(l, at, y, k++, &p.in);
    } else {
        emb_line_source(l, at, y, NULL, &p.in.gas, NULL);
    }
    emb_gas_fold(&p.in.gas, &p.in.heat);
    for (size_t s = 0; s < l->n_slot; s++) {
        p.slot = &l->slot[s];
        p.common = y + p.slot->offset;
        for (p.i = 0; p.i < p.slot->shape.n_cells; p.i++, k++) {
            p.shared = k->t;
            for (int h = 0; h < EMB_HINTS; h++) { /* the line's own stay as they are */
                hint[h] = line_hint != NULL ? *line_hint++ : (struct emb_surface_hint){0};
            }
            memcpy(p.y, y + k->row, k->n * sizeof *y);
            emb_slot_neighbours(p.slot, p.i, y, &p.env);
            fill_link(&p, k, &base);
            add_neighbours(&p, &base, k);
            p.in = base.out;
        }
    }
    return 0;
}
