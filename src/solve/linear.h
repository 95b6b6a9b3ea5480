/* The model's own Newton matrix, dressed as SUNDIALS' matrix and linear solver. */
#ifndef EMB_SOLVE_LINEAR_H
#define EMB_SOLVE_LINEAR_H
#include <sundials/sundials_linearsolver.h>
#include "emberpipe/ode.h"
/* NULL: out of memory. The matrix is a mere token: the model keeps the numbers. */
SUNMatrix emb_matrix_token(SUNContext ctx);
SUNLinearSolver emb_linear_new(const struct emb_ode *ode, SUNContext ctx);
#endif
