/* twins_impl.h - what twins.c and twins_event.c share. */
#ifndef EMB_TWINS_IMPL_H
#define EMB_TWINS_IMPL_H
#include "twins.h"

enum { EMB_TWIN_ROOM = 3 };
struct emb_twin {
    struct emb_sim sim;
    struct emb_duty duty;
    struct emb_neighbour *nb;
    double *y, *q; /* [unit of each] its state and integrals, for sim */
    double *work;  /* [unit of each state] */
};
struct emb_controls { /* what the control has set, of a sim */
    struct emb_stretch dose; /* [kg/s] */
    const struct emb_levers *levers;
    struct emb_regen_state regen;
    bool regen_running;
};
struct emb_twins {
    size_t n;
    double nudge; /* [-] of the parameters' unit, between base and twin */
    struct emb_twin *item;
    double *s0, *q;
    double *room[EMB_TWIN_ROOM];
    struct emb_controls before;
    struct emb_regen_signals last; /* what the control of the base saw before */
};
void emb_twin_lose(struct emb_twin *w, const char *why);
/* Brings its state up to the base's time and looks at it. */
int emb_twin_look(struct emb_sim *s, size_t k);
#endif
