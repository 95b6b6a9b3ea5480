/* memory.h - what the surfaces of a line were at the last accepted steps, carried on in a straight
 * line to where the next search starts. It changes how long a search takes and, where two answers
 * exist, which of them is found: the one the surface was on. Nothing else depends on it. */
#ifndef EMB_MEMORY_H
#define EMB_MEMORY_H
#include <stddef.h>
#include "emberpipe/kinetics.h"

struct emb_memory {
    size_t n;                      /* surfaces */
    double t, at;                  /* [s] of the last accepted step; that the starts are made for */
    struct emb_surface_hint *hint; /* n of them, to be given to the marches */
    double *x, *slope;             /* [-], [1/s] n x EMB_NGAS */
};

struct emb_memory *emb_memory_new(size_t n); /* NULL: out of memory */
void emb_memory_free(struct emb_memory *m);  /* NULL is fine */
/* Makes the starts for searches at time t [s]. */
void emb_memory_predict(struct emb_memory *m, double t);
/* The answers of the last march are those of an accepted step that ends at t [s]. */
void emb_memory_accept(struct emb_memory *m, double t);
/* After a jump: where the surfaces were still counts, where they were going does not. */
void emb_memory_jump(struct emb_memory *m);
#endif
