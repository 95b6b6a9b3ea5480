#include "linear.h"

#include <stdlib.h>
#include <string.h>

#include <nvector/nvector_serial.h>
#include <sunmatrix/sunmatrix_band.h>

#include "bandlu.h"

struct band_content {
    size_t n, mu, ml;
    double *lu;
    size_t *pivot;
};

static SUNLinearSolver_Type band_type(SUNLinearSolver s)
{
    (void)s;
    return SUNLINEARSOLVER_DIRECT;
}

static int band_setup(SUNLinearSolver s, SUNMatrix A)
{
    struct band_content *c = s->content;
    const size_t ld = 2 * c->ml + c->mu + 1;
    memset(c->lu, 0, c->n * ld * sizeof *c->lu);
    for (size_t j = 0; j < c->n; j++) {
        const double *col = SM_COLUMN_B(A, (sunindextype)j);
        double *dst = c->lu + j * ld + c->ml + c->mu;
        const size_t up = (j < c->mu) ? j : c->mu, down = (j + c->ml < c->n) ? c->ml : c->n - 1 - j;
        memcpy(dst - up, col - up, (up + down + 1) * sizeof *dst);
    }
    return emb_bandlu_factor(c->lu, c->n, c->mu, c->ml, c->pivot) == 0 ? 0 : SUNLS_LUFACT_FAIL;
}

static int band_solve(SUNLinearSolver s, SUNMatrix A, N_Vector x, N_Vector b, realtype tol)
{
    const struct band_content *c = s->content;
    (void)A;
    (void)tol;
    double *xd = N_VGetArrayPointer(x);
    memcpy(xd, N_VGetArrayPointer(b), c->n * sizeof *xd);
    emb_bandlu_solve(c->lu, c->n, c->mu, c->ml, c->pivot, xd);
    return 0;
}

static int band_free(SUNLinearSolver s)
{
    if (s != NULL) {
        struct band_content *c = s->content;
        if (c != NULL) {
            free(c->lu);
            free(c->pivot);
            free(c);
        }
        s->content = NULL;
        SUNLinSolFreeEmpty(s);
    }
    return 0;
}

SUNLinearSolver emb_linear_new(size_t n, size_t mu, size_t ml, SUNContext ctx)
{
    SUNLinearSolver s = SUNLinSolNewEmpty(ctx);
    struct band_content *c = calloc(1, sizeof *c);
    if (s == NULL || c == NULL) {
        free(c);
        if (s != NULL) {
            SUNLinSolFreeEmpty(s);
        }
        return NULL;
    }
    *c = (struct band_content){n, mu, ml, calloc(n * (2 * ml + mu + 1), sizeof(double)),
                               calloc(n, sizeof(size_t))};
    s->content = c;
    s->ops->gettype = band_type;
    s->ops->setup = band_setup;
    s->ops->solve = band_solve;
    s->ops->free = band_free;
    if (c->lu == NULL || c->pivot == NULL) {
        band_free(s);
        return NULL;
    }
    return s;
}
