#include "emberpipe/outside.h"

#include <stdint.h>
#include <string.h>

static const double least = 4.0;          /* [K] excess of the wall where the table begins */
enum { WALL = EMB_FILM_PARTS, BEND = 1 }; /* numbers at each node */
/* [-] where a piece meets the correlation: its ends among them (Chebyshev and Lobatto), so that
 * pieces join */
static const double node[EMB_OUTSIDE_NODES] = {0.0, 0.14644660940672624, 0.5, 0.85355339059327376,
                                               1.0};

/* ---- pieces: eighths of a doubling. The leading bits of a number, its exponent and three more,
 * say which; the others, moved up, how far in ---- */

enum { MANTISSA = 52, BELOW = MANTISSA - 3 };

static inline uint64_t bits_of(double x)
{
    uint64_t b;
    memcpy(&b, &x, sizeof b);
    return b;
}

/* Number of the piece that x is in, counted from a power of two; *in [0 .. 1) gets the place in it.
 */
static inline size_t piece(double x, double from, double *in)
{
    const uint64_t fraction = ((uint64_t)1 << MANTISSA) - 1;
    const uint64_t b = bits_of(1.0) | (bits_of(x) << (MANTISSA - BELOW) & fraction);
    memcpy(in, &b, sizeof b);
    *in -= 1.0;
    return (size_t)((bits_of(x) >> BELOW) - (bits_of(from) >> BELOW));
}

static double place(double from, int i, int n)
{
    const double eighth = ldexp(from, i / 8) / 8.0;
    return (8.0 + i % 8 + node[n]) * eighth;
}

/* Turns values at the nodes, m at each, into divided differences. */
static void fit(int m, double *f)
{
    for (int order = 1; order < EMB_OUTSIDE_NODES; order++) {
        for (int i = EMB_OUTSIDE_NODES - 1; i >= order; i--) {
            for (int k = 0; k < m; k++) {
                f[i * m + k] = (f[i * m + k] - f[(i - 1) * m + k]) / (node[i] - node[i - order]);
            }
        }
    }
}

/* Newton's form, innermost bracket first. */
static inline void evaluate(int m, const double *f, double x, double *value)
{
    memcpy(value, f + (EMB_OUTSIDE_NODES - 1) * m, (size_t)m * sizeof *f);
    for (int i = EMB_OUTSIDE_NODES - 2; i >= 0; i--) {
        for (int k = 0; k < m; k++) {
            value[k] = f[i * m + k] + (x - node[i]) * value[k];
        }
    }
}

/* ---- the film ---- */

void emb_outside_init(struct emb_outside *o, double T, double p, double diameter)
{
    o->T = T;
    o->p = p;
    o->diameter = diameter;
    for (int i = 0; i < EMB_OUTSIDE_WALL; i++) {
        for (int n = 0; n < EMB_OUTSIDE_NODES; n++) {
            emb_film_parts(T + place(least, i, n), T, diameter, p, o->wall[i][n]);
        }
        fit(WALL, o->wall[i][0]);
    }
    for (int i = 0; i < EMB_OUTSIDE_BEND; i++) {
        for (int n = 0; n < EMB_OUTSIDE_NODES; n++) {
            o->bend[i][n] = pow(place(1.0, i, n), 0.8);
        }
        fit(BEND, o->bend[i]);
    }
}

static inline double bent(const struct emb_outside *o, double x)
{
    double in, value; /* [-] */
    const size_t i = piece(x, 1.0, &in);
    if (i >= EMB_OUTSIDE_BEND) {
        return pow(x, 0.8);
    }
    evaluate(BEND, o->bend[i], in, &value);
    return value;
}

double emb_outside_h(const struct emb_outside *o, const struct emb_wind *w, double Ts)
{
    double in, part[EMB_FILM_PARTS]; /* [-], as in heat.h */
    const size_t i = piece(Ts - o->T, least, &in);
    if (i < EMB_OUTSIDE_WALL) { /* what is less than `least`, or negative, has a huge number */
        evaluate(WALL, o->wall[i][0], in, part);
    } else {
        emb_film_parts(Ts, o->T, o->diameter, o->p, part);
    }
    return emb_film_h(part, w, bent(o, emb_film_bend(part, w)));
}
