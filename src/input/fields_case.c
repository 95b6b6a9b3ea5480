/* fields_case.c - rows of the case: surroundings, duty, regeneration, targets, solver. */
#include "rows.h"
#include <string.h>

int emb_field_find(const struct emb_block *b, const char *key)
{
    for (size_t i = 0; i < b->n; i++) {
        if (strcmp(b->field[i].key, key) == 0) {
            return (int)i;
        }
    }
    return -1;
}

bool emb_field_spread_absolute(const struct emb_field *f)
{
    double v = 1.0;
    const char *unit = NULL;
    return f->dim == EMB_DIM_TEMPERATURE || f->dim == EMB_DIM_DELTA ||
           (f->def != NULL && emb_number_parse(f->def, &v, &unit) == 0 && v == 0.0);
}

static const char *const quantities[] = {"temperature", "soot", "conversion_co", "conversion_hc", "conversion_nox",
                                         "dosing", "def_dosing", "nox_check", NULL};
static const char *const methods[] = {"auto", "bdf", "trapezoid", NULL}; /* enum emb_method */
static const char *const limits[] = {"continue", "stop", NULL};

static const struct emb_field ambient[] = {
    ROW_USE,
    ROW_QM(emb_ambient, temperature, TEMPERATURE, "20 degC", 200, 340, "of the air around the vehicle", NULL, 5, "thermometer in the shade beside the vehicle"),
    ROW_QM(emb_ambient, pressure, PRESSURE, "101.325 kPa", 5e4, 1.1e5, "of the air", NULL, 0.02, "barometer on the spot, not reduced to sea level"),
    ROW_QM(emb_ambient, wind, SPEED, "1 m/s", 0, 40, "air speed under the parked vehicle", SRC_JUDGED, 0.5, "anemometer under the vehicle"),
    ROW_QM(emb_ambient, humidity, FRACTION, "50 %", 0, 1, "relative humidity", NULL, 0.3, "hygrometer beside the vehicle"),
    ROW_Q(emb_ambient, underbody, FRACTION, "0.4", 0, 1, "share of the road speed felt by the line", SRC_JUDGED, 0.3),
};
EMB_BLOCK(ambient, "ambient", "The surroundings.", ambient);

#define L(...) ROW_Q(emb_levers, __VA_ARGS__)
static const struct emb_field levers[] = {
    ROW_USE,
    L(idle_speed, ROTATION, EMB_UNSET, 20, 300, "raised idle", NULL, 0.03),
    L(throttle, FRACTION, EMB_UNSET, 0, 0.9, "share of the intake air held back", NULL, 0.1),
    L(egr, FRACTION, EMB_UNSET, 0, 1, "multiplier on the EGR rate", NULL, 0.2),
    L(brake, FRACTION, EMB_UNSET, 0, 1, "exhaust brake or closed turbine: added load as share of peak", NULL, 0.1),
    L(close_post, MASS_FLOW, EMB_UNSET, 0, 0.05, "close post-injection: burns in the cylinder", NULL, 0.1),
    L(late_post, MASS_FLOW, EMB_UNSET, 0, 0.05, "late post-injection: leaves mostly unburnt", NULL, 0.1),
};
EMB_BLOCK(levers, "levers", "What the engine control can do for heat; left out means left as it is.", levers);

#define P(...) ROW_Q(emb_phase, __VA_ARGS__)
static const struct emb_field phase[] = {
    ROW_USE,
    ROW_TEXT(emb_phase, name, EMB_UNSET, "name of the phase"),
    ROW_QK(emb_phase, duration, "for", TIME, EMB_UNSET, 0.01, 3.2e7, "how long; cycles: else their own length", NULL, 0),
    ROW_INT(emb_phase, repeat, "1", 1, 100000, "how often in a row", NULL),
    P(speed, ROTATION, EMB_UNSET, 20, 700, "engine speed; else idle", NULL, 0),
    P(load, FRACTION, EMB_UNSET, 0, 1, "share of the torque available at this speed", NULL, 0),
    P(road_speed, SPEED, EMB_UNSET, 0, 60, "steady driving; beside a stream or a log: the air along the line", NULL, 0),
    P(grade, FRACTION, EMB_UNSET, -0.5, 0.5, "of the road", NULL, 0),
    ROW_HAND("road_cycle", EMB_UNSET, "CSV of speed and grade over time, relative to the case file"),
    ROW_HAND("engine_cycle", EMB_UNSET, "CSV of normalised speed and torque over time"),
    ROW_HAND("recorded", EMB_UNSET, "yes: play the recorded log"),
    ROW_BLOCK("stream", offsetof(struct emb_phase, stream), stream, true, "changes to the prescribed stream"),
    ROW_BLOCK("levers", offsetof(struct emb_phase, levers), levers, true, "levers during this phase"),
    ROW_BOOL(emb_phase, regenerate, "no", "ask for a regeneration during this phase"),
};
EMB_BLOCK(phase, "duty.phases[]", "One phase of the duty; the keys given decide its kind.", phase);
static const struct emb_field duty[] = {
    ROW_USE,
    {"repeat", EMB_FIELD_INT, EMB_DIM_FRACTION, "1", 1, 100000, offsetof(struct emb_case, duty_repeat),
     "how often the whole duty is run", NULL, 0, NULL, NULL, false, NULL},
    ROW_LIST("phases", phase, "what the vehicle does, in order"),
};
EMB_BLOCK(duty, "duty", "What the vehicle does.", duty);

#define R(...) ROW_Q(emb_regen_cfg, __VA_ARGS__)
#define RM(...) ROW_QM(emb_regen_cfg, __VA_ARGS__)
static const struct emb_field regeneration[] = {
    ROW_USE,
    ROW_HAND("doser", EMB_UNSET, "name of the fuel doser, or late_post; else the first fuel doser, or late_post"),
    ROW_HAND("enable_at", EMB_UNSET, "catalyst whose face must be hot; else the next oxidation catalyst behind the doser"),
    ROW_HAND("hold_at", EMB_UNSET, "element whose inlet gas is held; else the next brick or filter behind enable_at"),
    RM(enable_temperature, TEMPERATURE, "260 degC", 350, 900, "catalyst face must be this hot before fuel", SRC_PRACTICE, 10, "the maker's figure"),
    RM(target_temperature, TEMPERATURE, "575 degC", 400, 1100, "gas at the held element", SRC_PRACTICE, 10, "the maker's figure"),
    RM(max_rate, MASS_FLOW, "3 g/s", 0, 0.2, "largest fuel flow", SRC_JUDGED, 0.1, "the maker's figure"),
    R(slew, SLEW, "0.02 g/s2", 1e-9, 1, "fastest growth of the fuel flow", SRC_JUDGED, 0.5),
    R(gain, GAIN, "0.0002 g/(s K)", 0, 1e-2, "proportional gain", SRC_JUDGED, 0.5),
    R(integral, INTEGRAL, "0.000002 g/(s2 K)", 0, 1e-2, "integral gain", SRC_JUDGED, 0.5),
    R(sample, TIME, "2 s", 0.05, 60, "interval of the control; in quiet times several samples are computed at once, see solver.stretch", SRC_JUDGED, 0),
    R(warmup_limit, TIME, "20 min", 1, 1e5, "to reach the enable temperature before giving up", SRC_JUDGED, 0),
    R(time_limit, TIME, "40 min", 1, 1e5, "of dosing", SRC_JUDGED, 0),
    R(stop_soot, FRACTION, "10 %", 0, 1, "soot share at which it is done", SRC_JUDGED, 0),
    R(cooldown, TIME, "5 min", 0, 1e4, "after dosing", SRC_JUDGED, 0),
    R(abort_temperature, TEMPERATURE, "850 degC", 600, 2000, "any brick this hot stops the regeneration", SRC_JUDGED, 20),
    R(fade_time, TIME, "60 s", 0, 1e4, "the enable temperature may be lost this long", SRC_JUDGED, 0),
    ROW_BLOCK("levers", offsetof(struct emb_regen_cfg, levers), levers, true, "levers while regenerating"),
};
EMB_BLOCK(regeneration, "regeneration", "The regeneration sequence.", regeneration);

static const struct emb_field target[] = {
    ROW_USE,
    ROW_HAND("name", NULL, "name of the question"),
    ROW_HAND("at", NULL, "name of the element"),
    {"quantity", EMB_FIELD_CHOICE, EMB_DIM_FRACTION, "temperature", 0, 0, offsetof(struct emb_target, quantity),
     "what is watched", NULL, 0, NULL, quantities, false, NULL},
    ROW_HAND("above", EMB_UNSET, "reached when above this: a temperature, or a share of 1"),
    ROW_HAND("below", EMB_UNSET, "reached when below this: a temperature, or a share of 1"),
    ROW_Q(emb_target, hold, TIME, "0 s", 0, 3.2e7, "for this long without a break", NULL, 0),
    ROW_Q(emb_target, while_above, TEMPERATURE, "250 degC", 273, 1300,
          "nox_check: the NOx conversion counts only while the mean of the catalyst is above this", SRC_JUDGED, 20),
};
EMB_BLOCK(target, "targets[]", "A question that the run answers with yes or no.", target);

static const struct emb_field solver[] = {
    ROW_USE,
    ROW_CHOICE(emb_case, method, "auto", methods,
               "bdf: CVODES; trapezoid: row by row, for tables; auto: trapezoid where road or engine cycles take most of the time"),
    ROW_Q(emb_case, rtol, FRACTION, "1e-6", 1e-12, 1e-2, "relative tolerance of the integrator; up to 1000 times that with the trapezoid; absolute tolerances of films, soot and what sites hold go with its root", SRC_JUDGED, 0),
    ROW_Q(emb_case, temperature_atol, DELTA, "1e-3 K", 1e-9, 10, "absolute tolerance of temperatures; up to 1000 times that with the trapezoid", SRC_JUDGED, 0),
    ROW_Q(emb_case, stretch, TIME, "32 s", 0, 3600,
          "samples of a control that change next to nothing are taken in one go, over no more than this; 0 s: every "
          "sample stops the integrator, as with the trapezoid and beside sensitivities", SRC_JUDGED, 0),
};
EMB_BLOCK(solver, "solver", "Accuracy of the integration.", solver);
static const struct emb_field output[] = {
    ROW_USE,
    ROW_QK(emb_case, output_interval, "interval", TIME, "0 s", 0, 1e6, "between recorded rows; 0: chosen", NULL, 0),
};
EMB_BLOCK(output, "output", "What is recorded.", output);

#define SRC_FULLER "Fuller, Schettler & Giddings 1966, Ind. Eng. Chem. 58(5):18"
#define G(X, k) ROW_QK(emb_diffusion_cfg, D0[EMB_##X], k, DIFFUSIVITY, EMB_UNSET, 1e-8, 1e-2, \
                       "in the exhaust at 25 degC and 1 atm; else built in", SRC_FULLER, 0)
static const struct emb_field diffusivities[] = {
    ROW_USE,
    ROW_Q(emb_diffusion_cfg, power, FRACTION, "1.75", 0.5, 3, "of the temperature, for all", SRC_FULLER, 0),
    G(N2, "n2"),
    G(O2, "o2"),
    G(CO2, "co2"),
    G(H2O, "h2o"),
    G(CO, "co"),
    G(H2, "h2"),
    G(CH4, "ch4"),
    G(C3H6, "c3h6"),
    G(FUEL, "fuel"),
    G(NO, "no"),
    G(NO2, "no2"),
    G(N2O, "n2o"),
    G(NH3, "nh3"),
    G(HNCO, "hnco"),
};
EMB_BLOCK(diffusivities, "diffusivities", "How fast the species diffuse in the exhaust.", diffusivities);

static const struct emb_field root[] = {
    ROW_TEXT(emb_case, title, "", "one line that names the case"),
    ROW_BLOCK("ambient", offsetof(struct emb_case, ambient), ambient, false, "the surroundings"),
    ROW_BLOCK("diffusivities", offsetof(struct emb_case, diffusion), diffusivities, false, "of the species, in place of the built-in ones"),
    ROW_Q(emb_case, start_temperature, TEMPERATURE, EMB_UNSET, 200, 1300, "of all parts at the start; else ambient", NULL, 0),
    ROW_BLOCK("stream", offsetof(struct emb_case, stream), stream, false, "source: a prescribed stream"),
    ROW_BLOCK("engine", offsetof(struct emb_case, engine), engine, false, "source: an engine"),
    ROW_BLOCK("recorded", offsetof(struct emb_case, recorded), recorded, false, "source: a recorded log"),
    ROW_BLOCK("vehicle", offsetof(struct emb_case, vehicle), vehicle, false, "road load"),
    ROW_LIST("line", element, "the exhaust line from the engine to the outlet"),
    ROW_BLOCK("duty", 0, duty, false, "what the vehicle does"),
    ROW_BLOCK("regeneration", offsetof(struct emb_case, regen), regeneration, false, "the regeneration sequence"),
    ROW_LIST("targets", target, "questions with a yes or no"),
    ROW_BLOCK("solver", 0, solver, false, "accuracy"),
    ROW_BLOCK("output", 0, output, false, "what is recorded"),
    ROW_CHOICE(emb_case, limits, "continue", limits,
               "when a substrate melts or a load does not fit its channels: say so and continue, or stop"),
};
EMB_BLOCK(case, "case", "One case.", root);
