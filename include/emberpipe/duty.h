/* duty.h - turns the phases of a case into a sequence of linear pieces of the inputs.
 * Pieces are made one at a time, so a day of 1 Hz data needs no more memory than its file. */
#ifndef EMB_DUTY_H
#define EMB_DUTY_H
#include <stdbool.h>
#include "emberpipe/case.h"
#include "emberpipe/inputs.h"

struct emb_piece {
    double t0, t1;         /* [s] t1 > t0 */
    double u0[EMB_NINPUT]; /* inputs at t0+; dosers are 0 here (the controller owns
                            * them), except the first one's recorded command */
    double u1[EMB_NINPUT]; /* inputs at t1- */
    bool jump;             /* inputs jump at t0: the integrator must restart */
    bool regenerate;
    bool parked;  /* road speed is zero through the piece: levers may raise idle */
    size_t phase; /* index into case->duty */
    size_t pass;  /* how many times this phase has begun before */
};
struct emb_duty {
    const struct emb_case *c;
    int round;
    size_t phase;
    int repeat;
    size_t passes;
    double t, at; /* [s] since the start, and in the trace of the phase */
    double last[EMB_NINPUT];
    bool started;
};
void emb_duty_begin(struct emb_duty *d, const struct emb_case *c);
bool emb_duty_next(struct emb_duty *d, struct emb_piece *p); /* false: the duty is over */
double emb_duty_length(const struct emb_case *c);            /* [s] */
/* How much of that are road or engine cycles, given as rows no more than `apart` [s] from each other,
 * on average. */
double emb_duty_cycle_length(const struct emb_case *c, double apart); /* [s] */
/* Road load: engine speed [rad/s] and torque [N m] for a road speed [m/s], acceleration [m/s2] and
 * grade [-]. */
void emb_road_load(const struct emb_vehicle_cfg *v, const struct emb_engine_cfg *e, double speed,
                   double accel, double grade, double *omega, double *torque);
/* Full-load torque [N m] at a speed [rad/s]. */
double emb_engine_torque_limit(const struct emb_engine_cfg *e, double omega);
#endif
