/* wallflow.h - pressure drop of a wall-flow filter. Pure.
 *
 * Structure of Konstandopoulos & Johnson 1989 (SAE 890405) and Konstandopoulos, Kostoglou et al.
 * 2000 (SAE 2000-01-1016): wall, deposits on it, friction in both channels, entrance and exit. All
 * walls are crossed at the same velocity. Ash lies partly as a layer under the soot, partly as a
 * plug that closes the rear of the inlet channels. */
#ifndef EMB_WALLFLOW_H
#define EMB_WALLFLOW_H

struct emb_wallflow {
    double channels;             /* [-] number of inlet channels */
    double length, opening, web; /* [m] channel length, its clear width, wall thickness */
    double wall_permeability;    /* [m2] clean */
    double deep_growth;          /* [-] resistance a full deep bed adds, relative to the wall's */
    double soot_permeability;    /* [m2] */
    double soot_density;         /* [kg/m3] */
    double ash_permeability;     /* [m2] */
    double ash_density;          /* [kg/m3] */
    double ash_plug;             /* [-] share of the ash at the rear end */
    double inertia;              /* [1/m] Forchheimer coefficient of the wall */
    double end_loss;             /* [-] entrance and exit, per velocity head in the channel */
};
struct emb_wallflow_load {
    double cake, ash; /* [kg] in the whole filter */
    double deep;      /* [-] deep bed over its capacity, 0 .. 1 */
};
struct emb_wallflow_drop {
    double wall, ash, soot, friction, ends; /* [Pa] */
    double total;                           /* [Pa] */
    double open; /* [-] clear share of the inlet channel; <= 0: the load does not fit */
};

/* Q [m3/s] through the whole filter, mu [Pa s], rho [kg/m3] of the gas in the channels. Where the
 * load does not fit, 1 % of the channel is taken as open. */
void emb_wallflow_drop(const struct emb_wallflow *w, const struct emb_wallflow_load *l, double Q,
                       double mu, double rho, struct emb_wallflow_drop *out);
#endif
