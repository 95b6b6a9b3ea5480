/* case.h - one fully read case: everything a run needs, in SI, no text left to parse.
 *
 * Filled by the input room from YAML (one table of fields, see field.h), or by a program in C.
 * Strings are owned by the case. A case is never changed by a run. */
#ifndef EMB_CASE_H
#define EMB_CASE_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/ode.h"
#include "emberpipe/species.h"
#include "emberpipe/status.h"

struct emb_ambient {
    double temperature; /* [K] 200 .. 340 */
    double pressure;    /* [Pa] 5e4 .. 1.1e5 */
    double wind;        /* [m/s] under the parked vehicle, 0 .. 40 */
    double humidity;    /* [-] relative, 0 .. 1 */
    double underbody;   /* [-] share of road speed felt by the line, 0 .. 1 */
};

enum emb_source_kind { EMB_SOURCE_STREAM, EMB_SOURCE_ENGINE, EMB_SOURCE_RECORDED };

struct emb_stream_cfg { /* prescribed stream; recorded logs use it for what the log lacks */
    double flow;        /* [kg/s] > 0 */
    double temperature; /* [K] */
    double x[EMB_NGAS]; /* [-] mole fractions; N2 is the rest */
    double soot;        /* [kg/s] >= 0 */
};

struct emb_diffusion_cfg { /* how the gas diffuses; built in: Fuller, Schettler & Giddings 1966 */
    double D0[EMB_NGAS];   /* [m2/s] at 298.15 K and 1 atm; NaN: built in */
    double power;          /* [-] of the temperature */
};

struct emb_recorded_cfg {
    char *file; /* CSV with unit-bearing columns "name [unit]" */
    char *time_column, *flow_column, *temperature_column; /* header names without unit */
};

struct emb_engine_cfg {
    double displacement;          /* [m3] */
    int cylinders;                /* 1 .. 16 */
    double idle_speed;            /* [rad/s] */
    double rated_speed;           /* [rad/s] */
    double peak_torque;           /* [N m] */
    double volumetric_efficiency; /* [-] */
    double boost; /* [-] intake pressure ratio at peak torque and 65 % of rated speed */
    double charge_temperature_rise; /* [K] intake manifold above ambient, warm */
    double indicated_efficiency;    /* [-] */
    double friction;                /* [Pa] friction mean effective pressure at zero speed, warm */
    double friction_speed;          /* [Pa s/rad] its growth with speed */
    double cold_friction;           /* [-] friction multiplier minus one at -20 degC engine */
    double
        exhaust_share; /* [-] of fuel heat left in the exhaust at peak torque, before the turbine */
    double exhaust_share_idle; /* [-] at no load */
    double thermal_mass;       /* [J/K] block, head and coolant */
    double warm_temperature;   /* [K] thermostat */
    double egr_idle, egr_full; /* [-] recirculated share of the charge at no load and full load */
    double nox_index_idle,
        nox_index_full; /* [kg/kg] NOx as NO2 per kg fuel, EGR off; EGR reduces it */
    double no2_share_idle, no2_share_full;   /* [-] NO2/NOx engine-out */
    double soot_index_idle, soot_index_full; /* [kg/kg] per kg fuel */
    double hc_index_idle, hc_index_full;     /* [kg/kg] */
    double co_index_idle, co_index_full;     /* [kg/kg] */
    double heavy_hc_share; /* [-] of HC mass that is fuel-like (FUEL); the rest is C3H6 */
    double outlet_limit;   /* [K] gas at the outlet above which a run warns */
    double accessory;      /* [W] steady fan, alternator, compressor */
    /* condition */
    int dead_cylinders; /* cylinders not firing; their fuel leaves unburnt if dead_fuelled */
    bool dead_fuelled;
    double boost_leak;        /* [-] share of boost lost, 0 .. 1 */
    double oil_burn;          /* [kg/s] lubricating oil into the exhaust */
    double start_temperature; /* [K] engine block at the start */
    bool start_follows;       /* it was not given: it follows the start temperature of the case */
};

struct emb_vehicle_cfg {         /* road load; used by phases with a road speed */
    double mass;                 /* [kg] */
    double rolling;              /* [-] rolling resistance coefficient */
    double drag_area;            /* [m2] Cd x A */
    double wheel_radius;         /* [m] */
    double final_drive;          /* [-] */
    double top_gear, first_gear; /* [-] gear ratios */
    int gears;                   /* number of gears, geometrically spaced */
    double driveline_efficiency; /* [-] */
    double shift_up_speed;       /* [rad/s] engine speed at which the next gear is taken */
};

/* Levers, in phases and in the regeneration. Unset values are NaN: "leave as it is". */
struct emb_levers {
    double idle_speed; /* [rad/s] raised idle */
    double throttle;   /* [-] share of intake air held back, 0 .. 0.9 */
    double egr;        /* [-] multiplier on the EGR rate, 0 .. 1 */
    double brake; /* [-] exhaust brake or closed turbine: added load as share of peak, 0 .. 1 */
    double close_post; /* [kg/s] close post-injection: burns in the cylinder as heat */
    double late_post;  /* [kg/s] late post-injection: leaves mostly unburnt */
};

enum emb_phase_mode {
    EMB_PHASE_ENGINE,
    EMB_PHASE_ROAD,
    EMB_PHASE_ROAD_CYCLE,
    EMB_PHASE_ENGINE_CYCLE,
    EMB_PHASE_STREAM,
    EMB_PHASE_RECORDED
};
struct emb_trace {
    size_t n, n_col;
    double *t, *v;
}; /* t [s] rising from 0; v row-major n x n_col */

struct emb_phase {
    char *name;
    enum emb_phase_mode mode; /* set by the loader from the keys given */
    double duration;          /* [s] > 0; for cycles: NaN means the length of the cycle */
    int repeat;               /* >= 1 */
    double speed;             /* [rad/s] NaN: idle */
    double load;              /* [-] share of the torque available, 0 .. 1 */
    double road_speed;        /* [m/s] */
    double grade;             /* [-] */
    char
        *cycle; /* CSV file; ROAD_CYCLE: speed [m/s], grade [-]; ENGINE_CYCLE: n_norm, T_norm [-] */
    struct emb_trace trace;       /* cycle as read */
    struct emb_stream_cfg stream; /* STREAM phases: NaN means as in the case */
    struct emb_levers levers;
    bool regenerate; /* ask for a regeneration during this phase */
};

/* ---- the line ---- */
enum emb_cover { EMB_COVER_BARE, EMB_COVER_WRAPPED, EMB_COVER_DOUBLE };
struct emb_pipe_cfg {
    double length, diameter, wall; /* [m] flow length, inner diameter, wall thickness */
    int cells;
    enum emb_cover cover;
    double cover_thickness;    /* [m] wrap or air gap */
    double cover_conductivity; /* [W/(m K)] of the wrap */
    double cover_heat;         /* [J/(m2 K)] heat capacity of wrap or outer wall per area */
    double emissivity;         /* [-] outer surface */
    double enhancement; /* [-] inside heat transfer over smooth straight pipe (bends, pulsation) */
    double density, heat_capacity; /* wall [kg/m3], [J/(kg K)] */
};
struct emb_mass_cfg {              /* turbine and manifold lump */
    double mass;                   /* [kg] */
    double heat_capacity;          /* [J/(kg K)] */
    double inner_area, outer_area; /* [m2] */
    double film; /* [W/(m2 K)] inside film coefficient at reference flow; ~ flow^0.8 */
    double emissivity;
    double enthalpy_drop;  /* [J/kg] taken by the turbine at reference flow; ~ flow^2 */
    double reference_flow; /* [kg/s] */
};
struct emb_body {            /* honeycomb in its can, shared by all bricks */
    double diameter, length; /* [m] */
    double cell_density;     /* [1/m2] */
    double web;              /* [m] wall thickness with washcoat */
    double solid_density;    /* [kg/m3] of the wall material */
    double cp_a, cp_b, cp_c; /* cp = a + b T + c/T^2 [J/(kg K)], [J/(kg K2)], [J K/kg] */
    double conductivity;     /* [W/(m K)] of the solid */
    int cells;
    double mat_conductance;     /* [W/(m2 K)] brick to can */
    double can_heat;            /* [J/(m2 K)] can heat capacity per outer area */
    double emissivity;          /* outside of the can */
    double insulation;          /* [m2 K/W] outside the can, 0 bare */
    double nusselt;             /* [-] far from the entrance of a channel, for heat and mass */
    bool entrance;              /* higher near the entrance (Hawthorn) */
    double melting_temperature; /* [K] of the solid: a physical limit */
};
enum emb_kinetics {
    EMB_KIN_NONE,
    EMB_KIN_OXIDATION,
    EMB_KIN_COPPER,
    EMB_KIN_IRON,
    EMB_KIN_VANADIA
};
struct emb_washcoat_cfg { /* diffusion in its pores, in series with the gas film */
    double thickness;     /* [m] on the channel walls; 0: no resistance */
    double pores;         /* [-] open share over tortuosity */
    double pore_diameter; /* [m] */
    double sherwood;      /* [-] internal, on the thickness */
};
enum emb_film { EMB_FILM_MEAN, EMB_FILM_GAS };
struct emb_brick_cfg { /* oxidation or reduction catalyst */
    struct emb_body body;
    struct emb_washcoat_cfg washcoat;
    enum emb_film properties_at; /* temperature of the gas properties in the film */
    enum emb_kinetics kinetics;
    double activity;   /* [-] active area left, 0 .. 1 (ageing, poisoning) */
    double blocked;    /* [-] share of the face closed at the start, 0 .. 0.95 */
    double slip_zone;  /* [-] rear share of the length with an oxidation coating */
    double storage;    /* [mol/m3] sites per brick volume: NH3, or carbon of heavy hydrocarbon */
    double stored;     /* [-] coverage at the start */
    int reactions;     /* own set in place of kinetics: number from 1 on in the case, 0 none */
    double crust_rate; /* [-] share of soot and heavy HC that sticks on a cold face */
};
struct emb_soot_cfg { /* how soot burns, see soot.h; named sets are configs/parts/soot-*.yaml */
    double o2_a, o2_e, o2_order;       /* [1/s] at O2 mole fraction 0.1; [J/mol]; [-] */
    double no2_a, no2_e;               /* [1/s] per NO2 mole fraction, [J/mol] */
    double coop_a, coop_e, coop_order; /* [1/s] per NO2 at O2 mole fraction 0.1; [J/mol]; [-] */
    double co_share; /* [-] carbon that leaves as CO when O2 burns it at 600 degC */
    double co_e;     /* [J/mol] growth of CO/CO2 with temperature */
};
struct emb_filter_cfg {
    struct emb_body body;
    double coated;             /* [-] activity of an oxidation coating in the wall, 0 bare */
    double channel_diffusion;  /* [-] exchange of channel gas with the cake, relative to a laminar
                                  duct */
    double back_diffusion;     /* [-] share of the coating whose NO2 reaches the cake */
    double wall_permeability;  /* [m2] */
    double soot_permeability;  /* [m2] */
    double soot_density;       /* [kg/m3] of the layer */
    double soot;               /* [kg/m3] load at the start, per filter volume */
    double full_load;          /* [kg/m3] that a scan tool would call 100 % */
    double clean_efficiency;   /* [-] soot caught by a clean wall */
    double deep_capacity;      /* [kg/m3] soot inside the wall when it is full, per filter volume */
    double deep_growth;        /* [-] resistance a full deep bed adds, relative to the wall's */
    double ash;                /* [kg/m3] */
    double ash_density;        /* [kg/m3] packed */
    double ash_permeability;   /* [m2] */
    double ash_plug;           /* [-] share of the ash that lies at the rear end */
    double inertia;            /* [1/m] Forchheimer coefficient of the wall */
    double end_loss;           /* [-] entrance and exit, per velocity head */
    double damage_temperature; /* [K] substrate limit */
    struct emb_soot_cfg burning;
    int reactions; /* own set for the coating: number from 1 on in the case, 0 built-in */
};
struct emb_doser_cfg {       /* fuel doser */
    double delivery;         /* [-] delivered over commanded, 0 .. 1.5 */
    double wall_share;       /* [-] of the spray that reaches the wall */
    double wall_mass;        /* [kg] wetted wall */
    double wall_area;        /* [m2] wetted */
    double max_rate;         /* [kg/s] */
    double fuel_temperature; /* [K] */
};
enum emb_def_control { EMB_DEF_RATIO, EMB_DEF_CLOSED_LOOP };
struct emb_def_cfg { /* DEF doser and its control */
    double delivery;
    enum emb_def_control control;
    double ratio;              /* [-] NH3 dosed per NOx */
    double coverage_cold, coverage_hot; /* [-] wanted at 200 and 400 degC, linear between */
    double fill_time;          /* [s] in which the closed loop would fill what is missing */
    double sample;             /* [s] of the closed loop */
    double deposit_depth;      /* [m] film from which half of the HNCO does not escape */
    double enable_temperature; /* [K] gas at the doser */
    double max_rate;           /* [kg/s] of DEF */
    double wall_share, wall_mass, wall_area;
    double strength;          /* [-] urea mass share, 0.325 */
    double fluid_temperature; /* [K] */
};
struct emb_sensor_cfg {
    double diameter; /* [m] */
    double offset;   /* [K] reading minus true */
};
struct emb_leak_cfg {
    double share;
}; /* [-] of the flow that escapes here, 0 .. 0.9 */

enum emb_kind {
    EMB_PIPE,
    EMB_MASS,
    EMB_OXICAT,
    EMB_FILTER,
    EMB_REDCAT,
    EMB_DOSER,
    EMB_DEF,
    EMB_SENSOR,
    EMB_LEAK
};
struct emb_element_cfg {
    char *name;
    enum emb_kind kind;
    union {
        struct emb_pipe_cfg pipe;
        struct emb_mass_cfg mass;
        struct emb_brick_cfg brick;
        struct emb_filter_cfg filter;
        struct emb_doser_cfg doser;
        struct emb_def_cfg def;
        struct emb_sensor_cfg sensor;
        struct emb_leak_cfg leak;
    } u;
};

/* ---- control and questions ---- */
struct emb_regen_cfg {
    bool present;
    int doser;     /* index of the doser in the line; -1: late post-injection */
    int enable_at; /* index of the oxidation catalyst whose face must be hot; next one behind the
                      doser */
    int hold_at;   /* index of the filter (or brick) whose inlet gas is held at the target */
    double enable_temperature; /* [K] */
    double target_temperature; /* [K] */
    double max_rate;           /* [kg/s] fuel */
    double slew;               /* [kg/s2] */
    double gain, integral;     /* [kg/(s K)], [kg/(s2 K)] */
    double sample;             /* [s] */
    double warmup_limit;       /* [s] to reach enable before giving up */
    double time_limit;         /* [s] of dosing */
    double stop_soot;          /* [-] of full load */
    double cooldown;           /* [s] */
    double abort_temperature;  /* [K] any brick */
    double fade_time;          /* [s] enable temperature may be lost before abort */
    struct emb_levers levers;
};

enum emb_quantity {
    EMB_Q_TEMPERATURE,
    EMB_Q_SOOT,
    EMB_Q_CONVERSION_CO,
    EMB_Q_CONVERSION_HC,
    EMB_Q_CONVERSION_NOX,
    EMB_Q_DOSING,
    EMB_Q_DEF_DOSING,
    EMB_Q_NOX_CHECK /* NOx conversion that counts only while the catalyst is hot enough */
};
struct emb_target {
    char *name;
    int at;                     /* index in the line */
    enum emb_quantity quantity; /* TEMPERATURE: mean solid; SOOT as share of full load */
    bool below;                 /* reached when below (else above) */
    double value;               /* [K] or [-] */
    double hold;                /* [s] for this long without a break */
    double while_above;         /* [K] NOX_CHECK: mean solid temperature from which it counts */
};

/* Past these the model means nothing: a substrate melts, a load does not fit its channels. */
enum emb_limits { EMB_LIMITS_CONTINUE, EMB_LIMITS_STOP };

struct emb_reaction_set;
struct emb_case {
    char *title;
    char *file;                /* where it was read, for messages */
    unsigned long long digest; /* of all text and tables it was read from; 0: made by a program */
    struct emb_ambient ambient;
    struct emb_diffusion_cfg diffusion;
    double start_temperature; /* [K] of all parts at the start (cold soak) */
    bool start_follows;       /* it was not given: it follows the ambient temperature */
    enum emb_source_kind source;
    struct emb_stream_cfg stream;
    struct emb_recorded_cfg recorded;
    struct emb_trace recording; /* columns flow [kg/s], temperature [K], maybe
                                 * the first doser's command [kg/s] */
    struct emb_engine_cfg engine;
    struct emb_vehicle_cfg vehicle;
    size_t n_line;
    struct emb_element_cfg *line;
    size_t n_set;
    struct emb_reaction_set *set; /* reaction sets given by the user, see kinetics.h */
    size_t n_duty;
    struct emb_phase *duty;
    int duty_repeat;
    struct emb_regen_cfg regen;
    size_t n_target;
    struct emb_target *target;
    enum emb_method method;  /* of the integration; auto: from the duty, see run.h */
    double rtol;             /* [-] solver */
    double temperature_atol; /* [K] */
    double stretch;          /* [s] longest one of a control's samples, see stretch.h; 0: none */
    double output_interval;  /* [s]; 0: chosen */
    enum emb_limits limits;  /* what to do when a physical limit is passed */
};

/* Index of the element called name, or -1. */
int emb_case_find(const struct emb_case *c, const char *name);
void emb_case_free(struct emb_case *c); /* frees what the case owns, not c itself */
/* A deep copy; on failure (out of memory) *to holds nothing to free. */
enum emb_status emb_case_copy(const struct emb_case *from, struct emb_case *to,
                              struct emb_err *err);
#endif
