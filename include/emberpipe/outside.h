/* outside.h - the film of air outside one element, tabulated.
 *
 * The air's temperature and pressure stay through a run, and so does the diameter: what is left of
 * emb_h_outside() (heat.h) depends on the wall's temperature and on the air's speed. The parts that
 * the wall decides are polynomials, eight to each doubling of its excess over the air; the speed
 * comes in by its powers. Within 1e-8 of the correlation, which does the rest of the range. */
#ifndef EMB_OUTSIDE_H
#define EMB_OUTSIDE_H
#include "emberpipe/heat.h"

enum {
    EMB_OUTSIDE_NODES = 5,
    EMB_OUTSIDE_WALL = 8 * 8, /* pieces: the wall is 4 K to 1024 K warmer than the air */
    EMB_OUTSIDE_BEND = 8 * 3  /* pieces: emb_film_bend() up to 8 */
};
struct emb_outside {
    double T, p, diameter; /* [K], [Pa] of the air, [m] */
    /* divided differences of the parts [as in heat.h], and of the bend to its power 0.8 [-] */
    double wall[EMB_OUTSIDE_WALL][EMB_OUTSIDE_NODES][EMB_FILM_PARTS];
    double bend[EMB_OUTSIDE_BEND][EMB_OUTSIDE_NODES];
};
void emb_outside_init(struct emb_outside *o, double T, double p, double diameter);
/* [W/(m2 K)] as emb_h_outside(); Ts [K] */
double emb_outside_h(const struct emb_outside *o, const struct emb_wind *w, double Ts);
#endif
