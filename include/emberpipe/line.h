/* line.h - the assembled exhaust line: slots in order, their states in one vector, the gas marched
 * through them. State 0 is the engine block [K] when the source is an engine. Built once, never
 * changed by a run. */
#ifndef EMB_LINE_H
#define EMB_LINE_H
#include "emberpipe/chain.h"
#include "emberpipe/component.h"
#include "emberpipe/inputs.h"
#include "emberpipe/nearby.h"
#include "emberpipe/ode.h"

struct emb_slot {
    const struct emb_component_type *type;
    void *par;
    struct emb_shape shape;
    size_t offset;      /* first state in the vector */
    int channel;        /* which of the doser commands is its own */
    size_t observation; /* first observation in the vector of observations */
};
struct emb_line {
    const struct emb_case *c;
    size_t n_slot, n_state, n_observation, n_cells,
        first; /* first: 1 with an engine block state, else 0 */
    struct emb_slot *slot;
};

enum emb_line_tally { EMB_TALLY_LOSS, EMB_TALLY_SOOT }; /* of a link of the chain: [W], [kg/s] */

/* What crosses one slot, filled by a march. */
struct emb_slot_flow {
    struct emb_gas in, out;
    double loss, work, fuel, def, soot_burnt; /* [W], [W], [kg/s] */
    double feed_H, leak_H, feed[EMB_NELEMENTS], leak[EMB_NELEMENTS];
};
struct emb_march {
    struct emb_gas source;            /* gas that enters the line */
    double engine_fuel, engine_power; /* [kg/s], [W]; 0 without an engine */
    struct emb_slot_flow *slot;       /* n_slot */
    /* per link of the chain `row` numbers: what it passes on, then its tallies (emb_chain_row);
     * NULL: not wanted */
    double *passed;
    size_t row;
    /* in: a march of the same moment at a state nearby, from which cells that have hardly moved are
     * told instead of being asked; `passed` must be wanted then. NULL: every cell is asked */
    const struct emb_nearby *near;
};
/* One input vector and what surrounds the line at this moment. */
struct emb_moment {
    double u[EMB_NINPUT];          /* [see inputs.h] */
    double back_pressure;          /* [Pa] of the line above ambient */
    struct emb_surface_hint *hint; /* EMB_HINTS per cell of the line, or NULL */
    double close;                  /* [-] of surfaces, see emb_surface; 0: as close as can be */
};

enum emb_status emb_line_build(const struct emb_case *c, struct emb_line *out, struct emb_err *err);
void emb_line_free(struct emb_line *l);
void emb_line_start(const struct emb_line *l, double *y);
void emb_line_tolerances(const struct emb_line *l, double T_atol, double *atol);
void emb_line_state_name(const struct emb_line *l, size_t i, char *buf, size_t size);
/* dydt may be NULL; m may be NULL (or its slot array allocated by the caller). Returns 0, or > 0
 * when a state is outside the physics (retry with a smaller step). */
int emb_line_march(const struct emb_line *l, const struct emb_moment *at, const double *y,
                   double *dydt, struct emb_march *m);
/* The chain of this line's cells, to be freed with emb_chain_free; NULL: out of memory. */
struct emb_chain *emb_line_chain(const struct emb_line *l);
/* Fills the chain cell by cell with differences: every cell's answer to its own states and to the
 * gas that enters it. Returns as emb_line_march. */
int emb_line_jacobian(const struct emb_line *l, const struct emb_moment *at, const double *y,
                      struct emb_chain *chain);
/* The gas that enters the line; with an engine, dydt[0] is the rate of its block if not NULL. */
void emb_line_source(const struct emb_line *l, const struct emb_moment *at, const double *y,
                     double *dydt, struct emb_gas *g, struct emb_march *m);
struct emb_env emb_line_env(const struct emb_line *l, const struct emb_moment *at);
/* Tells `env` what cell i of a slot has next to it, with states y of the line. */
void emb_slot_neighbours(const struct emb_slot *s, size_t i, const double *y, struct emb_env *env);
void emb_line_stock(const struct emb_line *l, const double *y, struct emb_stock *out);
void emb_line_observe(const struct emb_line *l, const struct emb_moment *at, const double *y,
                      const struct emb_march *m, double *values);
#endif
