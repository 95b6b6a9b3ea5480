/* sampler.c - Sobol sequence, Latin hypercube and random points from GSL, by number.
 *
 * GSL's generators only go forward, and threads ask slightly out of order: a window of the last
 * points is kept, and whoever asks for one behind it makes the generator start over. The memory is
 * flat, except for the hypercube, which keeps its permutations (4 bytes a case and axis). */
#include <gsl/gsl_permutation.h>
#include <gsl/gsl_qrng.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "study_impl.h"

enum { WINDOW = 4096 };
struct emb_sampler {
    enum emb_design design;
    size_t n, dims;
    unsigned long seed;
    gsl_qrng *sobol;
    gsl_rng *rng;
    uint32_t *order; /* hypercube: dims permutations of 0 .. n-1 */
    pthread_mutex_t lock;
    size_t next;    /* point the generator makes next */
    double *window; /* WINDOW x dims */
};

static void start_over(struct emb_sampler *s)
{
    s->next = 0;
    if (s->sobol != NULL) {
        gsl_qrng_init(s->sobol);
    } else {
        gsl_rng_set(s->rng, s->seed);
    }
}

static int order_make(struct emb_sampler *s)
{
    s->order = malloc(s->n * s->dims * sizeof *s->order);
    if (s->order == NULL) {
        return -1;
    }
    gsl_rng_set(s->rng, s->seed + 1); /* not the stream of the places inside the strata */
    for (size_t d = 0; d < s->dims; d++) {
        for (size_t i = 0; i < s->n; i++) {
            s->order[d * s->n + i] = (uint32_t)i;
        }
        gsl_ran_shuffle(s->rng, s->order + d * s->n, s->n, sizeof *s->order);
    }
    return 0;
}

struct emb_sampler *emb_sampler_new(enum emb_design design, size_t n, size_t dims, int seed,
                                    struct emb_err *err)
{
    struct emb_sampler *s = calloc(1, sizeof *s);
    bool ok = s != NULL;
    if (ok) {
        s->design = design;
        s->n = n;
        s->dims = dims;
        s->seed = (unsigned long)seed + 1; /* 0 would mean GSL's default seed */
        pthread_mutex_init(&s->lock, NULL);
        s->window = calloc((size_t)WINDOW * (dims + 1), sizeof *s->window);
        if (design == EMB_DESIGN_SOBOL) {
            s->sobol = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)dims);
        } else {
            s->rng = gsl_rng_alloc(gsl_rng_mt19937);
        }
        ok = s->window != NULL && (s->sobol != NULL || s->rng != NULL);
    }
    if (ok && design == EMB_DESIGN_HYPERCUBE) {
        ok = order_make(s) == 0;
    }
    if (!ok) {
        emb_sampler_free(s);
        emb_fail(err, EMB_ERR_NOMEM, "design", "out of memory for %zu cases of %zu axes", n, dims);
        return NULL;
    }
    start_over(s);
    return s;
}

void emb_sampler_free(struct emb_sampler *s)
{
    if (s == NULL) {
        return;
    }
    if (s->sobol != NULL) {
        gsl_qrng_free(s->sobol);
    }
    if (s->rng != NULL) {
        gsl_rng_free(s->rng);
    }
    pthread_mutex_destroy(&s->lock);
    free(s->order);
    free(s->window);
    free(s);
}

static void advance(struct emb_sampler *s)
{
    double *u = s->window + s->next % WINDOW * s->dims;
    if (s->sobol != NULL) {
        gsl_qrng_get(s->sobol, u);
    } else {
        for (size_t d = 0; d < s->dims; d++) {
            u[d] = gsl_rng_uniform_pos(s->rng);
        }
    }
    s->next++;
}

void emb_sampler_point(struct emb_sampler *s, size_t i, double *u)
{
    pthread_mutex_lock(&s->lock);
    if (i + WINDOW < s->next) {
        start_over(s);
    }
    while (s->next <= i) {
        advance(s);
    }
    memcpy(u, s->window + i % WINDOW * s->dims, s->dims * sizeof *u);
    pthread_mutex_unlock(&s->lock);
    for (size_t d = 0; s->order != NULL && d < s->dims; d++) {
        u[d] = (s->order[d * s->n + i] + u[d]) / (double)s->n;
    }
}
