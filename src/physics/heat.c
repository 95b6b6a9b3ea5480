/* heat.c - heat transfer correlations. */
#include "emberpipe/heat.h"

#include <math.h>

#include "emberpipe/gas.h"

#define AIR_MASS 28.96e-3 /* [kg/mol] dry air */
#define AIR_PR   0.70     /* [-] air 300 .. 600 K: 0.684 .. 0.707, Incropera Table A.4 */
#define GRAVITY  9.80665  /* [m/s2] standard */

double emb_nu_duct_laminar(double nu_inf, double z)
{
    /* Hawthorn 1974, AIChE Symp. Ser. 70: mean over the length, developing flow in a monolith
     * channel */
    return nu_inf * pow(1.0 + 0.095 * fmax(z, 0.0), 0.45);
}

double emb_nu_gnielinski(double Re, double Pr)
{
    /* Gnielinski 1976, Int. Chem. Eng. 16:359, with Petukhov's smooth-pipe friction factor */
    const double r = 1.0 / (0.790 * log(Re) - 1.64); /* [-] */
    const double f8 = r * r / 8.0;                   /* [-] Darcy f / 8 */
    return f8 * (Re - 1000.0) * Pr / (1.0 + 12.7 * sqrt(f8) * (cbrt(Pr * Pr) - 1.0));
}

double emb_nu_pipe(double Re, double Pr)
{
    const double laminar = 3.66; /* [-] circle, constant wall temperature, Shah & London 1978 */
    /* [-] limits of the transition: Gnielinski 2013, Int. J. Heat Mass Transfer 63:134 */
    const double Re_lam = 2300.0, Re_turb = 4000.0;
    if (!(Re > Re_lam)) {
        return laminar;
    }
    const double turbulent = emb_nu_gnielinski(Re, Pr); /* [-] */
    if (Re >= Re_turb) {
        return turbulent;
    }
    /* A cubic blend, not the published straight one: no kink for the integrator to stumble over. */
    const double x = (Re - Re_lam) / (Re_turb - Re_lam); /* [-] */
    return laminar + (turbulent - laminar) * x * x * (3.0 - 2.0 * x);
}

/* Inline cores: with a constant Pr the compiler folds its powers away. */
static inline double cross_slope(double Pr)
{
    /* Churchill & Bernstein 1977, J. Heat Transfer 99:300 */
    return 0.62 * cbrt(Pr) / pow(1.0 + pow(0.4 / Pr, 2.0 / 3.0), 0.25); /* [-] */
}
#define CROSS_LEAST 0.3                       /* [-] the same source */
#define CROSS_LATE  (1.0 / 531.0367218940702) /* [-] of Re^(1/2): (Re / 282000)^(1/2), the same */

static inline double nu_still(double root6_Ra, double Pr)
{
    /* Churchill & Chu 1975, Int. J. Heat Mass Transfer 18:1049, Ra up to 1e12 */
    const double s = pow(1.0 + pow(0.559 / Pr, 9.0 / 16.0), -8.0 / 27.0); /* [-] */
    const double r = 0.60 + 0.387 * root6_Ra * s;                         /* [-] */
    return r * r;
}

/* x^(5/4) */
static inline double five_quarters(double x)
{
    return x * sqrt(sqrt(x));
}

double emb_nu_churchill_bernstein(double Re, double Pr)
{
    const double root = sqrt(fmax(Re, 0.0)); /* [-] */
    return CROSS_LEAST + cross_slope(Pr) * root * pow(1.0 + five_quarters(root * CROSS_LATE), 0.8);
}

double emb_nu_churchill_chu(double Ra, double Pr)
{
    return nu_still(cbrt(sqrt(fmax(Ra, 0.0))), Pr);
}

struct emb_wind emb_wind_of(double v)
{
    const double root = sqrt(fmax(v, 0.0)); /* [(m/s)^(1/2)] */
    return (struct emb_wind){root, five_quarters(root)};
}

/* With Sutherland's viscosity (emb_gas_viscosity) air has nu = c T^(5/2) / ((T + S) p). That makes
 * the roots of Ra = g dT d^3 Pr / (T nu^2) and Re = v d / nu simple: the powers of T come out
 * whole. */
void emb_film_parts(double Ts, double Ta, double d, double p, double part[EMB_FILM_PARTS])
{
    const double S = EMB_SUTHERLAND_S;                    /* [K] */
    const double c = EMB_SUTHERLAND_C * EMB_R / AIR_MASS; /* [Pa m2/(s K^(3/2))] */
    const double T = 0.5 * (Ts + Ta), inv_T = 1.0 / T;    /* [K], [1/K] film */
    const double by_nu = d * p * (T + S) * (1.0 / c);     /* [K^(5/2) s/m] d/nu times T^(5/2) */
    /* |Ts - Ta| rounded off over half a kelvin: its sixth root has no slope at zero. */
    const double dT = sqrt((Ts - Ta) * (Ts - Ta) + 0.25);                          /* [K] */
    const double root6_Ra = cbrt(sqrt(GRAVITY * AIR_PR * d * dT) * by_nu) * inv_T; /* [-] */
    const double root_Re = sqrt(by_nu / sqrt(T)) * inv_T; /* [(s/m)^(1/2)] at 1 m/s */
    const double by_d = emb_gas_conductivity(T) / d;      /* [W/(m2 K)] */
    part[EMB_FILM_STILL] = nu_still(root6_Ra, AIR_PR) * by_d;
    part[EMB_FILM_LEAST] = CROSS_LEAST * by_d;
    part[EMB_FILM_CROSS] = cross_slope(AIR_PR) * root_Re * by_d;
    part[EMB_FILM_LATE] = five_quarters(root_Re * CROSS_LATE);
}

static double fourth_power(double x)
{
    return (x * x) * (x * x);
}

double emb_film_h(const double part[EMB_FILM_PARTS], const struct emb_wind *w, double bent)
{
    /* [W/(m2 K)] */
    const double still = part[EMB_FILM_STILL];
    const double cross = part[EMB_FILM_LEAST] + part[EMB_FILM_CROSS] * w->root * bent;
    /* exponent 4 within the 3 .. 4 of Churchill 1977, AIChE J. 23:10 */
    return w->root > 0.0 ? sqrt(sqrt(fourth_power(still) + fourth_power(cross))) : still;
}

double emb_h_outside(double Ts, double Ta, double d, double v, double p)
{
    double part[EMB_FILM_PARTS];
    const struct emb_wind w = emb_wind_of(v);
    emb_film_parts(Ts, Ta, d, p, part);
    return emb_film_h(part, &w, pow(emb_film_bend(part, &w), 0.8));
}

/* Rises below it need no care: judgement; it also keeps the slopes smooth where all is even. */
#define EVEN 2.0 /* [K] */

double emb_rise(double before, double behind)
{
    /* van Albada, van Leer & Roberts 1982, Astron. Astrophys. 108:76 (from memory) */
    const double even = EVEN * EVEN; /* [K2] */
    return (before * behind + 0.5 * even) * (before + behind) /
           (before * before + behind * behind + even);
}

double emb_h_radiation(double eps, double Ts, double Ta)
{
    return eps * EMB_SIGMA * (Ts + Ta) * (Ts * Ts + Ta * Ta);
}
