/* heat.h - heat transfer correlations. Pure functions of numbers; sources beside each in heat.c. */
#ifndef EMB_HEAT_H
#define EMB_HEAT_H
#include <math.h>

#define EMB_SIGMA 5.670374419e-8 /* [W/(m2 K4)] Stefan-Boltzmann, CODATA 2018 */

double emb_nu_duct_laminar(double nu_inf, double z); /* Hawthorn 1974; z = d_h/L Re Pr [-] */
double emb_nu_gnielinski(double Re, double Pr);      /* smooth pipe, 3000 <= Re <= 5e6 */
double emb_nu_pipe(double Re, double Pr); /* any Re: laminar, blended over 2300..4000, Gnielinski */
double emb_nu_churchill_bernstein(double Re, double Pr); /* cylinder in cross flow */
double emb_nu_churchill_chu(double Ra, double Pr);       /* horizontal cylinder, still air */
/* [W/(m2 K)] film coefficient outside a horizontal cylinder: still and forced air blended as
 * (h_free^4 + h_forced^4)^(1/4). Ts, Ta [K], diameter d [m], air speed v [m/s] >= 0, pressure p
 * [Pa] */
double emb_h_outside(double Ts, double Ta, double d, double v, double p);
/* The same in two steps: what the wall's temperature decides, then what the air's speed v does. */
enum emb_film_part {
    EMB_FILM_STILL, /* [W/(m2 K)] in still air */
    EMB_FILM_LEAST, /* [W/(m2 K)] forced, of the least wind */
    EMB_FILM_CROSS, /* [W/(m2 K) (s/m)^(1/2)] forced, times v^(1/2) */
    EMB_FILM_LATE,  /* [(s/m)^(5/8)] (Re/282000)^(5/8), times v^(5/8) */
    EMB_FILM_PARTS
};
struct emb_wind {
    double root, late; /* [(m/s)^(1/2)], [(m/s)^(5/8)] */
};
struct emb_wind emb_wind_of(double v); /* v [m/s] */
void emb_film_parts(double Ts, double Ta, double d, double p, double part[EMB_FILM_PARTS]);
/* [-] one plus what a late boundary layer adds; its power 0.8 is what emb_film_h() wants as `bent`
 */
static inline double emb_film_bend(const double part[EMB_FILM_PARTS], const struct emb_wind *w)
{
    return 1.0 + part[EMB_FILM_LATE] * w->late;
}
double emb_film_h(const double part[EMB_FILM_PARTS], const struct emb_wind *w,
                  double bent); /* [W/(m2 K)] */
/* [K] How much a temperature rises along a cell, from how much it does from the cell before to this
 * one and from this one to the cell behind [K]: a mean of both that is next to nothing where they
 * disagree, so that a front neither over- nor undershoots. */
double emb_rise(double before, double behind);
double emb_h_radiation(double eps, double Ts,
                       double Ta); /* [W/(m2 K)] linearised about the two temperatures */

/* (1 - exp(-z))/z: mean over the inlet of what a first-order sink of exponent z >= 0 takes from.
 * Off by 2e-14 at most, where series and difference meet. */
static inline double emb_sink_mean(double z)
{
    if (z < 0.02) {
        return 1.0 -
               z * (1.0 / 2.0 -
                    z * (1.0 / 6.0 - z * (1.0 / 24.0 - z * (1.0 / 120.0 - z * (1.0 / 720.0)))));
    }
    return (1.0 - exp(-z)) / z;
}
static inline double emb_one_minus_exp(double z) /* 1 - exp(-z), accurate near 0; z >= 0 */
{
    return z * emb_sink_mean(z);
}
#endif
