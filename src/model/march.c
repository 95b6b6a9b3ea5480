/* march.c - the slot loop: hand each cell its slice of the state, pass its outflow on. Axial
 * conduction is added here, once for all kinds, from each cell's heat capacity. */
#include <string.h>

#include "emberpipe/line.h"

static void tally_add(struct emb_slot_flow *f, const struct emb_tally *t)
{
    f->loss += t->loss;
    f->work += t->work;
    f->fuel += t->fuel;
    f->def += t->def;
    f->soot_burnt += t->soot_burnt;
    f->feed_H += t->feed_H;
    f->leak_H += t->leak_H;
    for (int e = 0; e < EMB_NELEMENTS; e++) {
        f->feed[e] += t->feed[e];
        f->leak[e] += t->leak[e];
    }
}

/* Conduction between neighbours, once the capacity of the cell is known. */
static double conduction(const struct emb_shape *s, size_t i, const double *T, double capacity)
{
    double q = 0.0;
    if (i > 0) {
        q += T[-(ptrdiff_t)s->n_cell] - T[0];
    }
    if (i + 1 < s->n_cells) {
        q += T[s->n_cell] - T[0];
    }
    return s->axial * q / capacity;
}

/* What is noted of the links as the march goes, and what is known of them from a march nearby. */
struct notes {
    const struct emb_nearby *near; /* NULL: nothing */
    double *passed;                /* of the next link, or NULL */
    size_t row, link;              /* numbers per link; number of the next link */
};

/* Two streams that swap their places: what leaves one cell is what enters the next. */
struct passage {
    struct emb_stream stream[2];
    struct emb_stream *in, *out;
    bool beside, folded; /* `in` has a second lane; its folds are made */
    struct notes notes;
};

static void next_note(struct notes *n)
{
    n->passed += n->passed != NULL ? n->row : 0;
    n->link++;
}

static void move_on(struct passage *p, bool beside, bool folded)
{
    struct emb_stream *const left = p->out;
    p->out = p->in;
    p->in = left;
    p->beside = beside;
    p->folded = folded;
    next_note(&p->notes);
}

static void fold_in(struct passage *p)
{
    if (!p->folded) {
        emb_gas_fold(&p->in->gas, &p->in->heat);
    }
    if (!p->folded && p->beside) {
        emb_gas_fold(&p->in->wall, &p->in->wall_heat);
    }
    p->folded = true;
}

/* The flowing variables in the order of the chain (jacobian.c), and the tallies. */
static void note(const struct emb_stream *st, bool beside, const struct emb_tally *t,
                 const struct notes *n)
{
    double *to = n->passed;
    if (to == NULL) {
        return;
    }
    double *tally = to + n->row - EMB_LINK_TALLIES;
    to[0] = st->gas.T;
    memcpy(to + 1, st->gas.n, sizeof st->gas.n);
    if (beside) {
        to += 1 + EMB_NSPECIES;
        to[0] = st->wall.T;
        memcpy(to + 1, st->wall.n, sizeof st->wall.n);
    }
    tally[EMB_TALLY_LOSS] = t->loss;
    tally[EMB_TALLY_SOOT] = t->soot_burnt;
}

/* The other way: what was noted becomes a stream, without its folds. */
static void take_noted(const struct notes *n, bool beside, struct emb_stream *st,
                       struct emb_tally *t)
{
    const double *from = n->passed, *tally = from + n->row - EMB_LINK_TALLIES;
    st->gas.T = from[0];
    memcpy(st->gas.n, from + 1, sizeof st->gas.n);
    if (beside) {
        from += 1 + EMB_NSPECIES;
        st->wall.T = from[0];
        memcpy(st->wall.n, from + 1, sizeof st->wall.n);
    }
    t->loss = tally[EMB_TALLY_LOSS];
    t->soot_burnt = tally[EMB_TALLY_SOOT];
}

/* Cell i told from a march nearby; false: it must be asked. */
static bool tell(const struct emb_slot *s, size_t i, bool beside, const double *y,
                 struct passage *p, double *shared, double *d, struct emb_tally *t)
{
    const struct notes *n = &p->notes;
    const size_t first = i == 0 ? s->shape.n_shared : 0; /* they go with the first cell */
    double rates[EMB_LINK_STATES];
    if (n->near == NULL || !s->type->straight ||
        !emb_nearby_tell(n->near, n->link, y, n->link > 0 ? n->passed - n->row : n->passed,
                         n->passed, rates)) {
        return false;
    }
    memcpy(shared, rates, first * sizeof *rates);
    memcpy(d, rates + first, s->shape.n_cell * sizeof *d);
    take_noted(n, beside, p->out, t);
    return true;
}

static void ask(const struct emb_slot *s, size_t i, bool beside, struct emb_env *env,
                const double *y, struct passage *p, double *shared, double *d, struct emb_tally *t)
{
    const struct emb_shape *h = &s->shape;
    const double *ys = y + s->offset, *yc = ys + h->n_shared + i * h->n_cell;
    fold_in(p);
    emb_slot_neighbours(s, i, y, env);
    s->type->cell(s->par, i, env, ys, yc, p->in, p->out, shared, d, t);
    note(p->out, beside, t, &p->notes);
    if (h->axial > 0.0) {
        d[0] += conduction(h, i, yc, t->capacity);
    }
}

static void slot_march(const struct emb_slot *s, const struct emb_env *around, const double *y,
                       double *dydt, struct passage *p, struct emb_slot_flow *f)
{
    struct emb_env env = *around;
    const struct emb_shape *h = &s->shape;
    double scratch[EMB_LINK_STATES], shared[EMB_LINK_STATES] = {0.0};
    for (size_t i = 0; i < h->n_cells; i++) {
        double *d = (dydt != NULL) ? dydt + s->offset + h->n_shared + i * h->n_cell : scratch;
        const bool beside = h->two_streams && i + 1 < h->n_cells;
        struct emb_tally t = {0};
        const bool told = tell(s, i, beside, y, p, shared, d, &t);
        if (!told) {
            ask(s, i, beside, &env, y, p, shared, d, &t);
        }
        env.hint += env.hint != NULL ? EMB_HINTS : 0;
        move_on(p, beside, !told);
        if (f != NULL) {
            tally_add(f, &t);
        }
    }
    for (size_t k = 0; dydt != NULL && k < h->n_shared; k++) {
        dydt[s->offset + k] = shared[k];
    }
}

static int sane(const struct emb_line *l, const double *y)
{
    for (size_t s = 0; s < l->n_slot; s++) {
        const struct emb_shape *h = &l->slot[s].shape;
        for (size_t i = 0; h->n_cell > 0 && i < h->n_cells; i++) {
            const double T = y[l->slot[s].offset + h->n_shared + i * h->n_cell];
            if (!(T > 150.0 && T < 3500.0)) {
                return 0;
            }
        }
    }
    return 1;
}

int emb_line_march(const struct emb_line *l, const struct emb_moment *at, const double *y,
                   double *dydt, struct emb_march *m)
{
    struct emb_env env = emb_line_env(l, at);
    struct passage p = {.in = &p.stream[0], .out = &p.stream[1]};
    if (!sane(l, y)) {
        return 1;
    }
    emb_line_source(l, at, y, dydt, &p.in->gas, m);
    if (m != NULL) {
        m->source = p.in->gas;
        p.notes = (struct notes){m->near, m->passed, m->row, 0};
    }
    if (l->first > 0) {
        note(p.in, false, &(struct emb_tally){0}, &p.notes);
        next_note(&p.notes);
    }
    for (size_t s = 0; s < l->n_slot; s++) {
        struct emb_slot_flow *f = NULL;
        if (m != NULL) {
            f = &m->slot[s];
            memset(f, 0, sizeof *f);
            f->in = p.in->gas;
        }
        slot_march(&l->slot[s], &env, y, dydt, &p, f);
        env.hint += env.hint != NULL ? EMB_HINTS * l->slot[s].shape.n_cells : 0;
        if (f != NULL) {
            f->out = p.in->gas;
        }
    }
    return 0;
}
