/* fields_engine.c - rows of the sources: stream, recorded log, engine, vehicle. */
#include "rows.h"

#define X(k, id, def, help)                                                                                            \
    {k, EMB_FIELD_QUANTITY, EMB_DIM_FRACTION, def, 0, 1, offsetof(struct emb_stream_cfg, x) + id * sizeof(double),     \
     "mole fraction of " help, NULL, 0, NULL, NULL, false, NULL}
static const struct emb_field stream[] = {
    ROW_USE,
    ROW_Q(emb_stream_cfg, flow, MASS_FLOW, "0.1 kg/s", 1e-6, 20, "exhaust mass flow", SRC_JUDGED, 0.05),
    ROW_Q(emb_stream_cfg, temperature, TEMPERATURE, "300 degC", 200, 1500, "gas temperature at the inlet of the line",
          SRC_JUDGED, 10),
    X("o2", EMB_O2, "10 %", "oxygen"), X("co2", EMB_CO2, "7 %", "carbon dioxide"),
    X("h2o", EMB_H2O, "7 %", "water vapour"), X("co", EMB_CO, "0", "carbon monoxide"),
    X("h2", EMB_H2, "0", "hydrogen"), X("ch4", EMB_CH4, "0", "methane"), X("c3h6", EMB_C3H6, "0", "propene"),
    X("fuel", EMB_FUEL, "0", "fuel vapour, counted per carbon atom"), X("no", EMB_NO, "0", "nitric oxide"),
    X("no2", EMB_NO2, "0", "nitrogen dioxide"), X("n2o", EMB_N2O, "0", "nitrous oxide"),
    X("nh3", EMB_NH3, "0", "ammonia"),
    ROW_Q(emb_stream_cfg, soot, MASS_FLOW, "0 g/s", 0, 0.1, "soot carried by the stream", NULL, 0),
};
EMB_BLOCK(stream, "stream", "A prescribed exhaust stream; nitrogen is the rest of the mole fractions.", stream);

static const struct emb_field recorded[] = {
    ROW_USE,
    ROW_TEXT(emb_recorded_cfg, file, EMB_UNSET, "CSV log with headers \"name [unit]\", relative to the case file"),
    ROW_TEXT(emb_recorded_cfg, time_column, "time", "header name of the time column, without unit"),
    ROW_TEXT(emb_recorded_cfg, flow_column, "flow", "header name of the exhaust mass flow"),
    ROW_TEXT(emb_recorded_cfg, temperature_column, "temperature", "header name of the gas temperature"),
};
EMB_BLOCK(recorded, "recorded", "A logged exhaust flow and temperature; composition comes from the stream defaults.",
          recorded);

#define E(...) ROW_Q(emb_engine_cfg, __VA_ARGS__)
#define EM(...) ROW_QM(emb_engine_cfg, __VA_ARGS__)
static const struct emb_field engine[] = {
    ROW_USE,
    E(displacement, VOLUME, "12.9 L", 1e-4, 0.1, "swept volume of all cylinders", SRC_PRACTICE, 0),
    ROW_INT(emb_engine_cfg, cylinders, "6", 1, 16, "number of cylinders", SRC_PRACTICE),
    EM(idle_speed, ROTATION, "650 rpm", 20, 300, "warm idle speed", SRC_PRACTICE, 0.05, "scan tool: engine speed at warm idle"),
    E(rated_speed, ROTATION, "1900 rpm", 60, 700, "speed of rated power", SRC_PRACTICE, 0.05),
    E(peak_torque, TORQUE, "2300 N m", 10, 1e4, "largest torque at the flywheel", SRC_PRACTICE, 0.05),
    E(volumetric_efficiency, FRACTION, "0.9", 0.3, 1.2, "cylinder filling over ideal filling", SRC_PRACTICE, 0.05),
    EM(boost, FRACTION, "3.4", 1, 6, "intake pressure ratio at peak torque and 65 % of rated speed", SRC_PRACTICE, 0.1, "scan tool: boost under load"),
    EM(charge_temperature_rise, DELTA, "25 K", 0, 150, "intake manifold above ambient, warm", SRC_PRACTICE, 10, "scan tool: intake manifold temperature against air temperature"),
    EM(indicated_efficiency, FRACTION, "0.45", 0.1, 0.6, "indicated work per fuel heat", SRC_PRACTICE, 0.04, "scan tool: fuel rate at a known load"),
    EM(friction, PRESSURE, "90 kPa", 0, 5e5, "friction mean effective pressure at zero speed, warm", SRC_JUDGED, 0.2, "scan tool: fuel rate at warm idle"),
    EM(friction_speed, FRICTION_SLOPE, "400 Pa s/rad", 0, 5000, "growth of friction with speed", SRC_JUDGED, 0.3, "scan tool: fuel rate at raised idle against that at idle"),
    EM(cold_friction, FRACTION, "1.0", 0, 5, "extra friction of an engine at -20 degC, over warm", SRC_JUDGED, 0.3, "scan tool: fuel rate at cold idle against that at warm idle"),
    EM(exhaust_share, FRACTION, "0.37", 0.05, 0.8, "share of the fuel heat left in the exhaust, turbine work included, at peak torque", SRC_JUDGED, 0.08, "scan tool: exhaust temperature at full load"),
    EM(exhaust_share_idle, FRACTION, "0.29", 0.05, 0.8, "share of the fuel heat left in the exhaust, turbine work included, at no load", SRC_JUDGED, 0.15, "scan tool: exhaust temperature at warm idle, sensors compared cold before"),
    E(thermal_mass, HEAT_CAPACITY, "400 kJ/K", 1e3, 1e7, "block, head and coolant", SRC_JUDGED, 0.25),
    EM(warm_temperature, TEMPERATURE, "85 degC", 300, 400, "thermostat", SRC_PRACTICE, 4, "scan tool: coolant temperature"),
    EM(egr_idle, FRACTION, "25 %", 0, 0.6, "recirculated share of the charge at no load", SRC_JUDGED, 0.3, "scan tool: EGR flow or valve at idle"),
    EM(egr_full, FRACTION, "15 %", 0, 0.6, "recirculated share of the charge at full load", SRC_JUDGED, 0.3, "scan tool: EGR flow or valve under load"),
    EM(nox_index_idle, INDEX, "45 g/kg", 0, 0.3, "NOx (as NO2) per fuel without EGR, no load", SRC_JUDGED, 0.3, "exhaust analyser or NOx sensor ahead of the catalysts, at idle"),
    EM(nox_index_full, INDEX, "35 g/kg", 0, 0.3, "NOx (as NO2) per fuel without EGR, full load", SRC_JUDGED, 0.3, "exhaust analyser or NOx sensor ahead of the catalysts, under load"),
    EM(no2_share_idle, FRACTION, "25 %", 0, 1, "NO2 over NOx at no load", SRC_JUDGED, 0.3, "exhaust analyser: NO and NO2 apart, at idle"),
    EM(no2_share_full, FRACTION, "6 %", 0, 1, "NO2 over NOx at full load", SRC_JUDGED, 0.3, "exhaust analyser: NO and NO2 apart, under load"),
    EM(soot_index_idle, INDEX, "0.8 g/kg", 0, 0.1, "soot per fuel at no load", SRC_JUDGED, 0.5, "smoke meter ahead of the filter, at idle"),
    EM(soot_index_full, INDEX, "0.4 g/kg", 0, 0.1, "soot per fuel at full load", SRC_JUDGED, 0.5, "smoke meter ahead of the filter, under load"),
    EM(hc_index_idle, INDEX, "6 g/kg", 0, 0.3, "hydrocarbons per fuel at no load", SRC_JUDGED, 0.5, "exhaust analyser ahead of the catalysts, at idle"),
    EM(hc_index_full, INDEX, "0.8 g/kg", 0, 0.3, "hydrocarbons per fuel at full load", SRC_JUDGED, 0.5, "exhaust analyser ahead of the catalysts, under load"),
    EM(co_index_idle, INDEX, "30 g/kg", 0, 0.5, "carbon monoxide per fuel at no load", SRC_JUDGED, 0.5, "exhaust analyser ahead of the catalysts, at idle"),
    EM(co_index_full, INDEX, "3 g/kg", 0, 0.5, "carbon monoxide per fuel at full load", SRC_JUDGED, 0.5, "exhaust analyser ahead of the catalysts, under load"),
    E(heavy_hc_share, FRACTION, "0.5", 0, 1, "share of the hydrocarbon mass that is like fuel", SRC_JUDGED, 0.3),
    E(outlet_limit, TEMPERATURE, "750 degC", 400, 1500, "gas at the engine's outlet above which a run warns",
      SRC_PRACTICE, 0),
    EM(accessory, POWER, "3 kW", 0, 1e5, "steady power of fan, alternator and compressor", SRC_JUDGED, 0.4, "which of fan, alternator and compressor run"),
    ROW_INT(emb_engine_cfg, dead_cylinders, "0", 0, 15, "cylinders that do not fire", NULL),
    ROW_BOOL(emb_engine_cfg, dead_fuelled, "yes", "dead cylinders are fuelled: their fuel leaves unburnt"),
    EM(boost_leak, FRACTION, "0", 0, 1, "share of the boost that is lost", NULL, 0.05, "pressure test of the intake"),
    EM(oil_burn, MASS_FLOW, "0 g/s", 0, 0.01, "lubricating oil that reaches the exhaust", NULL, 1e-06, "oil topped up over the hours run"),
    E(start_temperature, TEMPERATURE, EMB_UNSET, 200, 400, "engine block at the start; else as the case", NULL, 0),
};
EMB_BLOCK(engine, "engine", "A diesel engine as source of the exhaust; defaults are a generic 13 L truck engine.",
          engine);

#define V(...) ROW_Q(emb_vehicle_cfg, __VA_ARGS__)
static const struct emb_field vehicle[] = {
    ROW_USE,
    V(mass, MASS, "25 t", 100, 2e5, "vehicle with load", SRC_JUDGED, 0.1),
    V(rolling, FRACTION, "0.006", 0, 0.1, "rolling resistance coefficient", SRC_PRACTICE, 0.2),
    V(drag_area, AREA, "6 m2", 0.1, 30, "drag coefficient times frontal area", SRC_PRACTICE, 0.1),
    V(wheel_radius, LENGTH, "0.5 m", 0.1, 2, "rolling radius of the driven wheels", SRC_PRACTICE, 0.03),
    V(final_drive, FRACTION, "2.85", 0.5, 20, "axle ratio", SRC_PRACTICE, 0),
    V(top_gear, FRACTION, "1.0", 0.2, 10, "ratio of the top gear", SRC_PRACTICE, 0),
    V(first_gear, FRACTION, "14", 0.5, 40, "ratio of the first gear", SRC_PRACTICE, 0),
    ROW_INT(emb_vehicle_cfg, gears, "12", 1, 24, "number of gears, spaced geometrically", SRC_PRACTICE),
    V(driveline_efficiency, FRACTION, "0.92", 0.3, 1, "power at the wheels over power at the flywheel", SRC_PRACTICE,
      0.03),
    V(shift_up_speed, ROTATION, "1500 rpm", 50, 700, "engine speed at which the next gear is taken", SRC_JUDGED, 0.1),
};
EMB_BLOCK(vehicle, "vehicle", "Road load; used by phases with a road speed.", vehicle);
