/* linear.h - the band LU of bandlu.h as a SUNDIALS linear solver. */
#ifndef EMB_LINEAR_H
#define EMB_LINEAR_H
#include <stddef.h>
#include <sundials/sundials_linearsolver.h>
SUNLinearSolver emb_linear_new(size_t n, size_t mu, size_t ml,
                               SUNContext ctx); /* NULL: out of memory */
#endif
