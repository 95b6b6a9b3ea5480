#include "linear.h"

#include <stdint.h>
#include <string.h>

#include <nvector/nvector_serial.h>

static SUNMatrix_ID token_id(SUNMatrix A)
{
    (void)A;
    return SUNMATRIX_CUSTOM;
}

static void token_destroy(SUNMatrix A)
{
    SUNMatFreeEmpty(A);
}

SUNMatrix emb_matrix_token(SUNContext ctx)
{
    SUNMatrix A = SUNMatNewEmpty(ctx);
    if (A != NULL) {
        A->ops->getid = token_id;
        A->ops->destroy = token_destroy;
    }
    return A;
}

static SUNLinearSolver_Type model_type(SUNLinearSolver s)
{
    (void)s;
    return SUNLINEARSOLVER_DIRECT;
}

static int model_solve(SUNLinearSolver s, SUNMatrix A, N_Vector x, N_Vector b, realtype tol)
{
    const struct emb_ode *ode = s->content;
    (void)A;
    (void)tol;
    double *xd = N_VGetArrayPointer(x);
    memcpy(xd, N_VGetArrayPointer(b), ode->n * sizeof *xd);
    ode->solve(xd, ode->user);
    return 0;
}

static int model_free(SUNLinearSolver s)
{
    if (s != NULL) {
        s->content = NULL; /* the caller's */
        SUNLinSolFreeEmpty(s);
    }
    return 0;
}

SUNLinearSolver emb_linear_new(const struct emb_ode *ode, SUNContext ctx)
{
    SUNLinearSolver s = SUNLinSolNewEmpty(ctx);
    if (s != NULL) {
        s->content = (void *)(uintptr_t)ode; /* read only; SUNDIALS' pointer is not const */
        s->ops->gettype = model_type;
        s->ops->solve = model_solve;
        s->ops->free = model_free;
    }
    return s;
}
