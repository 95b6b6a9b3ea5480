/* gauss.h - a handful of linear equations on the stack. Private to the physics room. */
#ifndef EMB_GAUSS_H
#define EMB_GAUSS_H
#include <stdbool.h>
#include "emberpipe/species.h"

enum { EMB_SMALL = EMB_NGAS }; /* one equation per gas species at most */

/* Gauss with partial pivoting; the answer replaces b. False: singular. */
bool emb_gauss_small(int n, double A[EMB_SMALL][EMB_SMALL], double *b);
#endif
