/* sim.h - one run in progress. Private to the run room. */
#ifndef EMB_SIM_H
#define EMB_SIM_H
#include "emberpipe/def_loop.h"
#include "emberpipe/duty.h"
#include "emberpipe/line.h"
#include "emberpipe/memory.h"
#include "emberpipe/regen.h"
#include "emberpipe/run.h"
#include "emberpipe/secant.h"
#include "emberpipe/stretch.h"

/* Integrals over the run, in this order; two more per slot follow (loss, chemical heat released).
 */
enum emb_integral {
    EMB_I_SOURCE_H,
    EMB_I_SOURCE_EL,
    EMB_I_TAIL_H = EMB_I_SOURCE_EL + EMB_NELEMENTS,
    EMB_I_TAIL_EL,
    EMB_I_LOSS = EMB_I_TAIL_EL + EMB_NELEMENTS,
    EMB_I_WORK,
    EMB_I_FEED_H,
    EMB_I_FEED_EL,
    EMB_I_LEAK_H = EMB_I_FEED_EL + EMB_NELEMENTS,
    EMB_I_LEAK_EL,
    EMB_I_FUEL_ENGINE = EMB_I_LEAK_EL + EMB_NELEMENTS,
    EMB_I_FUEL_DOSED,
    EMB_I_DEF,
    EMB_I_SOOT_IN,
    EMB_I_SOOT_TAIL,
    EMB_I_SOOT_BURNT,
    EMB_I_SOOT_LEAKED,
    EMB_I_NOX_IN,
    EMB_I_NOX_TAIL,
    EMB_I_NH3_TAIL,
    EMB_I_N2O_TAIL,
    EMB_I_CO_TAIL,
    EMB_I_HC_TAIL,
    EMB_I_POWER,
    EMB_I_LATE_POST,
    EMB_I_SLOTS
};
enum { EMB_PER_SLOT = 2 };

/* Columns that belong to the whole line; the observations of the slots follow. */
enum { EMB_N_GLOBAL = 14 };

/* What a run looks at step by step of a slot, see emb_sim_seen. */
enum emb_spot {
    EMB_SPOT_MEAN,
    EMB_SPOT_HOTTEST,
    EMB_SPOT_HOTTEST_AT,
    EMB_SPOT_DROP,
    EMB_SPOT_SOOT,
    EMB_SPOT_OPEN,
    EMB_SPOT_COVERAGE,
    EMB_N_SPOTS
};

struct emb_track { /* one target while running */
    bool on;
    double since, best, t_best, longest, reached; /* reached: NaN until then */
};

struct emb_passed {      /* physical limits of one element; NaN: not passed */
    double melted, full; /* [s] substrate at its melting point; load larger than its channels */
};

struct emb_loop {               /* closed-loop DEF control of one doser */
    size_t doser, catalyst;     /* slots */
    struct emb_stretch nh3;     /* [mol/s] */
    struct emb_def_signals saw; /* at its start */
};

/* A march, and what was seen of it. */
struct emb_view {
    /* the march, and what it was asked for; integrals, roots and records of a step want the one
     * that its last rates came from. `corrected`: Newton's matrix has been solved since, and the
     * chain holds by how much every flow changes with it */
    struct emb_march march;
    double march_t, *march_y;
    bool marched, corrected;
    /* the state looked at */
    bool seen;
    double seen_t, *seen_y, *observed;
};

struct emb_twins; /* twins.h: neighbouring cases that run along */

struct emb_sim {
    const struct emb_case *c;
    struct emb_line line;
    struct emb_chain *chain;
    struct emb_secant *secant; /* what the chain learns while Newton goes on */
    struct emb_ode ode;
    struct emb_integrator *in;
    double *y0, *atol;
    /* inputs now */
    struct emb_piece piece;
    const struct emb_levers *levers; /* of the regeneration, NULL when off */
    double back_pressure;            /* [Pa] as the engine feels it */
    /* control */
    struct emb_regen_state regen;
    bool regen_running, regen_asked;
    struct emb_stretch dose;           /* [kg/s] fuel */
    struct emb_regen_signals dose_saw; /* at its start */
    size_t n_loop;
    struct emb_loop loop[EMB_MAX_DOSERS];
    struct emb_memory *memory;
    struct emb_view now;   /* the last one */
    struct emb_view aside; /* for looks within a step, which leave what was seen at its end */
    double *rates;         /* of the last march that was asked for them */
    double *small;         /* [1/unit of each state] 1 over a move that changes no cell's mind */
    /* in `observed`, per target, slot, slot, slot; or SIZE_MAX */
    size_t *target_at, (*spot)[EMB_N_SPOTS];
    struct emb_track *track;
    double *scratch;
    /* peaks per slot [K], when, and where as a share of the length (NaN: not along a length) */
    double *peak, *t_peak, *peak_at;
    struct emb_passed *passed; /* per slot */
    double next_row, interval;
    bool verdicts_only, decided; /* no rows are wanted; every target is reached, so it may end */
    size_t row_capacity;
    struct emb_result *out;
    struct emb_stock stock0;
    struct emb_twins *twins;       /* NULL: none */
    const double *twin_y, *twin_q; /* of a twin, which has no integrator of its own */
    double close;                  /* [-] of surfaces, see emb_surface */
    bool exact; /* differences count: a march of a state nearby is not good enough */
};

/* run.c */
enum emb_status emb_sim_build(struct emb_sim *s, const struct emb_case *c, struct emb_result *out,
                              struct emb_err *err);
void emb_sim_drop(struct emb_sim *s);
const double *emb_sim_state(const struct emb_sim *s);
const double *emb_sim_quads(const struct emb_sim *s);
/* The integrands at (t, y), marched anew, without Newton's last correction. */
int emb_sim_integrands(struct emb_sim *s, double t, const double *y, double *q);

/* Fills s->ode; the line and room for the tolerances must be there. */
void emb_sim_ode(struct emb_sim *s);
void emb_sim_moment(const struct emb_sim *s, double t, struct emb_moment *at);
/* Rates dydt at (t, y), which may be NULL; s->now.march is filled. Returns as emb_line_march. */
int emb_sim_march(struct emb_sim *s, double t, const double *y, double *dydt);
/* Is s->now.march of (t, y), to within the tolerance that Newton's last correction may have? */
bool emb_sim_marched(const struct emb_sim *s, double t, const double *y);
void emb_sim_forget(struct emb_sim *s); /* inputs are others now: no march is worth keeping */
/* Everything observed at (t, y). */
int emb_sim_look(struct emb_sim *s, double t, const double *y);
double emb_sim_back_pressure(const struct emb_sim *s); /* [Pa] of the state last looked at */
/* Looks from now on go aside, or back again. */
void emb_sim_aside(struct emb_sim *s);
int emb_sim_find_spots(struct emb_sim *s); /* once, so that no step looks for names */
double emb_sim_target_value(const struct emb_sim *s, const struct emb_target *g);
/* As last looked at; NAN where the slot has no such observation. */
double emb_sim_seen(const struct emb_sim *s, size_t slot, enum emb_spot spot);
double emb_sim_hottest(const struct emb_sim *s, size_t slot); /* [K] solid; 0 where there is none */
size_t emb_sim_observation(const struct emb_sim *s, size_t slot,
                           const char *name); /* index or SIZE_MAX */

/* result building */
void *emb_result_grow(void *array, size_t *n,
                      size_t item); /* NULL: out of memory; *n grows by one, item zeroed */
void emb_sim_note(struct emb_sim *s, double t, const char *fmt, ...)
    __attribute__((format(printf, 3, 4)));
int emb_sim_columns(struct emb_sim *s);
int emb_sim_places(struct emb_sim *s); /* geometry, and room for as many rows as the table has */
int emb_sim_profile_grow(struct emb_sim *s);
void emb_sim_profile(struct emb_sim *s); /* one row of it, from the state last looked at */
void emb_sim_profile_thin(struct emb_result *r, size_t keep);
int emb_sim_record(struct emb_sim *s, double t);
void emb_sim_books(struct emb_sim *s);
void emb_sim_verdicts(struct emb_sim *s);
void emb_sim_warnings(struct emb_sim *s);
/* After a step: where the peaks are and which physical limits are passed; an error when the case
 * wants to stop there. */
enum emb_status emb_sim_limits(struct emb_sim *s, double t, struct emb_err *err);
void emb_sim_limits_begin(struct emb_sim *s);
void emb_sim_control(struct emb_sim *s, double t, bool *jump);
/* After a step, the line just looked at: something may have to be decided that nobody saw coming.
 */
void emb_sim_control_watch(struct emb_sim *s, double t);
/* [s] 0 where every sample is to be a stop: of twins, which keep step, and for the trapezoid, whose
 * steps rely on being short. */
double emb_sim_longest_stretch(const struct emb_sim *s);
double emb_sim_next_look(const struct emb_sim *s); /* [s] of any control; INFINITY: none */
void emb_sim_stretches_break(struct emb_sim *s);   /* a new piece of the inputs: signals may jump */
struct emb_regen_signals emb_sim_signals(const struct emb_sim *s, double t); /* as last looked at */
/* Closed-loop DEF control: found in the line, sampled when it is due, laid over the inputs. */
void emb_sim_loops_begin(struct emb_sim *s);
void emb_sim_loops_sample(struct emb_sim *s, double t, bool jump); /* jump: inputs jump now */
double emb_sim_loops_next(const struct emb_sim *s); /* [s] of the next look; INFINITY: none */
void emb_sim_loops_apply(const struct emb_sim *s, double t, double *u);
#endif
