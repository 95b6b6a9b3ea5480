/* twins.h - neighbouring cases that run along with one: forward sensitivities. Private to the run
 * room.
 *
 * A twin has its own line, inputs and control, but no integrator: its state is the base's plus nudge
 * times a sensitivity, which CVODES integrates; the sensitivity's rate is the difference of the
 * two marches. Decisions fall when the base takes them; what the twin would have decided a little
 * earlier or later becomes a shift of that time (implicit function theorem) and a jump of the
 * sensitivity. All calls do nothing in a run without twins. */
#ifndef EMB_TWINS_H
#define EMB_TWINS_H
#include "sim.h"

enum emb_status emb_twins_begin(struct emb_sim *s, struct emb_neighbour *nb, size_t n, double nudge,
                                struct emb_err *err);
void emb_twins_free(struct emb_sim *s);
void emb_twins_piece(struct emb_sim *s);  /* the base has a new piece of its inputs */
void emb_twins_feel(struct emb_sim *s);   /* the base has felt its back pressure */
void emb_twins_before(struct emb_sim *s); /* the control of the base is about to be sampled */
void emb_twins_control(struct emb_sim *s, double t, bool jump); /* and has been */
int emb_twins_record(struct emb_sim *s, double t); /* a row, of a time within the last step */
void emb_twins_watch(struct emb_sim *s, double t, const int *crossed); /* after a step */
void emb_twins_finish(struct emb_sim *s);
#endif
