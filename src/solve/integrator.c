/* integrator.c - the waist's functions, whichever way they are carried out. */
#include <math.h>
#include <stdbool.h>

#include "integrator_impl.h"

enum emb_status emb_integrator_new(const struct emb_ode *ode, double t0, const double *y0,
                                   struct emb_integrator **out, struct emb_err *err)
{
    const bool rows = ode->method == EMB_METHOD_TRAPEZOID;
    *out = rows ? emb_trapezoid_new(ode, t0, y0) : emb_bdf_new(ode, t0, y0);
    if (*out == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "solver", "out of memory for %zu states", ode->n);
    }
    if ((*out)->say[0] != '\0') {
        const enum emb_status s =
            emb_fail(err, EMB_ERR_BUG, "solver", "cannot start the integrator: %s", (*out)->say);
        emb_integrator_free(*out);
        *out = NULL;
        return s;
    }
    return EMB_OK;
}

void emb_integrator_free(struct emb_integrator *in)
{
    if (in != NULL) {
        in->way->free(in);
    }
}

int emb_integrator_rates(struct emb_integrator *in, double t, const double *y, double *dydt)
{
    const int rc = in->ode->rhs(t, y, dydt, in->ode->user);
    if (rc != 0) {
        return rc;
    }
    for (size_t i = 0; i < in->ode->n; i++) {
        if (!isfinite(dydt[i])) {
            in->state_bad = (int)i;
            return 1; /* a smaller step may avoid it */
        }
    }
    return 0;
}

enum emb_status emb_integrator_restart(struct emb_integrator *in, struct emb_err *err)
{
    return in->way->restart(in, err);
}

enum emb_status emb_integrator_step(struct emb_integrator *in, double t_stop, enum emb_stop *why,
                                    struct emb_err *err)
{
    return in->way->step(in, t_stop, why, err);
}

double emb_integrator_time(const struct emb_integrator *in)
{
    return in->t;
}

double *emb_integrator_state(struct emb_integrator *in)
{
    return in->y;
}

const int *emb_integrator_roots_found(struct emb_integrator *in)
{
    return in->roots;
}

const double *emb_integrator_quads(struct emb_integrator *in)
{
    return in->way->quads(in);
}

void emb_integrator_interpolate(struct emb_integrator *in, double t, double *y)
{
    in->way->interpolate(in, t, y);
}

struct emb_counters emb_integrator_counters(const struct emb_integrator *in)
{
    return in->way->counters(in);
}
