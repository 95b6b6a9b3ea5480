#include "emberpipe/nearby.h"

#include <math.h>

#include "emberpipe/columns.h"

/* [K] burning one mole of carbon per mole of gas would warm it: 600 kJ/mol over 30 J/(mol K),
 * rounded. The flow of a species has moved by little if what it could burn moves the gas by little.
 */
static const double flame = 2e4;

struct move { /* of one link */
    double own[EMB_LINK_STATES], in[EMB_LINK_FLOWS], heard[EMB_LINK_FLOWS];
};

static bool moved_little(const struct emb_nearby *n, const struct emb_link *k, const double *y,
                         const double *in, const double *in_then, struct move *m)
{
    for (size_t j = 0; j < k->n; j++) {
        m->own[j] = y[k->row + j] - n->at.y[k->row + j];
        if (!(fabs(m->own[j]) * n->weight[k->row + j] < 1.0)) {
            return false;
        }
    }
    const double whole = emb_link_whole(k, in);
    for (size_t v = 0; v < k->m_in; v++) {
        m->in[v] = in[v] - in_then[v];
        const double small = v % k->lane == 0 ? n->small_T : n->small_T / flame * whole;
        if (!(fabs(m->in[v]) < small)) {
            return false;
        }
    }
    for (size_t j = 0; j < k->n_ear; j++) {
        m->heard[j] = m->in[k->ear[j]];
    }
    return true;
}

static double along(const struct emb_link *k, const struct move *m, const double *own,
                    const double *heard)
{
    double sum = 0.0;
    for (size_t j = 0; j < k->n; j++) {
        sum += own[j] * m->own[j];
    }
    for (size_t j = 0; j < k->n_ear; j++) {
        sum += heard[j] * m->heard[j];
    }
    return sum;
}

static void tell_rates(const struct emb_nearby *n, const struct emb_link *k, const struct move *m,
                       double *rates)
{
    for (size_t r = 0; r < k->n; r++) {
        rates[r] = n->at.rates[k->row + r] + along(k, m, k->A + r * k->n, k->B + r * k->n_ear);
    }
}

bool emb_nearby_tell(const struct emb_nearby *n, size_t i, const double *y, const double *in,
                     double *out, double *rates)
{
    const struct emb_link *k = &n->chain->link[i];
    const size_t row = emb_chain_row(n->chain);
    const double *then = n->at.passed + i * row;
    struct move m;
    if (!moved_little(n, k, y, in, i > 0 ? then - row : then, &m)) {
        return false;
    }
    const struct emb_beside given = emb_link_given(k, n->at.y, y);
    tell_rates(n, k, &m, rates);
    rates[k->t] += given.rate;
    emb_chain_let_pass(k, m.in, out);
    emb_add_columns(k->C, m.own, k->n, out, k->m_out);
    emb_add_columns(k->D, m.heard, k->n_ear, out, k->m_out);
    for (size_t v = 0; v < k->m_out; v++) {
        out[v] += then[v];
    }
    emb_link_add_given(k, &given, 1.0, out);
    for (size_t w = 0, v = n->chain->widest; w < EMB_LINK_TALLIES; w++, v++) {
        out[v] = then[v] + along(k, &m, k->E + w * k->n, k->F + w * k->n_ear);
    }
    return true;
}
