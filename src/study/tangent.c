/* tangent.c - slopes of the outputs from one run with neighbours. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/run.h"
#include "study_impl.h"

/* A neighbour is this part of the step away that differences take; the step is about a fiftieth of
 * the range. Judgement: far above the noise of the marches, far below what bends. */
static const double part = 0.01, of_range = 0.02;

struct steps {
    const atomic_bool *stop;
    long n, most;
};

static int step_done(double t, double t_end, void *user)
{
    struct steps *s = user;
    (void)t;
    (void)t_end;
    return ++s->n > s->most || (s->stop != NULL && atomic_load(s->stop));
}

static bool is_moved(const struct emb_local *l, size_t k)
{
    return isfinite(l->at[k]) && l->step[k] > 0.0;
}

static void compare(const struct emb_study *s, struct emb_local *l, size_t k, const double *base,
                    const struct emb_neighbour *nb, double *near)
{
    emb_study_keep(s, &nb->r, near, NULL);
    snprintf(l->lost[k], sizeof l->lost[k], "%s", nb->lost ? nb->why : "");
    for (size_t o = 0; o < s->n_output; o++) {
        const bool has = !nb->lost && emb_measure_is_smooth(&s->output[o].measure);
        l->tangent[o * l->n_axis + k] = has ? (near[o] - base[o]) / (part * l->step[k]) : NAN;
    }
}

static enum emb_status run(const struct emb_study *s, const atomic_bool *stop, struct emb_local *l,
                           struct emb_neighbour *nb, size_t n, double *work, struct emb_err *err)
{
    struct emb_case c;
    struct emb_result r;
    struct steps steps = {stop, 0, s->cfg.max_steps};
    const struct emb_hooks hooks = {step_done, &steps};
    struct emb_err own = {EMB_OK, "", ""};
    enum emb_status st = emb_local_case(s, l, 0, 0.0, &c, err);
    if (st != EMB_OK) {
        return st;
    }
    const enum emb_status ran = emb_run_neighbours(&c, nb, n, part * of_range, &hooks, &r, &own);
    emb_study_keep(s, &r, work, NULL);
    for (size_t k = 0, i = 0; k < l->n_axis; k++) {
        if (is_moved(l, k)) {
            if (ran != EMB_OK && !nb[i].lost) {
                nb[i].lost = true;
                const bool many = steps.n > steps.most;
                snprintf(nb[i].why, sizeof nb[i].why, "%.79s",
                         many ? "the run with them took more than max_steps" : own.msg);
            }
            compare(s, l, k, work, &nb[i], work + s->n_output);
            emb_result_free(&nb[i++].r);
        }
    }
    emb_result_free(&r);
    emb_case_free(&c);
    return st;
}

enum emb_status emb_local_tangents(const struct emb_study *s, const atomic_bool *stop,
                                   struct emb_local *l, struct emb_err *err)
{
    struct emb_neighbour *nb = calloc(s->n_axis + 1, sizeof *nb);
    double *work = calloc(2 * s->n_output + 1, sizeof *work);
    enum emb_status st = EMB_OK;
    size_t n = 0;
    if (nb == NULL || work == NULL) {
        st = emb_fail(err, EMB_ERR_NOMEM, "local", "out of memory");
    }
    for (size_t i = 0; i < l->n_axis * l->n_output; i++) {
        l->tangent[i] = NAN;
    }
    for (size_t k = 0; st == EMB_OK && k < l->n_axis; k++) {
        if (is_moved(l, k)) {
            st = emb_local_case(s, l, k, part * l->step[k], &nb[n].c, err);
            n += st == EMB_OK;
        }
    }
    if (st == EMB_OK && n > 0) {
        st = run(s, stop, l, nb, n, work, err);
    }
    for (size_t i = 0; i < n; i++) {
        emb_case_free(&nb[i].c);
    }
    free(nb);
    free(work);
    return st;
}
