#include "emberpipe/wallflow.h"

#include <math.h>

static const double F = 28.454; /* [-] 2 x 14.227, square duct, Shah & London 1978 */

void emb_wallflow_drop(const struct emb_wallflow *w, const struct emb_wallflow_load *l, double Q,
                       double mu, double rho, struct emb_wallflow_drop *out)
{
    const double a = w->opening, N = w->channels;
    /* the plug takes length, the layers take width */
    const double plug =
        fmin(w->ash_plug * l->ash / (N * a * a * w->ash_density), 0.95 * w->length);
    const double L = w->length - plug;
    const double ash = (1.0 - w->ash_plug) * l->ash / (N * L * w->ash_density);
    const double soot = l->cake / (N * L * w->soot_density);
    const double bare = fmax(a * a - ash, 0.01 * a * a);
    out->open = (a * a - ash - soot) / (a * a);
    const double room = fmax(out->open, 0.01) * a * a;
    const double per = mu * Q / (4.0 * N * L); /* = mu Q (a+w)^2/(2V), V = 2 N L (a+w)^2 */
    const double speed = Q / (4.0 * N * a * L), deep = 1.0 + w->deep_growth * l->deep;
    out->wall = per * w->web / (w->wall_permeability * a) * deep +
                w->inertia * rho * speed * speed * w->web;
    out->ash = per * 0.5 * log(a * a / bare) / (2.0 * w->ash_permeability);
    out->soot = per * 0.5 * log(bare / room) / (2.0 * w->soot_permeability);
    /* outlet channels carry the whole flow past the plug */
    out->friction = per * 4.0 * F *
                    (L * L / 3.0 * (1.0 / (room * room) + 1.0 / (a * a * a * a)) +
                     L * plug / (a * a * a * a));
    const double u_in = Q / (N * room), u_out = Q / (N * a * a);
    out->ends = 0.25 * w->end_loss * rho * (u_in * u_in + u_out * u_out);
    out->total = out->wall + out->ash + out->soot + out->friction + out->ends;
}
