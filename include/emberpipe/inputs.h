/* inputs.h - what the outside world does to the line at one moment: a plain vector, linear between
 * stops. */
#ifndef EMB_INPUTS_H
#define EMB_INPUTS_H
#include "emberpipe/species.h"
enum emb_input {
    EMB_U_SPEED,       /* [rad/s] engine */
    EMB_U_TORQUE,      /* [N m] at the flywheel, accessories not included; < 0 motoring */
    EMB_U_THROTTLE,    /* [-] */
    EMB_U_EGR,         /* [-] multiplier */
    EMB_U_BRAKE,       /* [-] */
    EMB_U_CLOSE_POST,  /* [kg/s] */
    EMB_U_LATE_POST,   /* [kg/s] */
    EMB_U_AIR,         /* [m/s] air speed around the line */
    EMB_U_FLOW,        /* [kg/s] prescribed stream */
    EMB_U_TEMPERATURE, /* [K] prescribed stream */
    EMB_U_SOOT,        /* [kg/s] prescribed stream */
    EMB_U_X,           /* [-] EMB_NGAS mole fractions of the prescribed stream */
    EMB_U_DOSE =
        EMB_U_X +
        EMB_NGAS, /* [kg/s] commands of the dosers, in line order, EMB_MAX_DOSERS of them */
    EMB_MAX_DOSERS = 8, /* of each kind */
    /* [mol/s] that closed loops add (or hold back), DEF dosers in line order */
    EMB_U_NH3 = EMB_U_DOSE + EMB_MAX_DOSERS,
    EMB_NINPUT = EMB_U_NH3 + EMB_MAX_DOSERS
};
#endif
