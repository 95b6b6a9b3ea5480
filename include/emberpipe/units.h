/* units.h - text with a unit to SI and back.
 *
 * A quantity is "number unit" ("970 degF", "3 g/s"). The expected dimension decides: a temperature
 * and a temperature difference read "degC" differently. One unit system is made per load and passed
 * along; it is not thread-safe, and two loads must not run at the same time (the unit library keeps
 * its parser state to itself). */
#ifndef EMB_UNITS_H
#define EMB_UNITS_H
#include <stddef.h>

enum emb_dim {
    EMB_DIM_FRACTION,
    EMB_DIM_LENGTH,
    EMB_DIM_TIME,
    EMB_DIM_MASS,
    EMB_DIM_TEMPERATURE,
    EMB_DIM_DELTA,
    EMB_DIM_PRESSURE,
    EMB_DIM_SPEED,
    EMB_DIM_ROTATION,
    EMB_DIM_TORQUE,
    EMB_DIM_POWER,
    EMB_DIM_VOLUME,
    EMB_DIM_DENSITY,
    EMB_DIM_MASS_FLOW,
    EMB_DIM_CELL_DENSITY,
    EMB_DIM_CONDUCTIVITY,
    EMB_DIM_CONDUCTANCE,
    EMB_DIM_SPECIFIC_HEAT,
    EMB_DIM_HEAT_CAPACITY,
    EMB_DIM_AREA_HEAT,
    EMB_DIM_INSULATION,
    EMB_DIM_MOLAR_ENERGY,
    EMB_DIM_RATE,
    EMB_DIM_MOLAR_DENSITY,
    EMB_DIM_INDEX,
    EMB_DIM_SPECIFIC_ENERGY,
    EMB_DIM_AREA,
    EMB_DIM_FRICTION_SLOPE,
    EMB_DIM_HEAT_SLOPE,
    EMB_DIM_HEAT_INVERSE,
    EMB_DIM_SLEW,
    EMB_DIM_GAIN,
    EMB_DIM_INTEGRAL,
    EMB_DIM_COEFFICIENT,
    EMB_DIM_RATE_VOLUME,
    EMB_DIM_RATE_AREA,
    EMB_DIM_RATE_VOLUME_K,
    EMB_DIM_RATE_AREA_K,
    EMB_DIM_DIFFUSIVITY,
    EMB_DIM_RATE_CONCENTRATION,
    EMB_NDIM
};
enum { EMB_UNIT_MSG = 240 };

struct emb_units;
struct emb_units *emb_units_new(void);    /* NULL: out of memory */
void emb_units_free(struct emb_units *u); /* NULL is fine */
/* 0 on success; else -1 and msg says what was got and what is accepted. A bare number is only a
 * fraction. */
int emb_quantity_parse(const struct emb_units *u, const char *text, enum emb_dim dim, double *si,
                       char msg[EMB_UNIT_MSG]);
/* Plain decimal number, fully consumed and finite; *end (may be NULL) gets the rest, else there
 * must be none. */
int emb_number_parse(const char *text, double *value, const char **end);
/* Writes si in the unit named (NULL: the SI unit). Returns buf. */
const char *emb_quantity_format(const struct emb_units *u, double si, enum emb_dim dim,
                                const char *unit, char *buf, size_t size);
const char *emb_dim_name(enum emb_dim dim);  /* "length" */
const char *emb_dim_si(enum emb_dim dim);    /* "m"; "-" for a fraction */
const char *emb_dim_units(enum emb_dim dim); /* "mm, cm, m, in, ft", ready to print */
#endif
