/* standing.c - what every report owes its reader: the cautions, and how far each part of the model
 * is checked. README.md tells the same with its sources. */
#include "write.h"

const char *const emb_cautions[] = {
    "The maker's procedure, local rules and licensed practice come first. A model is no permit.",
    "The outlet, the gas and all surfaces get hot enough to start a fire and to burn skin: park "
    "clear of dry grass, fuel, walls and people.",
    "Exhaust carries carbon monoxide: work in the open or with the exhaust led outside.",
    "Stay with the vehicle from start to cool-down, with an extinguisher at hand.",
    "Never start with an oil- or fuel-soaked filter or line.",
    NULL};

const char *const emb_standing[][2] = {
    {"gas properties, heat of reactions", "checked against published thermodynamic tables"},
    {"heat transfer correlations", "checked against handbook values and worked examples"},
    {"NO/NO2 equilibrium, fuel heat, DEF stoichiometry", "checked against published data and standards"},
    {"oxidation and NOx reduction", "rate laws of the literature; magnitudes calibrated to published bands"},
    {"soot oxidation", "activation energies of the literature; calibrated to published burn-out times"},
    {"engine", "mean-value correlations, judgement; not validated for any engine"},
    {"urea breakdown", "calibrated to two published yields"},
    {"crust on a catalyst's face", "calibrated, not validated: no published rates were found"},
    {"geometry", "one dimension along the flow; no maldistribution across a brick"},
    {"parts not described in the case", "typical values, see the inputs below; judgement where so marked"},
    {NULL, NULL}};
