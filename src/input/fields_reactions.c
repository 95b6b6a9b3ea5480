/* fields_reactions.c - rows of a user's own reaction set. */
#include "input.h"
#include "rows.h"

static const char *const coverages[] = {"none", "stored", "free", NULL};

static const struct emb_field step[] = {
    ROW_USE,
    ROW_HAND("equation", NULL, "balanced, as in  CO + 0.5 O2 -> CO2 ; NH3* is stored ammonia, FUEL counts carbon atoms"),
    ROW_HAND("A", NULL, "pre-exponential: mol/(m3 s) of brick, mol/(m2 s) with area, 1/s per stored mol with coverage, "
                        "m3/(mol s) if that takes the concentration of one gas; times K with temperature_power: 1"),
    ROW_Q(emb_step_keys, E, MOLAR_ENERGY, "0 J/mol", -1e6, 1e6, "activation energy; 12556 K R is one in kelvin", NULL, 0),
    ROW_HAND("orders", EMB_UNSET, "as in  CO 1, O2 0.5  in mole fractions; else first order in every gas consumed"),
    ROW_CHOICE(emb_step_keys, coverage, "none", coverages, "proportional to ammonia stored, or to sites that are free"),
    ROW_Q(emb_step_keys, alpha, FRACTION, "0", 0, 1, "share of E that full coverage takes away (Temkin)", NULL, 0),
    ROW_HAND("inhibited_by", EMB_UNSET, "name of the inhibition group that divides the rate"),
    ROW_BOOL(emb_step_keys, equilibrium, "no", "bounded by its equilibrium; NO + 0.5 O2 -> NO2 only"),
};
EMB_BLOCK(step, "steps[]", "One reaction: rate = A exp(-E/RT) x mole fractions to their orders / inhibition.", step);

static const struct emb_field addend[] = {
    ROW_USE,
    ROW_HAND("group", NULL, "name of the group this belongs to"),
    ROW_INT(emb_addend_keys, factor, "1", 1, 4, "number of the bracket (1 + K ... + K ...)^power in the group", NULL),
    ROW_Q(emb_addend_keys, power, FRACTION, "1", -4, 4, "of the bracket; the same in all its rows", NULL, 0),
    ROW_Q(emb_addend_keys, K, FRACTION, NULL, 0, 1e30, "adsorption constant per mole fractions", NULL, 0),
    ROW_Q(emb_addend_keys, E, MOLAR_ENERGY, "0 J/mol", -1e6, 1e6, "K exp(-E/RT): below zero for adsorption", NULL, 0),
    ROW_HAND("of", NULL, "as in  CO 2, C3H6 2"),
};
EMB_BLOCK(addend, "inhibition[]", "One term of an inhibition group (Langmuir-Hinshelwood).", addend);

static const struct emb_field reactions[] = {
    ROW_USE,
    ROW_HAND("name", EMB_UNSET, "of the set"),
    ROW_HAND("source", EMB_UNSET, "where the numbers come from"),
    ROW_Q(emb_reactions_keys, area, COEFFICIENT, "0 1/m", 0, 1e9, "catalytic area per brick volume, for A per area", NULL, 0),
    ROW_INT(emb_reactions_keys, temperature_power, "0", 0, 1, "1: inhibited rates are also divided by the temperature", NULL),
    ROW_LIST("steps", step, "the reactions"),
    ROW_LIST("inhibition", addend, "terms of the inhibition groups"),
};
EMB_BLOCK(reactions, "reactions", "A reaction set of your own, inline or from a part file.", reactions);
