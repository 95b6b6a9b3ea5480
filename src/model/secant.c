#include "emberpipe/secant.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/carve.h"
#include "emberpipe/tolerance.h"

/* Judgement, all of these; the work changes little within a factor of ten of each. */
static const double slow = 0.2; /* [-] a correction is to be smaller than that of the one before */
static const double least = 0.01; /* [-] tolerances; who moves by less teaches nothing */
static const double kelvin = 0.1; /* [K] of a flow that counts as much as a state's tolerance, */
static const double share = 0.01; /* [-] of a flow of a species that does, */
static const double trace = 1e-6; /* [-] of the whole flow that does, where there is little of it */
static const double trifle = 0.1; /* [-] who corrects so much less for learning, learnt a jump */

struct emb_secant {
    struct emb_chain *chain;
    size_t n, n_passed; /* states; numbers in a point's `passed` */
    double rtol;
    const double *atol;
    bool learns, known; /* known: the last iterate, below, is of the same derivatives */
    double t, *y, *rates, *passed, *moved;
    double size;            /* [-] root mean square of `moved`, in tolerances */
    double *weight, *asked; /* 1 over tolerances; right-hand side of a solution */
    double *room;           /* behind all of these */
};

struct emb_secant *emb_secant_new(struct emb_chain *chain, size_t n, double rtol,
                                  const double *atol, bool learns)
{
    struct emb_secant *s = calloc(1, sizeof *s);
    const size_t m = emb_chain_passed(chain);
    double *next = s != NULL ? calloc(5 * n + m + 1, sizeof *next) : NULL;
    if (next == NULL) {
        free(s);
        return NULL;
    }
    *s = (struct emb_secant){.learns = learns,
                             .chain = chain,
                             .n = n,
                             .n_passed = m,
                             .rtol = rtol,
                             .atol = atol,
                             .room = next};
    s->y = emb_carve(&next, n);
    s->rates = emb_carve(&next, n);
    s->passed = emb_carve(&next, m);
    s->moved = emb_carve(&next, n);
    s->weight = emb_carve(&next, n);
    s->asked = emb_carve(&next, n);
    return s;
}

void emb_secant_free(struct emb_secant *s)
{
    if (s != NULL) {
        free(s->room);
        free(s);
    }
}

void emb_secant_forget(struct emb_secant *s)
{
    s->known = false;
}

/* Is `now` where the last correction led? */
static bool follows(const struct emb_secant *s, const struct emb_point *now)
{
    bool same = s->known && now->t == s->t;
    for (size_t i = 0; same && i < s->n; i++) {
        same = fabs(now->y[i] - s->y[i] - s->moved[i]) * s->weight[i] < 1e-3;
    }
    return same;
}

/* The way of one link: its own states and what it hears, and the same over their squared worth and
 * the squared length of the way, so that `along` times the way is one. */
struct way {
    const struct emb_link *link;
    double own[EMB_LINK_STATES], own_along[EMB_LINK_STATES];
    double heard[EMB_LINK_FLOWS], heard_along[EMB_LINK_FLOWS];
};

/* What counts of flowing variable v as much as the tolerance of a state. */
static double worth_of(const struct emb_link *k, size_t v, double in, double whole)
{
    return v % k->lane == 0 ? kelvin : share * fabs(in) + trace * whole + 1e-30;
}

/* false: too short to learn from. */
static bool find_way(const struct emb_secant *s, const struct emb_link *k, const double *y,
                     const double *in_before, const double *in, struct way *w)
{
    const double whole = emb_link_whole(k, in);
    double length = 0.0; /* [-] squared */
    w->link = k;
    for (size_t j = 0; j < k->n; j++) {
        const double by = s->weight[k->row + j];
        w->own[j] = y[k->row + j] - s->y[k->row + j];
        w->own_along[j] = w->own[j] * by * by;
        length += w->own[j] * w->own_along[j];
    }
    for (size_t j = 0; j < k->n_ear; j++) {
        const size_t v = k->ear[j];
        const double by = 1.0 / worth_of(k, v, in[v], whole);
        w->heard[j] = in[v] - in_before[v];
        w->heard_along[j] = w->heard[j] * by * by;
        length += w->heard[j] * w->heard_along[j];
    }
    if (!(length > least * least)) {
        return false;
    }
    for (size_t j = 0; j < k->n; j++) {
        w->own_along[j] /= length;
    }
    for (size_t j = 0; j < k->n_ear; j++) {
        w->heard_along[j] /= length;
    }
    return true;
}

/* One row of derivatives, by own states and by what is heard, with their strides: made to give
 * `change` along the way. */
static void bend(const struct way *w, double change, double *own, size_t own_step, double *heard,
                 size_t heard_step)
{
    const struct emb_link *k = w->link;
    for (size_t j = 0; j < k->n; j++) {
        change -= own[j * own_step] * w->own[j];
    }
    for (size_t j = 0; j < k->n_ear; j++) {
        change -= heard[j * heard_step] * w->heard[j];
    }
    for (size_t j = 0; j < k->n; j++) {
        own[j * own_step] += change * w->own_along[j];
    }
    for (size_t j = 0; j < k->n_ear; j++) {
        heard[j * heard_step] += change * w->heard_along[j];
    }
}

static void learn_rates(const struct emb_secant *s, const struct way *w, const struct emb_point *at,
                        double given)
{
    const struct emb_link *k = w->link;
    for (size_t i = 0; i < k->n; i++) {
        const double change = at->rates[k->row + i] - s->rates[k->row + i];
        bend(w, i == k->t ? change - given : change, k->A + i * k->n, 1, k->B + i * k->n_ear, 1);
    }
}

/* What neighbours do to a link is not the link's to learn. */
static void learn_link(const struct emb_secant *s, struct emb_link *k, const struct emb_point *now,
                       size_t i)
{
    const size_t row = emb_chain_row(s->chain);
    const double *out = now->passed + i * row, *out_before = s->passed + i * row;
    const double *in = i > 0 ? out - row : out; /* nothing enters the first */
    const double *in_before = i > 0 ? out_before - row : out_before;
    struct way w;
    double in_change[EMB_LINK_FLOWS], rest[EMB_LINK_FLOWS];
    if (!find_way(s, k, now->y, in_before, in, &w)) {
        return;
    }
    const struct emb_beside given = emb_link_given(k, s->y, now->y);
    learn_rates(s, &w, now, given.rate);
    for (size_t v = 0; v < k->m_in; v++) {
        in_change[v] = in[v] - in_before[v];
    }
    emb_chain_let_pass(k, in_change, rest);
    emb_link_add_given(k, &given, 1.0, rest);
    for (size_t v = 0; v < k->m_out; v++) {
        bend(&w, out[v] - out_before[v] - rest[v], k->C + v, k->m_out, k->D + v, k->m_out);
    }
    for (size_t t = 0, v = s->chain->widest; t < EMB_LINK_TALLIES; t++, v++) {
        bend(&w, out[v] - out_before[v], k->E + t * k->n, 1, k->F + t * k->n_ear, 1);
    }
}

static void keep(struct emb_secant *s, const struct emb_point *now, const double *b, double size)
{
    s->t = now->t;
    memcpy(s->y, now->y, s->n * sizeof *b);
    memcpy(s->rates, now->rates, s->n * sizeof *b);
    memcpy(s->passed, now->passed, s->n_passed * sizeof *b);
    memcpy(s->moved, b, s->n * sizeof *b);
    s->size = size;
    s->known = true;
}

/* The correction b, and its size; if it is not much smaller than the one that led here, a better
 * one. */
static double learn_and_solve(struct emb_secant *s, const struct emb_point *now, double *b)
{
    emb_tolerance_weights(s->n, 1.0, s->rtol, s->atol, now->y, s->weight);
    memcpy(s->asked, b, s->n * sizeof *b);
    emb_chain_solve(s->chain, b);
    const double size = emb_tolerance_size(s->n, b, s->weight); /* [-] */
    if (!(size > least && size > slow * s->size && follows(s, now))) {
        return size;
    }
    for (size_t i = 0; i < s->chain->n_link; i++) {
        learn_link(s, &s->chain->link[i], now, i);
    }
    if (emb_chain_factor(s->chain, s->chain->gamma) != 0) {
        b[0] = NAN;
        return NAN;
    }
    memcpy(b, s->asked, s->n * sizeof *b);
    emb_chain_solve(s->chain, b);
    const double learnt = emb_tolerance_size(s->n, b, s->weight); /* [-] */
    if (!(learnt > trifle * size)) {
        b[0] = NAN; /* not to be mistaken for convergence: fresh derivatives instead */
    }
    return learnt;
}

void emb_secant_solve(struct emb_secant *s, const struct emb_point *now, double *b)
{
    if (s->learns) {
        keep(s, now, b, learn_and_solve(s, now, b));
    } else {
        emb_chain_solve(s->chain, b);
        keep(s, now, b, 0.0);
    }
}

bool emb_secant_last(const struct emb_secant *s, double t, struct emb_point *at)
{
    *at = (struct emb_point){s->t, s->y, s->rates, s->passed};
    return s->known && s->t == t;
}
