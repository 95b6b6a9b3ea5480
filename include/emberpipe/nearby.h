/* nearby.h - a march that need not ask every cell.
 *
 * Newton asks for rates again after each correction, and most cells have hardly moved by then. With
 * the iterate before, and the derivatives that led from it to this one, such a cell can be told in
 * a straight line: states, rates and what it passes on, to second order in a move that is small. */
#ifndef EMB_NEARBY_H
#define EMB_NEARBY_H
#include <stdbool.h>
#include "emberpipe/chain.h"

struct emb_nearby {
    const struct emb_chain *chain;
    struct emb_point at;  /* the march that is known, at the same time */
    const double *weight; /* [1/unit of each state] 1 over what is a small move */
    double small_T;       /* [K] small move of a gas temperature */
};

/* Has link i moved by little, with states y (of the whole line) and with what enters it, as noted
 * in `in`? Then fills its rates (its own states only, conduction included) and notes what it passes
 * on and its tallies in `out`, both of emb_chain_row. */
bool emb_nearby_tell(const struct emb_nearby *k, size_t i, const double *y, const double *in,
                     double *out, double *rates);
#endif
