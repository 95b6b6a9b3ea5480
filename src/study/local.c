/* local.c - differences around the base case. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/batch.h"
#include "study_impl.h"

static const double share = 0.02, of_sd = 0.25; /* judgement: far above a run's rounding */
static const double moves[4] = {1.0, -1.0, 0.5, -0.5};

struct job {
    const struct emb_study *s;
    struct emb_local *l;
    double *y; /* n x n_output */
};

void emb_local_slope(const double y[4], double h, double *slope, double *error)
{
    const double wide = (y[0] - y[1]) / (2.0 * h), close = (y[2] - y[3]) / h;
    *slope = close + (close - wide) / 3.0;
    *error = fabs(*slope - close);
}

/* Where the axis stands and how far it is moved; never over what its key allows. */
static void axis_plan(const struct emb_study *s, size_t i, const struct emb_place *p,
                      struct emb_local *l)
{
    const struct emb_axis *a = &s->axis[i];
    double lo = a->lo, hi = a->hi;
    for (size_t k = 0; k < a->n_level; k++) {
        lo = k == 0 ? a->level[0] : fmin(lo, a->level[k]);
        hi = k == 0 ? a->level[0] : fmax(hi, a->level[k]);
    }
    l->at[i] = emb_place_get(&s->base.item[0], p);
    const double x = l->at[i];
    double h = share * (hi - lo);
    if (a->n_level == 0 && a->distribution == EMB_NORMAL) {
        h = of_sd * a->sd * (a->spacing == EMB_LOG ? fabs(x) : 1.0);
    }
    l->step[i] = fmin(h, fmin(x - p->min, p->max - x));
}

/* Not the choices, nor an axis at an end of what is allowed. */
static bool is_moved(const struct emb_local *l, size_t i)
{
    return i == 0 || (isfinite(l->at[(i - 1) / 4]) && l->step[(i - 1) / 4] > 0.0);
}

enum emb_status emb_local_case(const struct emb_study *s, const struct emb_local *l, size_t axis,
                               double by, struct emb_case *out, struct emb_err *err)
{
    double *v = calloc(s->n_axis + 1, sizeof *v);
    if (v == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "case", "out of memory");
    }
    for (size_t k = 0; k < s->n_axis; k++) {
        v[k] = s->axis[k].choice ? 0.0 : l->at[k];
    }
    v[axis] += by;
    const enum emb_status st = emb_study_make(s, v, out, err);
    free(v);
    if (st == EMB_OK) {
        out->stretch = 0.0; /* how a control's samples fall together is no part of a derivative */
    }
    return st;
}

static enum emb_status make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct job *j = user;
    if (!is_moved(j->l, i)) {
        return emb_fail(err, EMB_ERR_CONFIG, "case", "is none");
    }
    const size_t axis = i > 0 ? (i - 1) / 4 : 0;
    const double by = i > 0 ? moves[(i - 1) % 4] * j->l->step[axis] : 0.0;
    return emb_local_case(j->s, j->l, axis, by, out, err);
}

static enum emb_status take(size_t i, enum emb_status status, const struct emb_err *why,
                            const struct emb_result *r, void *user)
{
    static const struct emb_result nothing = {0};
    struct job *j = user;
    j->l->runs += is_moved(j->l, i);
    j->l->failed += is_moved(j->l, i) && status != EMB_OK;
    if (is_moved(j->l, i) && status != EMB_OK) {
        emb_fail(&j->l->why, status, why->where, "%s", why->msg);
    }
    emb_study_keep(j->s, status == EMB_OK ? r : &nothing, j->y + i * j->s->n_output, NULL);
    return EMB_OK;
}

static bool room_make(const struct emb_study *s, struct emb_local *l)
{
    const size_t cells = s->n_output * s->n_axis + 1;
    *l = (struct emb_local){.n_axis = s->n_axis, .n_output = s->n_output};
    l->at = calloc(s->n_axis + 1, sizeof *l->at);
    l->step = calloc(s->n_axis + 1, sizeof *l->step);
    l->base = calloc(s->n_output + 1, sizeof *l->base);
    l->slope = calloc(cells, sizeof *l->slope);
    l->error = calloc(cells, sizeof *l->error);
    l->tangent = calloc(cells, sizeof *l->tangent);
    l->lost = calloc(s->n_axis + 1, sizeof *l->lost);
    return l->at != NULL && l->step != NULL && l->base != NULL && l->slope != NULL &&
           l->error != NULL && l->tangent != NULL && l->lost != NULL;
}

static void slopes(const struct job *j)
{
    struct emb_local *l = j->l;
    memcpy(l->base, j->y, l->n_output * sizeof *l->base);
    for (size_t o = 0; o < l->n_output; o++) {
        for (size_t k = 0; k < l->n_axis; k++) {
            double y[4];
            for (size_t m = 0; m < 4; m++) {
                y[m] = j->y[(1 + 4 * k + m) * l->n_output + o];
            }
            emb_local_slope(y, l->step[k], &l->slope[o * l->n_axis + k],
                            &l->error[o * l->n_axis + k]);
        }
    }
}

enum emb_status emb_local_run(const struct emb_study *s, int threads, const atomic_bool *stop,
                              struct emb_local *out, struct emb_err *err)
{
    struct job j = {.s = s, .l = out};
    const size_t n = 1 + 4 * s->n_axis;
    enum emb_status st = EMB_OK;
    j.y = calloc(n * s->n_output + 1, sizeof *j.y);
    if (!room_make(s, out) || j.y == NULL) {
        st = emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    const struct emb_place *p = s->place;
    for (size_t i = 0; st == EMB_OK && i < s->n_axis; i++) {
        out->at[i] = NAN;
        if (!s->axis[i].choice) {
            axis_plan(s, i, p, out);
        }
        p += s->axis[i].n_key;
    }
    for (size_t i = 0; i < n * s->n_output && j.y != NULL; i++) {
        j.y[i] = NAN;
    }
    const struct emb_batch b = {
        .threads = threads, .n = n, .make = make, .take = take, .user = &j, .stop = stop,
        .max_steps = s->cfg.max_steps};
    st = st == EMB_OK ? emb_batch_run(&b, err) : st;
    if (st == EMB_OK) {
        slopes(&j);
        st = emb_local_tangents(s, stop, out, err);
    }
    if (st != EMB_OK) {
        emb_local_free(out);
    }
    free(j.y);
    return st;
}

void emb_local_free(struct emb_local *l)
{
    free(l->at);
    free(l->step);
    free(l->base);
    free(l->slope);
    free(l->error);
    free(l->tangent);
    free(l->lost);
    *l = (struct emb_local){0};
}
