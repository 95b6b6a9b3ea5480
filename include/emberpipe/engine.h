/* engine.h - mean-value engine: what leaves the exhaust port for given inputs. Pure. */
#ifndef EMB_ENGINE_H
#define EMB_ENGINE_H
#include "emberpipe/case.h"
#include "emberpipe/gas.h"
#include "emberpipe/inputs.h"
struct emb_engine_out {
    struct emb_gas gas; /* at the turbine inlet, wet, with soot */
    double fuel;        /* [kg/s] main + close post + late post + unburnt of dead cylinders */
    double air;         /* [kg/s] fresh air */
    double air_n[EMB_NSPECIES]; /* [mol/s] fresh air incl. humidity, for the element books */
    double power;               /* [W] brake power incl. accessories */
    double coolant; /* [W] heat kept by the engine: the energy that closes its balance */
    double afr;     /* [-] air over fuel, mass */
};
/* Torque [N m] that warm friction takes at omega [rad/s], positive: what a motored engine brakes
 * with. */
double emb_engine_drag_torque(const struct emb_engine_cfg *e, double omega);
/* T_engine [K] block temperature. amb gives intake air. back_pressure [Pa] of the line above
 * ambient. */
void emb_engine_eval(const struct emb_engine_cfg *e, const struct emb_ambient *amb, const double *u,
                     double T_engine, double back_pressure, struct emb_engine_out *out);
#endif
