/* component.h - what every element of the line can do. All functions are pure: same arguments, same
 * result. SI.
 *
 * An element is a row of cells along the flow. State 0 of a cell is the temperature of its solid
 * [K] (elements without a solid have no states). States shared by all cells of an element (the
 * crust on its face) come first. The gas has no states: a cell turns the stream that enters into
 * the stream that leaves, at once. */
#ifndef EMB_COMPONENT_H
#define EMB_COMPONENT_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/case.h"
#include "emberpipe/gas.h"
#include "emberpipe/heat.h"
#include "emberpipe/kinetics.h"
#include "emberpipe/status.h"

/* `gas` is the stream; `wall` is the outlet-channel stream inside a wall-flow filter, not looked at
 * elsewhere. Each goes with its fold: what one cell needs for the heat that leaves, the next needs
 * for the heat that enters. */
struct emb_stream {
    struct emb_gas gas, wall;
    struct emb_fold heat, wall_heat;
};

enum { EMB_HINTS = 2 }; /* surfaces that a cell may balance */
struct emb_env {
    const double *u;               /* inputs, see inputs.h */
    double p;                      /* [Pa] of the air and the gas */
    struct emb_wind wind;          /* around the line */
    struct emb_surface_hint *hint; /* EMB_HINTS of them for this cell; NULL: search afresh */
    double close;                  /* [-] of surfaces, see emb_surface */
    double before, behind;         /* [K] solid of the cells next to it; NAN: it is the last one */
};
struct emb_tally {                      /* what a cell exchanges with the world, besides its gas */
    double capacity;                    /* [J/K] of the solid, for conduction between cells */
    double loss;                        /* [W] to the surroundings */
    double work;                        /* [W] taken by the turbine */
    double feed_H, feed[EMB_NELEMENTS]; /* [W], [mol/s] injected */
    double leak_H, leak[EMB_NELEMENTS]; /* [W], [mol/s] escaped */
    double fuel, def;                   /* [kg/s] delivered by dosers */
    double soot_burnt;                  /* [kg/s] */
};
struct emb_shape {
    size_t n_shared, n_cells, n_cell; /* states: n_shared + n_cells * n_cell */
    double axial;                     /* [W/K] conductance between neighbouring cells */
    bool two_streams;                 /* an outlet channel runs beside, from cell to cell */
};
struct emb_state_info {
    char name[40];
    double atol;
};
struct emb_stock {
    double energy, el[EMB_NELEMENTS];
}; /* [J], [mol] held by the element */
struct emb_observation {
    const char *name, *unit, *meaning;
};

struct emb_component_type {
    const char *kind, *summary;
    void *(*prepare)(const struct emb_element_cfg *cfg, const struct emb_case *c,
                     int channel); /* NULL: out of memory */
    void (*shape)(const void *par, struct emb_shape *out);
    void (*describe)(const void *par, size_t i,
                     struct emb_state_info *out); /* i within a cell; shared: n_cell + i */
    void (*init)(const void *par, double T0, double *y);
    /* `out` with its folds, rates of the cell's own states, and its share of the shared states'
     * rates (added) */
    void (*cell)(const void *par, size_t i, const struct emb_env *env, const double *shared,
                 const double *y, const struct emb_stream *in, struct emb_stream *out,
                 double *dshared, double *dydt, struct emb_tally *t);
    void (*stock)(const void *par, const double *y, struct emb_stock *out); /* whole element */
    size_t n_observation;
    const struct emb_observation *observation;
    /* values of the observations for the whole element */
    void (*observe)(const void *par, const struct emb_env *env, const double *y,
                    const struct emb_gas *in, const struct emb_gas *out, double *values);
    /* bit k: the flow of species k changes what a cell does, beyond its share in the heat capacity;
     * only these get a column of the Jacobian. NULL: none. */
    unsigned (*listens)(const void *par);
    /* its tally tells no more than the loss and the soot burnt, so that a cell that has hardly
     * moved need not be asked (nearby.h) */
    bool straight;
};
const struct emb_component_type *emb_component_get(enum emb_kind kind);

extern const struct emb_component_type emb_pipe_type, emb_mass_type, emb_brick_type,
    emb_filter_type, emb_doser_type, emb_def_type, emb_sensor_type, emb_leak_type;
#endif
