/* common.h - pieces of physics that several elements share. */
#ifndef EMB_MODEL_COMMON_H
#define EMB_MODEL_COMMON_H
#include "emberpipe/component.h"
#include "emberpipe/outside.h"

#define EMB_PI 3.14159265358979323846

/* Inside film coefficient times area of a round pipe section [W/K]; cp [W/K] of the flow. */
double emb_pipe_conductance(const struct emb_gas *g, double cp, double T_wall, double diameter,
                            double area, double enhancement);
/* Cools or heats the gas, of heat capacity flow cp [W/K], with ua [W/K] along a wall whose
 * temperature runs straight through T_wall in the middle, hotter by `rise` [K] at its end than at
 * its beginning: exact. */
void emb_exchange(struct emb_gas *g, double cp, double T_wall, double rise, double ua);
/* Rise of the solid, of temperature T [K], along a cell that knows its neighbours [K]. */
double emb_rise_in(const struct emb_env *env, double T);
/* [W] lost to the air outside by convection and radiation through an optional insulation r
 * [m2 K/W] */
double emb_outside_loss(const struct emb_outside *o, const struct emb_wind *w, double Ts,
                        double area, double emissivity, double r);

/* Diffusivities of the case: D0 [m2/s] at EMB_T0 and 1 atm, all over the same factor. */
struct emb_diffusion {
    double D0[EMB_NGAS]; /* [m2/s] */
    double power;        /* [-] */
};
void emb_diffusion_init(struct emb_diffusion *d, const struct emb_case *k);
double emb_diffusion_factor(const struct emb_diffusion *d, double T, double p); /* [-] */
/* The same times the molar concentration of the gas [mol/m3]: the pressure cancels. */
double emb_diffusion_moles(const struct emb_diffusion *d, double T);

/* Water on a cold wall: condenses from or evaporates into the gas. m [kg] film; returns dm/dt
 * [kg/s] and changes the gas. */
double emb_water_exchange(struct emb_gas *g, double p, double T_wall, double transfer, double area,
                          double m);
/* Urea aerosol decomposing in the gas within a residence time [s] at the gas temperature; heat
 * taken from the gas, whose fold is `heat`. */
void emb_urea_decompose(struct emb_gas *g, struct emb_fold *heat, double tau);
/* thermolysis constant of urea in hot gas [1/s] */
double emb_urea_rate(double T);

/* Geometry of a honeycomb, of the whole brick and, for what is needed at every turn, of a cell. */
struct emb_comb {
    struct emb_body b;
    double volume, face; /* [m3], [m2] */
    double dh, open,
        gsa;         /* [m] hydraulic diameter, [-] open frontal area, [1/m] wall area per volume */
    double solid;    /* [kg] */
    double can_area; /* [m2] */
    double axial;    /* [W/K] between two cells */
    struct {
        double volume, solid;   /* [m3], [kg] */
        double area, film;      /* [m2] of channel walls, [m] the same over d_h */
        double can, mat, shell; /* [m2], [W/K] brick to can, [J/K] of the can */
    } cell;
};
void emb_comb_init(struct emb_comb *c, const struct emb_body *b, double open_factor);
double emb_comb_cp(const struct emb_comb *c, double T);   /* [J/(kg K)] of the solid */
double emb_comb_heat(const struct emb_comb *c, double T); /* [J/kg] its integral from EMB_T0 */
#endif
