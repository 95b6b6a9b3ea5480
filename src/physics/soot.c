#include "emberpipe/soot.h"

#include <math.h>

#include "emberpipe/gas.h"
#include "emberpipe/heat.h"

static const double reference_o2 = 0.1; /* [-] mole fraction at which the constants hold */

void emb_soot_constants(const struct emb_soot_cfg *c, double T, struct emb_soot_constants *k)
{
    const double inv = -1.0 / (EMB_R * T);
    /* CO over CO2 grows with temperature (Arthur 1951, Trans. Faraday Soc. 47:164); co_share holds
     * at 600 degC */
    const double ratio =
        c->co_share / (1.0 - c->co_share) * exp(c->co_e * (inv + 1.0 / (EMB_R * 873.15)));
    *k = (struct emb_soot_constants){.o2 = c->o2_a * exp(c->o2_e * inv),
                                     .no2 = c->no2_a * exp(c->no2_e * inv),
                                     .coop = c->coop_a * exp(c->coop_e * inv),
                                     .co = ratio / (1.0 + ratio),
                                     .o2_order = c->o2_order,
                                     .coop_order = c->coop_order};
}

/* (x/0.1)^order for both orders in oxygen, but straight through zero: a root would have an infinite
 * slope there. One logarithm serves both. */
static void oxygen_powers(const struct emb_soot_constants *k, double x, double *o2, double *coop)
{
    const double soft = 1e-4;                        /* [-] far below any lean exhaust */
    const double l = log((x + soft) / reference_o2); /* [-] */
    *o2 = x / reference_o2 * exp(l * (k->o2_order - 1.0));
    *coop = x / reference_o2 * exp(l * (k->coop_order - 1.0));
}

double emb_soot_burn(const struct emb_soot_constants *k, double soot, double n[EMB_NSPECIES],
                     struct emb_soot_routes *by)
{
    const double N = emb_moles(n);
    *by = (struct emb_soot_routes){0.0, 0.0, 0.0};
    if (N <= 0.0 || soot == 0.0) {
        return 0.0;
    }
    const double inv_N = 1.0 / N; /* [s/mol] */
    const double xo = fmax(n[EMB_O2], 0.0) * inv_N, xn = fmax(n[EMB_NO2], 0.0) * inv_N;
    double by_o2, by_coop; /* [-] */
    oxygen_powers(k, xo, &by_o2, &by_coop);
    const double kn = k->no2 * soot, kc = k->coop * soot * by_coop;
    const double ko = k->o2 * soot * by_o2, need = 1.0 - 0.5 * k->co;
    const double no2_left = emb_sink_mean((2.0 * kn + kc) * inv_N);
    const double coop = kc * xn * no2_left; /* if O2 lasts */
    const double o2_left = xo > 0.0 ? emb_sink_mean((need * ko + 0.5 * coop) / (N * xo)) : 0.0;
    by->no2 = kn * xn * no2_left;
    by->coop = coop * o2_left;
    by->o2 = ko * o2_left;
    n[EMB_NO2] -= 2.0 * by->no2 + by->coop;
    n[EMB_NO] += 2.0 * by->no2 + by->coop;
    n[EMB_O2] -= need * by->o2 + 0.5 * by->coop;
    n[EMB_CO] += k->co * by->o2;
    n[EMB_CO2] += by->no2 + by->coop + (1.0 - k->co) * by->o2;
    return by->o2 + by->no2 + by->coop;
}
