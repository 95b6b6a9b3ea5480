/* solve.c - one explanation fitted: GSL's trust-region least squares over one or two knobs. */
#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit.h"

enum { MAX_ITERATIONS = 8 };
struct problem {
    struct emb_fit *f;
    const struct emb_solution *s;
    double *work; /* n */
};

/* All knobs from the free ones, held within their limits; how far each was beyond goes to over. */
static void place(const struct problem *p, const gsl_vector *free_x, double *x, double *over)
{
    memcpy(x, p->s->x, p->f->n_knob * sizeof *x);
    for (size_t j = 0; j < p->s->n; j++) {
        double lo = 0.0, hi = 0.0;
        const double v = gsl_vector_get(free_x, j);
        emb_knob_limits(&p->f->knob[p->s->knob[j]], &lo, &hi);
        x[p->s->knob[j]] = fmin(fmax(v, lo), hi);
        over[j] = v - x[p->s->knob[j]];
    }
}

/* Beyond a limit the curve stays as it is and a stiff spring pulls back. */
static const double spring = 1e3; /* [K] per unit of the scale */

static int residuals(const gsl_vector *free_x, void *user, gsl_vector *out)
{
    const struct problem *p = user;
    double x[EMB_MAX_KNOBS], over[2] = {0.0, 0.0};
    place(p, free_x, x, over);
    if (emb_fit_residuals(p->f, x, out->data) != 0) {
        return GSL_EBADFUNC;
    }
    for (size_t j = 0; j < p->s->n; j++) {
        gsl_vector_set(out, p->f->n + j, spring * over[j]);
    }
    return GSL_SUCCESS;
}

static int jacobian(const gsl_vector *free_x, void *user, gsl_matrix *J)
{
    const struct problem *p = user;
    double x[EMB_MAX_KNOBS], over[2] = {0.0, 0.0};
    double *r = p->work, *col = p->work + p->f->n;
    place(p, free_x, x, over);
    if (emb_fit_residuals(p->f, x, r) != 0) {
        return GSL_EBADFUNC;
    }
    gsl_matrix_set_zero(J);
    for (size_t j = 0; j < p->s->n; j++) {
        if (emb_fit_slope(p->f, x, r, p->s->knob[j], col) != 0) {
            return GSL_EBADFUNC;
        }
        for (size_t i = 0; i < p->f->n; i++) {
            gsl_matrix_set(J, i, j, col[i]);
        }
        gsl_matrix_set(J, p->f->n + j, j, over[j] != 0.0 ? spring : 1e-9);
    }
    return GSL_SUCCESS;
}

static double norm2(const gsl_vector *v)
{
    const double n = gsl_blas_dnrm2(v);
    return n * n;
}

/* Tells the others how well this one fits, and how well the best of all does. */
static double best_known(struct emb_fit *f, double rss)
{
    pthread_mutex_lock(&f->lock);
    f->best = rss < f->best ? rss : f->best;
    const double best = f->best;
    pthread_mutex_unlock(&f->lock);
    return best;
}

/* Until neither the knobs nor the fit move by what matters: 0.1 % of a factor, 0.01 K of an offset.
 * What fits far worse than the best and gets no better is not polished. */
static void iterate(struct emb_fit *f, gsl_multifit_nlinear_workspace *w, size_t n)
{
    double before = norm2(gsl_multifit_nlinear_residual(w));
    for (int i = 0; i < MAX_ITERATIONS; i++) {
        if (gsl_multifit_nlinear_iterate(w) != GSL_SUCCESS) {
            return;
        }
        double step = 0.0;
        for (size_t j = 0; j < n; j++) {
            step = fmax(step, fabs(gsl_vector_get(w->dx, j)));
        }
        const double now = norm2(gsl_multifit_nlinear_residual(w)), gain = before - now;
        const bool hopeless = now > 3.0 * best_known(f, now) && gain < 0.1 * before;
        if (step < 1e-3 || gain < 1e-5 * before || hopeless) {
            return;
        }
        before = now;
    }
}

static void keep(struct emb_fit *f, struct emb_solution *s, gsl_multifit_nlinear_workspace *w,
                 const struct problem *p)
{
    double over[2] = {0.0, 0.0}, x[EMB_MAX_KNOBS];
    gsl_matrix *cov = gsl_matrix_alloc(s->n, s->n);
    place(p, gsl_multifit_nlinear_position(w), x, over);
    s->ok = cov != NULL && emb_fit_residuals(f, x, s->r) == 0 &&
            gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(w), 0.0, cov) == GSL_SUCCESS;
    memcpy(s->x, x, f->n_knob * sizeof *x);
    s->rss = 0.0;
    for (size_t i = 0; i < f->n; i++) {
        s->rss += s->r[i] * s->r[i];
    }
    for (size_t i = 0; s->ok && i < s->n; i++) {
        for (size_t j = 0; j < s->n; j++) {
            s->cov[2 * i + j] = gsl_matrix_get(cov, i, j);
        }
    }
    gsl_matrix_free(cov);
}

/* A catalyst that converts all there is answers to its activity only when little of it is left, and
 * the same holds for its open face: a descent from the healthy end would see a plain. */
static void start_choose(struct emb_fit *f, struct emb_solution *s)
{
    static const double activity[] = {40.0, 12.0, 4.0, 2.5}, open[] = {50.0, 20.0}; /* [%] */
    const struct emb_knob *k = &f->knob[s->knob[0]];
    const bool dim = k->kind == EMB_KNOB_ACTIVITY;
    double best = INFINITY, x[EMB_MAX_KNOBS];
    if (s->n != 1 || (!dim && k->kind != EMB_KNOB_BLOCKED)) {
        return;
    }
    memcpy(x, f->x0, sizeof x);
    for (int i = -1; i < (dim ? 4 : 2); i++) {
        double rss = 0.0;
        x[s->knob[0]] = i < 0 ? f->x0[s->knob[0]] : emb_knob_scale(k, dim ? activity[i] : open[i]);
        if (emb_fit_residuals(f, x, s->r) != 0) {
            continue;
        }
        for (size_t j = 0; j < f->n; j++) {
            rss += s->r[j] * s->r[j];
        }
        if (rss < best) {
            best = rss;
            s->x[s->knob[0]] = x[s->knob[0]];
        }
    }
}

void emb_fit_solve(struct emb_fit *f, struct emb_solution *s)
{
    double *work = malloc(2 * f->n * sizeof *work), start[2] = {0.0, 0.0};
    struct problem p = {f, s, work};
    gsl_multifit_nlinear_parameters par = gsl_multifit_nlinear_default_parameters();
    par.trs = gsl_multifit_nlinear_trs_lm;
    gsl_multifit_nlinear_fdf fdf = {.f = residuals, .df = jacobian, .n = f->n + s->n,
                                    .p = s->n, .params = &p};
    gsl_multifit_nlinear_workspace *w =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &par, f->n + s->n, s->n);
    start_choose(f, s);
    for (size_t j = 0; j < s->n; j++) {
        start[j] = s->x[s->knob[j]];
    }
    const gsl_vector_view at = gsl_vector_view_array(start, s->n);
    s->ok = false;
    if (work != NULL && w != NULL &&
        gsl_multifit_nlinear_init(&at.vector, &fdf, w) == GSL_SUCCESS) {
        iterate(f, w, s->n);
        keep(f, s, w, &p);
    }
    if (w != NULL) {
        gsl_multifit_nlinear_free(w);
    }
    free(work);
}
