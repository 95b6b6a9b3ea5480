/* fields_line.c - rows of the elements of the line. */
#include "rows.h"

static const char *const kinetics[] = {"none", "oxidation", "copper_zeolite", "iron_zeolite", "vanadia", NULL};
static const char *const films[] = {"film", "gas", NULL};
static const char *const def_controls[] = {"ratio", "closed_loop", NULL};
static const char *const covers[] = {"bare", "wrapped", "double_walled", NULL};
#define SRC_DROP "Konstandopoulos et al. 2000 (SAE 2000-01-1016), from memory"
#define SRC_CORDIERITE "Oh & Cavendish 1982, Table I, in SI"

#define BODY(T, D, L, CPSI, WEB, RHO, RHO_SRC, CELLS)                                                                                       \
    ROW_QK(T, body.diameter, "diameter", LENGTH, D, 0.01, 2, "of the brick", SRC_PRACTICE, 0),                         \
    ROW_QK(T, body.length, "length", LENGTH, L, 0.005, 3, "of the brick along the flow", SRC_PRACTICE, 0),             \
    ROW_QK(T, body.cell_density, "cell_density", CELL_DENSITY, CPSI, 1.5e4, 2.4e6, "channels per face area",           \
           SRC_PRACTICE, 0),                                                                                           \
    ROW_QK(T, body.web, "web", LENGTH, WEB, 1e-5, 2e-3, "wall between channels, with coating", SRC_PRACTICE, 0.1),     \
    ROW_QK(T, body.solid_density, "solid_density", DENSITY, RHO, 100, 1e4, "of the wall material",            \
           RHO_SRC, 0.1),                                                                                       \
    ROW_QK(T, body.cp_a, "cp_a", SPECIFIC_HEAT, "1071 J/(kg K)", 0, 5000, "specific heat is a + b T + c/T^2",          \
           SRC_CORDIERITE, 0.05),                                                                                      \
    ROW_QK(T, body.cp_b, "cp_b", HEAT_SLOPE, "0.156 J/(kg K2)", -10, 10, "growth of the specific heat",                \
           SRC_CORDIERITE, 0),                                                                                         \
    ROW_QK(T, body.cp_c, "cp_c", HEAT_INVERSE, "-3.435e7 J K/kg", -1e9, 1e9, "inverse-square term",                    \
           SRC_CORDIERITE, 0),                                                                                         \
    ROW_QK(T, body.conductivity, "conductivity", CONDUCTIVITY, "1.675 W/(m K)", 0, 500, "of the wall material",        \
           SRC_CORDIERITE, 0.3),                                                                                       \
    {"cells", EMB_FIELD_INT, EMB_DIM_FRACTION, CELLS, 1, 200, offsetof(struct T, body.cells),                          \
     "pieces along the flow that are computed", SRC_JUDGED, 0, NULL, NULL, false, NULL},                                     \
    ROW_QK(T, body.mat_conductance, "mat_conductance", CONDUCTANCE, "80 W/(m2 K)", 0, 1e4, "brick to can through the mat", \
           SRC_JUDGED, 0.3),                                                                                           \
    ROW_QK(T, body.can_heat, "can_heat", AREA_HEAT, "6000 J/(m2 K)", 1, 1e6, "heat capacity of the can per area",      \
           SRC_JUDGED, 0.2),                                                                                           \
    ROW_QK(T, body.emissivity, "emissivity", FRACTION, "0.6", 0, 1, "outside of the can", SRC_JUDGED, 0.3),            \
    ROW_QKM(T, body.insulation, "insulation", INSULATION, "0 m2 K/W", 0, 10, "outside the can; 0 is bare", NULL, 0.01,     \
            "look: heat shields and wraps in place"), \
    ROW_QK(T, body.nusselt, "nusselt", FRACTION, "2.976", 0.1, 20, "Nusselt and Sherwood number far from the entrance",   \
           "square duct, constant wall temperature: Shah & London 1978", 0.1),                                        \
    {"entrance", EMB_FIELD_BOOL, EMB_DIM_FRACTION, "yes", 0, 1, offsetof(struct T, body.entrance),                     \
     "higher transfer near the entrance of flow-through channels (Hawthorn 1974)", NULL, 0, NULL, NULL, false, NULL},         \
    ROW_QK(T, body.melting_temperature, "melting_temperature", TEMPERATURE, "1430 degC", 500, 3000,                    \
           "of the wall material: a physical limit of the run", "cordierite decomposes near 1430 degC", 0)

#define W(...) ROW_Q(emb_washcoat_cfg, __VA_ARGS__)
static const struct emb_field washcoat[] = {
    ROW_USE,
    W(thickness, LENGTH, "0 um", 0, 1e-3, "of the porous coating on the channel walls; 0: its pores do not resist", NULL, 0),
    W(pores, FRACTION, "0.1", 1e-3, 1, "open share of the coating over its tortuosity", SRC_JUDGED, 0.5),
    W(pore_diameter, LENGTH, "20 nm", 1e-9, 1e-5, "of the pores, for Knudsen diffusion", SRC_JUDGED, 0.5),
    W(sherwood, FRACTION, "3", 0.1, 20, "internal Sherwood number, on the thickness: 3 is exact for a slab and slow reaction",
      "tanh(phi)/phi = 1 - phi^2/3 + ...; Joshi, Harold & Balakotaiah 2009, Chem. Eng. Sci. 64:4976 (from memory)", 0),
};
EMB_BLOCK(washcoat, "washcoat", "Diffusion inside the washcoat, in series with the gas film.", washcoat);

#define BRICK(KIN, SITES, WHAT)                                                                                              \
    ROW_CHOICE(emb_brick_cfg, kinetics, KIN, kinetics, "reaction set of the coating"),                                 \
    ROW_BLOCK("reactions", EMB_BY_HAND, reactions, false, "a reaction set of your own, in place of kinetics"),                                 \
    ROW_CHOICE(emb_brick_cfg, properties_at, "film", films,                                                            \
               "temperature of the gas properties of the film: film, halfway between gas and wall, or that of the gas"),  \
    ROW_QM(emb_brick_cfg, activity, FRACTION, "1", 0, 1, "active area left after ageing or poisoning", NULL, 0.2, "rise over it while fuel is dosed, against emberpipe readings"),      \
    ROW_QM(emb_brick_cfg, blocked, FRACTION, "0", 0, 0.95, "share of the face closed by a crust at the start", NULL, 0.05, "look at the face (endoscope)"), \
    ROW_Q(emb_brick_cfg, slip_zone, FRACTION, "0", 0, 0.9, "rear share of the length with an oxidation coating", NULL, 0), \
    ROW_Q(emb_brick_cfg, storage, MOLAR_DENSITY, SITES, 0, 1000, "storage sites per brick volume, for " WHAT, SRC_JUDGED, \
          0.3),                                                                                                        \
    ROW_Q(emb_brick_cfg, stored, FRACTION, "0", 0, 1, "coverage of the sites at the start, by " WHAT, NULL, 0.1),          \
    ROW_Q(emb_brick_cfg, crust_rate, FRACTION, "0.02", 0, 1, "share of soot and heavy hydrocarbon that sticks on a cold face", \
          SRC_JUDGED, 1),                                                                                              \
    ROW_BLOCK("washcoat", offsetof(struct emb_brick_cfg, washcoat), washcoat, false, "diffusion inside the coating")

#define P(...) ROW_Q(emb_pipe_cfg, __VA_ARGS__)
#define PM(...) ROW_QM(emb_pipe_cfg, __VA_ARGS__)
static const struct emb_field pipe[] = {
    ROW_USE,
    P(length, LENGTH, "1 m", 0.01, 50, "flow length", SRC_JUDGED, 0),
    P(diameter, LENGTH, "0.125 m", 0.005, 1, "inner diameter", SRC_PRACTICE, 0),
    PM(wall, LENGTH, "1.6 mm", 1e-4, 0.05, "wall thickness", SRC_PRACTICE, 0.1, "caliper"),
    ROW_INT(emb_pipe_cfg, cells, "3", 1, 200, "pieces along the flow that are computed", SRC_JUDGED),
    ROW_CHOICE(emb_pipe_cfg, cover, "bare", covers, "what surrounds the pipe"),
    PM(cover_thickness, LENGTH, "12 mm", 1e-4, 0.3, "wrap or air gap", SRC_JUDGED, 0.2, "ruler"),
    PM(cover_conductivity, CONDUCTIVITY, "0.08 W/(m K)", 1e-3, 50, "of the wrap", SRC_JUDGED, 0.3, "look: wet, torn or missing wrap"),
    P(cover_heat, AREA_HEAT, "2000 J/(m2 K)", 1, 1e6, "heat capacity of the wrap or outer wall per area", SRC_JUDGED, 0.3),
    P(emissivity, FRACTION, "0.85", 0, 1, "outer surface", SRC_JUDGED, 0.1),
    P(enhancement, FRACTION, "1.5", 0.1, 10, "inside heat transfer over that of a smooth straight pipe", SRC_JUDGED, 0.3),
    P(density, DENSITY, "7750 kg/m3", 100, 2e4, "of the wall", SRC_PRACTICE, 0.02),
    P(heat_capacity, SPECIFIC_HEAT, "460 J/(kg K)", 50, 5000, "of the wall", SRC_PRACTICE, 0.05),
};
EMB_BLOCK(pipe, "pipe", "A pipe, bare, wrapped or double-walled.", pipe);

#define M(...) ROW_Q(emb_mass_cfg, __VA_ARGS__)
static const struct emb_field turbine[] = {
    ROW_USE,
    M(mass, MASS, "25 kg", 0.01, 2000, "turbine housing and manifold", SRC_JUDGED, 0.3),
    M(heat_capacity, SPECIFIC_HEAT, "500 J/(kg K)", 50, 5000, "of the metal", SRC_PRACTICE, 0.05),
    M(inner_area, AREA, "0.15 m2", 1e-4, 20, "wetted by the gas", SRC_JUDGED, 0.3),
    M(outer_area, AREA, "0.2 m2", 1e-4, 20, "towards the surroundings", SRC_JUDGED, 0.3),
    M(film, CONDUCTANCE, "250 W/(m2 K)", 0, 2000, "inside film coefficient at the reference flow", SRC_JUDGED, 0.3),
    M(emissivity, FRACTION, "0.8", 0, 1, "outer surface", SRC_JUDGED, 0.1),
    M(enthalpy_drop, SPECIFIC_ENERGY, "150 kJ/kg", 0, 5e5, "taken by the turbine at the reference flow", SRC_JUDGED, 0.3),
    M(reference_flow, MASS_FLOW, "0.3 kg/s", 1e-4, 20, "flow at which film and drop hold", SRC_JUDGED, 0),
};
EMB_BLOCK(turbine, "turbine", "Turbine and manifold as one lump of metal that takes work from the gas.", turbine);

static const struct emb_field oxicat[] = {
    ROW_USE, BODY(emb_brick_cfg, "12 in", "5 in", "400 cpsi", "0.2 mm", "2500 kg/m3", SRC_CORDIERITE, "6"),
    BRICK("oxidation", "60 mol/m3", "heavy hydrocarbon, counted per carbon atom"),
};
EMB_BLOCK(oxicat, "oxidation_catalyst", "Oxidation catalyst on a flow-through honeycomb.", oxicat);
static const struct emb_field redcat[] = {
    ROW_USE, BODY(emb_brick_cfg, "12 in", "12 in", "400 cpsi", "0.2 mm", "2500 kg/m3", SRC_CORDIERITE, "6"),
    BRICK("copper_zeolite", "200 mol/m3", "ammonia"),
};
EMB_BLOCK(redcat, "reduction_catalyst", "Reduction catalyst (SCR) on a flow-through honeycomb.", redcat);

#define S(...) ROW_Q(emb_soot_cfg, __VA_ARGS__)
static const struct emb_field soot[] = {
    ROW_USE,
    S(o2_a, RATE, "2.15e7 1/s", 0, 1e15, "by oxygen at mole fraction 0.1: pre-exponential",
      "calibrated: 630 degC peak of a 10 K/min burn", 0.5),
    S(o2_e, MOLAR_ENERGY, "168 kJ/mol", 0, 4e5, "by oxygen: activation energy",
      "Neeft et al. 1997, Fuel 76:1129 (from memory)", 0.05),
    S(o2_order, FRACTION, "0.85", 0, 2, "by oxygen: order in oxygen",
      "Neeft et al. 1997, Fuel 76:1129 (from memory)", 0.1),
    S(no2_a, RATE, "4.4e3 1/s", 0, 1e15, "by NO2 alone, per mole fraction: pre-exponential",
      SRC_JUDGED, 0.5),
    S(no2_e, MOLAR_ENERGY, "55 kJ/mol", 0, 4e5, "by NO2 alone: activation energy",
      "40-75 kJ/mol in print: Jacquot et al. 2002, Carbon 40:335, and others (from memory)", 0.1),
    S(coop_a, RATE, "6.6e3 1/s", 0, 1e15,
      "by NO2 and oxygen together, per NO2 at oxygen mole fraction 0.1: pre-exponential",
      SRC_JUDGED, 0.5),
    S(coop_e, MOLAR_ENERGY, "55 kJ/mol", 0, 4e5, "by NO2 and oxygen together: activation energy",
      SRC_JUDGED, 0.1),
    S(coop_order, FRACTION, "0.3", 0, 2, "by NO2 and oxygen together: order in oxygen",
      "Jacquot et al. 2002, Carbon 40:335 (from memory)", 0.3),
    S(co_share, FRACTION, "0.3", 0, 0.99, "carbon that leaves as CO when oxygen burns it at 600 degC",
      SRC_JUDGED, 0.3),
    S(co_e, MOLAR_ENERGY, "51.9 kJ/mol", 0, 2e5, "growth of CO over CO2 with temperature",
      "Arthur 1951, Trans. Faraday Soc. 47:164 (from memory)", 0.2),
};
EMB_BLOCK(soot, "burning", "How soot burns: a named set (use: soot-...) or plain numbers.", soot);

#define F(...) ROW_Q(emb_filter_cfg, __VA_ARGS__)
#define FM(...) ROW_QM(emb_filter_cfg, __VA_ARGS__)
#define SRC_WALL "Bissett 1984, Chem. Eng. Sci. 39:1233 (from memory)"
static const struct emb_field filter[] = {
    ROW_USE, BODY(emb_filter_cfg, "12 in", "12 in", "200 cpsi", "0.305 mm", "1400 kg/m3", SRC_WALL, "6"),
    F(coated, FRACTION, "0", 0, 1, "activity of an oxidation coating in the wall; 0 is bare", NULL, 0.2),
    F(channel_diffusion, FRACTION, "1", 0, 10,
      "gas that reaches the soot layer from the channel by diffusion, relative to a laminar duct",
      "Haralampous & Koltsakis 2004, AIChE J. 50:2008 (from memory)", 0.3),
    F(back_diffusion, FRACTION, "0.5", 0, 1,
      "share of the coating whose NO2 reaches the soot layer against the flow", SRC_JUDGED, 0.3),
    F(wall_permeability, AREA, "2.5e-13 m2", 1e-15, 1e-10, "of the clean wall", SRC_DROP, 0.3),
    F(soot_permeability, AREA, "1.5e-14 m2", 1e-16, 1e-11, "of the soot layer", SRC_DROP, 0.5),
    F(soot_density, DENSITY, "100 kg/m3", 10, 1000, "of the soot layer", SRC_DROP, 0.3),
    FM(soot, DENSITY, "0 g/L", 0, 30, "soot at the start per filter volume", NULL, 1, "scan tool and pressure drop together"),
    FM(full_load, DENSITY, "6 g/L", 0.1, 30, "soot that a scan tool would call 100 %", SRC_JUDGED, 0.15, "the maker's figure"),
    F(clean_efficiency, FRACTION, "97 %", 0, 1, "share of the soot that a clean wall catches", SRC_JUDGED, 0.02),
    F(deep_capacity, DENSITY, "0.3 g/L", 0, 5, "soot inside the walls when they are full", SRC_JUDGED, 0.5),
    F(deep_growth, FRACTION, "1.0", 0, 20, "flow resistance that full walls add, relative to clean ones",
      SRC_JUDGED, 0.5),
    FM(ash, DENSITY, "0 g/L", 0, 150, "ash per filter volume", NULL, 10, "hours since it was cleaned; weigh it when it is off"),
    F(ash_density, DENSITY, "400 kg/m3", 50, 3000, "of packed ash", SRC_JUDGED, 0.3),
    F(ash_permeability, AREA, "1e-13 m2", 1e-16, 1e-10, "of the ash layer", SRC_JUDGED, 0.5),
    F(ash_plug, FRACTION, "0.5", 0, 1, "share of the ash that lies as a plug at the rear", SRC_JUDGED, 0.4),
    F(inertia, COEFFICIENT, "1.5e8 1/m", 0, 1e11, "Forchheimer coefficient of the wall", SRC_DROP, 0.5),
    F(end_loss, FRACTION, "3", 0, 20, "entrance and exit loss, per velocity head in the channels", SRC_DROP, 0.3),
    F(damage_temperature, TEMPERATURE, "1000 degC", 500, 2500, "limit of the substrate in use", SRC_PRACTICE, 0),
    ROW_BLOCK("reactions", EMB_BY_HAND, reactions, false, "a reaction set of your own for the coating"),
    ROW_BLOCK("burning", offsetof(struct emb_filter_cfg, burning), soot, false, "how soot burns"),
};
EMB_BLOCK(filter, "filter", "Wall-flow particulate filter with its soot.", filter);

#define D(...) ROW_Q(emb_doser_cfg, __VA_ARGS__)
#define DM(...) ROW_QM(emb_doser_cfg, __VA_ARGS__)
static const struct emb_field doser[] = {
    ROW_USE,
    DM(delivery, FRACTION, "1", 0, 1.5, "fuel delivered over fuel commanded", NULL, 0.1, "delivery test by the maker's procedure"),
    D(wall_share, FRACTION, "0.5", 0, 1, "share of the spray that reaches the wall", SRC_JUDGED, 0.4),
    D(wall_mass, MASS, "1 kg", 1e-3, 100, "wetted wall", SRC_JUDGED, 0.5),
    D(wall_area, AREA, "0.03 m2", 1e-5, 5, "wetted wall", SRC_JUDGED, 0.5),
    DM(max_rate, MASS_FLOW, "4 g/s", 1e-7, 0.2, "largest fuel flow", SRC_JUDGED, 0.1, "the maker's figure"),
    D(fuel_temperature, TEMPERATURE, "25 degC", 230, 400, "of the fuel injected", SRC_JUDGED, 10),
};
EMB_BLOCK(doser, "fuel_doser", "Fuel injector in the exhaust, driven by the regeneration.", doser);

#define U(...) ROW_Q(emb_def_cfg, __VA_ARGS__)
#define UM(...) ROW_QM(emb_def_cfg, __VA_ARGS__)
static const struct emb_field def[] = {
    ROW_USE,
    UM(delivery, FRACTION, "1", 0, 1.5, "fluid delivered over fluid commanded", NULL, 0.1, "delivery test by the maker's procedure"),
    ROW_CHOICE(emb_def_cfg, control, "ratio", def_controls,
               "ratio: ammonia in proportion to the NOx that passes; closed_loop: that, corrected towards a coverage "
               "of the reduction catalyst behind"),
    U(ratio, FRACTION, "1.0", 0, 3, "ammonia dosed per NOx", SRC_PRACTICE, 0.1),
    U(enable_temperature, TEMPERATURE, "190 degC", 273, 800, "gas at the doser above which dosing starts", SRC_PRACTICE, 10),
    U(max_rate, MASS_FLOW, "2 g/s", 1e-7, 0.1, "largest fluid flow", SRC_JUDGED, 0.1),
    U(coverage_cold, FRACTION, "20 %", 0, 1, "closed_loop: ammonia coverage wanted at 200 degC and below", SRC_JUDGED, 0.2),
    U(coverage_hot, FRACTION, "4 %", 0, 1, "closed_loop: ammonia coverage wanted at 400 degC and above", SRC_JUDGED, 0.2),
    U(fill_time, TIME, "2 min", 1, 3600, "closed_loop: time in which it would fill what is missing", SRC_JUDGED, 0.3),
    U(sample, TIME, "2 s", 0.05, 60, "closed_loop: time between two samples; in quiet times several are computed at once, see solver.stretch", SRC_JUDGED, 0),
    U(deposit_depth, LENGTH, "0.5 mm", 1e-6, 10,
      "film on the wall from which half of the HNCO stays and forms solid deposit; a large value switches that off",
      SRC_JUDGED, 0.5),
    U(wall_share, FRACTION, "0.3", 0, 1, "share of the spray that reaches the wall", SRC_JUDGED, 0.4),
    U(wall_mass, MASS, "1 kg", 1e-3, 100, "wetted wall", SRC_JUDGED, 0.5),
    U(wall_area, AREA, "0.03 m2", 1e-5, 5, "wetted wall", SRC_JUDGED, 0.5),
    UM(strength, FRACTION, "0.325", 0.01, 0.8, "urea mass share", "ISO 22241-1", 0.005, "refractometer"),
    U(fluid_temperature, TEMPERATURE, "25 degC", 260, 350, "of the fluid injected", SRC_JUDGED, 10),
};
EMB_BLOCK(def, "def_doser", "Urea solution (DEF) injector with its control.", def);

static const struct emb_field sensor[] = {
    ROW_USE,
    ROW_Q(emb_sensor_cfg, diameter, LENGTH, "4.5 mm", 2e-4, 0.03, "of the probe", SRC_PRACTICE, 0.2),
    ROW_QM(emb_sensor_cfg, offset, DELTA, "0 K", -500, 500, "reading minus true", NULL, 3, "compare all sensors with the engine cold"),
};
EMB_BLOCK(sensor, "sensor", "Gas temperature sensor with its lag.", sensor);
static const struct emb_field leak[] = {
    ROW_USE, ROW_QM(emb_leak_cfg, share, FRACTION, "10 %", 0, 0.9, "share of the flow that escapes here", SRC_JUDGED, 0.5, "smoke test of the exhaust"),
};
EMB_BLOCK(leak, "leak", "A leak to the outside.", leak);

static const struct emb_field element[] = {
    ROW_USE,
    ROW_HAND("name", NULL, "name of the element: letters, digits, _ and -"),
    ROW_HAND("before", EMB_UNSET, "moves the element directly in front of the one named here"),
    ROW_BLOCK("pipe", EMB_BY_HAND, pipe, false, "a pipe"),
    ROW_BLOCK("turbine", EMB_BY_HAND, turbine, false, "turbine and manifold"),
    ROW_BLOCK("oxidation_catalyst", EMB_BY_HAND, oxicat, false, "oxidation catalyst"),
    ROW_BLOCK("filter", EMB_BY_HAND, filter, false, "particulate filter"),
    ROW_BLOCK("reduction_catalyst", EMB_BY_HAND, redcat, false, "reduction catalyst"),
    ROW_BLOCK("fuel_doser", EMB_BY_HAND, doser, false, "fuel injector"),
    ROW_BLOCK("def_doser", EMB_BY_HAND, def, false, "DEF injector"),
    ROW_BLOCK("sensor", EMB_BY_HAND, sensor, false, "gas temperature sensor"),
    ROW_BLOCK("leak", EMB_BY_HAND, leak, false, "leak"),
};
EMB_BLOCK(element, "line[]", "One element of the line: a name and exactly one kind.", element);
