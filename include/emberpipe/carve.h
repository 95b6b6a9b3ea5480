/* carve.h - many arrays in one piece of memory: one allocation, one free, nothing left half-made.
 */
#ifndef EMB_CARVE_H
#define EMB_CARVE_H
#include <stddef.h>

/* The next n doubles of a piece of memory that *from walks through. */
static inline double *emb_carve(double **from, size_t n)
{
    double *p = *from;
    *from += n;
    return p;
}
#endif
