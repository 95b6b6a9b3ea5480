/* integrator_impl.h - private to the solve room: what every way of integrating is to the others. */
#ifndef EMB_INTEGRATOR_IMPL_H
#define EMB_INTEGRATOR_IMPL_H
#include "emberpipe/ode.h"

struct emb_way { /* how it is done; each as the function of ode.h with its name */
    enum emb_status (*step)(struct emb_integrator *in, double t_stop, enum emb_stop *why,
                            struct emb_err *err);
    enum emb_status (*restart)(struct emb_integrator *in, struct emb_err *err);
    const double *(*quads)(struct emb_integrator *in);
    void (*interpolate)(struct emb_integrator *in, double t, double *y);
    struct emb_counters (*counters)(const struct emb_integrator *in);
    void (*free)(struct emb_integrator *in);
};

struct emb_integrator { /* the first member of what each way allocates */
    const struct emb_way *way;
    const struct emb_ode *ode;
    double t;      /* [s] */
    double *y;     /* [unit of each state] n */
    int *roots;    /* n_root */
    char say[256]; /* why it failed */
    int state_bad; /* index of the last non-finite derivative, -1 none */
};

/* bdf.c, trapezoid.c: NULL when out of memory; in->say when it cannot start. */
struct emb_integrator *emb_bdf_new(const struct emb_ode *ode, double t0, const double *y0);
struct emb_integrator *emb_trapezoid_new(const struct emb_ode *ode, double t0, const double *y0);

/* Rates, tested; returns as ode->rhs. */
int emb_integrator_rates(struct emb_integrator *in, double t, const double *y, double *dydt);
#endif
