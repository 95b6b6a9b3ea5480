#include "common.h"

#include <math.h>

#include "emberpipe/heat.h"

double emb_pipe_conductance(const struct emb_gas *g, double cp, double T_wall, double diameter,
                            double area, double enhancement)
{
    const double T = 0.5 * (g->T + T_wall), mu = emb_gas_viscosity(T), k = emb_gas_conductivity(T);
    const double m = emb_gas_mass(g), Re = 4.0 * m / (EMB_PI * diameter * mu);
    return enhancement * emb_nu_pipe(Re, mu * cp / (m * k)) * k / diameter * area;
}

/* What of a wall's rise is left in the gas after n transfer units. */
static double share_of_rise(double n, double left)
{
    /* close to zero its series, where the difference of two near ones would be noise */
    return n > 1e-2 ? 0.5 * (1.0 + left) - (1.0 - left) / n : n * n / 12.0 * (1.0 - 0.5 * n);
}

void emb_exchange(struct emb_gas *g, double cp, double T_wall, double rise, double ua)
{
    if (cp > 0.0) {
        const double n = ua / cp, left = exp(-n); /* [-] */
        g->T = T_wall + (g->T - T_wall) * left + rise * share_of_rise(n, left);
    }
}

double emb_rise_in(const struct emb_env *env, double T)
{
    const double before = T - env->before, behind = env->behind - T; /* [K] */
    if (isnan(before)) {
        return isnan(behind) ? 0.0 : behind;
    }
    return isnan(behind) ? before : emb_rise(before, behind);
}

double emb_outside_loss(const struct emb_outside *o, const struct emb_wind *w, double Ts,
                        double area, double emissivity, double r)
{
    const double h = emb_outside_h(o, w, Ts) + emb_h_radiation(emissivity, Ts, o->T);
    return area * (Ts - o->T) / (1.0 / h + r);
}

double emb_water_exchange(struct emb_gas *g, double p, double T_wall, double transfer, double area,
                          double m)
{
    const double M = emb_species_mass(EMB_H2O),
                 m_ref = 0.01 * area; /* [kg] a 10 um film counts as wet */
    if (T_wall > 400.0 && fabs(m) < 1e-12) {
        return 0.0;
    }
    const double N = emb_gas_moles(g), x = g->n[EMB_H2O] / N;
    const double xs = fmin(emb_water_psat(T_wall) / p, 0.95);
    double rate = N * (x - xs) * emb_one_minus_exp(transfer / N); /* [mol/s] onto the wall */
    if (rate < 0.0) {
        /* a drying wall has dry patches; odd in m, so that an overshoot below zero heals smoothly
         */
        rate *= m / (fabs(m) + m_ref);
    }
    g->n[EMB_H2O] -= rate;
    return rate * M;
}

double emb_urea_rate(double T)
{
    /* through 20 % at 330 degC and 50 % at 400 degC in 0.09 s: Koebel, Elsener & Kleemann 2000,
     * Catal. Today 59:335 (from memory) */
    return 1.24e5 * exp(-54.2e3 / (EMB_R * T));
}

void emb_urea_decompose(struct emb_gas *g, struct emb_fold *heat, double tau)
{
    if (g->n[EMB_UREA] <= 0.0) {
        return;
    }
    const double H = emb_fold_enthalpy(heat, g),
                 x = g->n[EMB_UREA] * emb_one_minus_exp(emb_urea_rate(g->T) * tau);
    g->n[EMB_UREA] -= x;
    g->n[EMB_NH3] += x;
    g->n[EMB_HNCO] += x;
    emb_gas_fold(g, heat);
    emb_fold_set_enthalpy(heat, g, H);
}

void emb_comb_init(struct emb_comb *c, const struct emb_body *b, double open_factor)
{
    const double pitch = 1.0 / sqrt(b->cell_density), a = pitch - b->web; /* channel opening [m] */
    c->b = *b;
    c->face = 0.25 * EMB_PI * b->diameter * b->diameter;
    c->volume = c->face * b->length;
    c->dh = a;
    c->open = a * a / (pitch * pitch);
    c->gsa = open_factor * 4.0 * a / (pitch * pitch);
    c->solid = b->solid_density * (1.0 - c->open) * c->volume;
    c->can_area = EMB_PI * b->diameter * b->length;
    c->cell.volume = c->volume / b->cells;
    c->cell.solid = c->solid / b->cells;
    c->cell.area = c->gsa * c->cell.volume;
    c->cell.film = c->cell.area / c->dh;
    c->cell.can = c->can_area / b->cells;
    c->cell.mat = b->mat_conductance * c->cell.can;
    c->cell.shell = b->can_heat * c->cell.can;
    c->axial = b->conductivity * (1.0 - c->open) * c->face / (b->length / b->cells);
}

double emb_comb_cp(const struct emb_comb *c, double T)
{
    return c->b.cp_a + c->b.cp_b * T + c->b.cp_c / (T * T);
}

double emb_comb_heat(const struct emb_comb *c, double T)
{
    return c->b.cp_a * (T - EMB_T0) + 0.5 * c->b.cp_b * (T * T - EMB_T0 * EMB_T0) -
           c->b.cp_c * (1.0 / T - 1.0 / EMB_T0);
}

/* Cases that a program made may leave all of it at zero. */
void emb_diffusion_init(struct emb_diffusion *d, const struct emb_case *k)
{
    d->power = k->diffusion.power > 0.0 ? k->diffusion.power : 1.75;
    for (int i = 0; i < EMB_NGAS; i++) {
        const double own = k->diffusion.D0[i];
        d->D0[i] = own > 0.0 ? own : emb_gas_diffusivity(i, EMB_T0, 101325.0);
    }
}

double emb_diffusion_moles(const struct emb_diffusion *d, double T)
{
    const double c0 = 101325.0 / (EMB_R * EMB_T0), t = T * (1.0 / EMB_T0); /* [mol/m3], [-] */
    const double root = sqrt(t);
    return c0 * (d->power == 1.75 ? root * sqrt(root) : pow(t, d->power - 1.0));
}

double emb_diffusion_factor(const struct emb_diffusion *d, double T, double p)
{
    const double t = T / EMB_T0;
    return (d->power == 1.75 ? t * t / sqrt(sqrt(t)) : pow(t, d->power)) * (101325.0 / p);
}
