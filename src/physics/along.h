/* along.h - one species along one cell: what a linear sink and a source, behind a film, make of its
 * mole fraction at the surface. Private to the physics room. */
#ifndef EMB_ALONG_H
#define EMB_ALONG_H
#include <math.h>
#include <stdbool.h>

struct emb_along {
    double x, dx_da, dx_dP; /* [-], [s/mol], [s/mol] */
};

/* phi(z) = (1 - exp(-z))/z: mean over the inlet of a first-order sink; psi = (1 - phi)/z. */
static inline struct emb_along emb_along_cell(double inv_N, double x_in, double km, double a,
                                              double P)
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
    return (struct emb_along){x, w * dmean - v * x, w * psi * g + v};
}
#endif
