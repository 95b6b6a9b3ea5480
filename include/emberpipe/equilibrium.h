/* equilibrium.h - equilibrium constants from Gibbs energies. Pure functions. */
#ifndef EMB_EQUILIBRIUM_H
#define EMB_EQUILIBRIUM_H

double emb_kp_no2(double T); /* [bar^-1/2] of NO + 1/2 O2 = NO2; T [K], held outside 200 .. 3000 */
#endif
