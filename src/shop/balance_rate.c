/* balance_rate.c - slow soot: a rate known at three loads, integrated. */
#include <gsl/gsl_integration.h>
#include <math.h>

#include "emberpipe/balance.h"

/* Lagrange's parabola through the nodes: exact where burning is proportional to the soot. */
static double rate_at(const struct emb_balance_node *n, double s)
{
    double sum = 0.0;
    for (int i = 0; i < EMB_BALANCE_NODES; i++) {
        double w = 1.0;
        for (int k = 0; k < EMB_BALANCE_NODES; k++) {
            w *= k == i ? 1.0 : (s - n[k].soot) / (n[i].soot - n[k].soot);
        }
        sum += w * n[i].rate;
    }
    return sum;
}

/* First zero of the rate between a and z; NaN: none. */
static double rate_zero(const struct emb_balance_node *n, double a, double z)
{
    enum { PARTS = 200 };
    double lo = a;
    for (int i = 1; i <= PARTS; i++) {
        double hi = a + (z - a) * i / PARTS;
        if ((rate_at(n, lo) > 0.0) != (rate_at(n, hi) > 0.0)) {
            for (int k = 0; k < 60; k++) {
                const double mid = 0.5 * (lo + hi);
                if ((rate_at(n, mid) > 0.0) == (rate_at(n, lo) > 0.0)) {
                    lo = mid;
                } else {
                    hi = mid;
                }
            }
            return 0.5 * (lo + hi);
        }
        lo = hi;
    }
    return NAN;
}

struct slowness {
    const struct emb_balance_node *n;
};

static double slowness_at(double s, void *user)
{
    const struct slowness *k = user;
    return 1.0 / rate_at(k->n, s);
}

double emb_balance_time(const struct emb_balance_node node[EMB_BALANCE_NODES], double from,
                        double to, double *level)
{
    const double r = rate_at(node, from);
    *level = NAN;
    if (r == 0.0 || (r > 0.0) != (to > from)) { /* it moves away from there */
        *level = r < 0.0 && to > from ? rate_zero(node, from, 0.0) : NAN;
        return INFINITY;
    }
    *level = rate_zero(node, from, to);
    if (!isnan(*level)) {
        return INFINITY;
    }
    struct slowness k = {node};
    gsl_function f = {slowness_at, &k};
    gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(64);
    const double t = table != NULL ? gsl_integration_glfixed(&f, from, to, table) : NAN;
    if (table != NULL) {
        gsl_integration_glfixed_table_free(table);
    }
    return t;
}

double emb_balance_after(const struct emb_balance_node node[EMB_BALANCE_NODES], double from,
                         double t)
{
    enum { STEPS = 400 };
    const double h = t / STEPS;
    double s = from;
    for (int i = 0; i < STEPS; i++) { /* classic Runge-Kutta: far finer than the nodes deserve */
        const double a = rate_at(node, s), b = rate_at(node, s + 0.5 * h * a),
                     c = rate_at(node, s + 0.5 * h * b), d = rate_at(node, s + h * c);
        s = fmax(s + h / 6.0 * (a + 2.0 * b + 2.0 * c + d), 0.0);
    }
    return s;
}
