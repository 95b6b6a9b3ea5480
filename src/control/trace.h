/* trace.h - a trace as straight pieces of the inputs. Private to the control room. */
#ifndef EMB_TRACE_H
#define EMB_TRACE_H
#include <math.h>

#include "emberpipe/duty.h"

static const double emb_standing = 0.1; /* [m/s] slower is parked; as in the road load */

static inline double emb_lever(double v, double unset)
{
    return isnan(v) ? unset : v;
}
double emb_air_along(const struct emb_case *c, double road_speed); /* [m/s] around the line */
/* Speed, torque and air at a road speed [m/s], acceleration [m/s2] and grade [-]. */
void emb_at_road(const struct emb_case *c, double v, double accel, double grade, double *u);
/* Only a standing vehicle may idle faster; the lever never slows the engine. */
void emb_raise_idle(const struct emb_levers *l, double *u);
/* Fills o->u0, u1 (common inputs are there) and parked from time `from` [s] of the trace on, as far
 * as the inputs run straight, never past `length` [s]. Returns where the piece ends [s]. */
double emb_trace_piece(const struct emb_case *c, const struct emb_phase *p,
                       const struct emb_trace *t, double from, double length, struct emb_piece *o);
#endif
