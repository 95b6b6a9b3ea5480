/* sampler.c - Sobol sequence, Latin hypercube and random points from GSL, by number.
 *
 * GSL's generators only go forward, and threads ask slightly out of order: a window of the last
 * points is kept, and whoever asks for one behind it makes the generator start over. The memory is
 * flat, except for the hypercube, which keeps its permutations (4 bytes a case and axis).
 *
 * Screening: paths of Morris 1991, Technometrics 33:161, on four levels with steps of 2/3: axis after
 * axis, in random order, moves once. Variance: Saltelli et al. 2010, Comput. Phys. Commun. 181:259:
 * each block has points A and B and, for each axis, A with that one coordinate of B. A and B are the
 * halves of a Sobol point of twice as many dimensions, shifted by the seed (modulo 1), or random
 * where GSL has too few dimensions. */
#include <gsl/gsl_permutation.h>
#include <gsl/gsl_qrng.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "study_impl.h"

enum { WINDOW = 4096, LEVELS = 4 };
struct emb_sampler {
    enum emb_design design;
    size_t n, dims, width; /* width: numbers of a point of the generator */
    unsigned long seed;
    gsl_qrng *sobol;
    gsl_rng *rng;
    uint32_t *order; /* hypercube: dims permutations of 0 .. n-1; screening: scratch */
    double *shift;   /* variance */
    pthread_mutex_t lock;
    size_t next;    /* point the generator makes next */
    double *window; /* WINDOW x width */
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

size_t emb_sampler_block(enum emb_design design, size_t dims)
{
    return design == EMB_DESIGN_SCREEN ? dims + 1 : design == EMB_DESIGN_VARIANCE ? dims + 2 : 1;
}

/* What the design needs beside a generator. */
static bool store_make(struct emb_sampler *s)
{
    s->window = calloc((size_t)WINDOW * (s->width + 1), sizeof *s->window);
    s->rng = gsl_rng_alloc(gsl_rng_mt19937);
    if (s->window == NULL || s->rng == NULL) {
        return false;
    }
    if (s->design == EMB_DESIGN_SOBOL ||
        (s->design == EMB_DESIGN_VARIANCE && s->width <= EMB_SOBOL_AXES)) {
        s->sobol = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)s->width);
        if (s->sobol == NULL) {
            return false;
        }
    }
    if (s->design == EMB_DESIGN_HYPERCUBE) {
        return order_make(s) == 0;
    }
    if (s->design == EMB_DESIGN_SCREEN) {
        return (s->order = calloc(s->dims + 1, sizeof *s->order)) != NULL;
    }
    s->shift = calloc(s->width + 1, sizeof *s->shift);
    gsl_rng_set(s->rng, s->seed);
    for (size_t d = 0; s->shift != NULL && s->design == EMB_DESIGN_VARIANCE && d < s->width; d++) {
        s->shift[d] = gsl_rng_uniform(s->rng);
    }
    return s->shift != NULL;
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
        s->width = design == EMB_DESIGN_VARIANCE ? 2 * dims : dims;
        pthread_mutex_init(&s->lock, NULL);
        ok = store_make(s);
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
    free(s->shift);
    free(s->window);
    free(s);
}

static void advance(struct emb_sampler *s)
{
    double *u = s->window + s->next % WINDOW * s->width;
    if (s->sobol != NULL) {
        gsl_qrng_get(s->sobol, u);
    } else {
        for (size_t d = 0; d < s->width; d++) {
            u[d] = gsl_rng_uniform_pos(s->rng);
        }
    }
    s->next++;
}

/* Point i of the generator; under the lock. */
static const double *point_at(struct emb_sampler *s, size_t i)
{
    if (i + WINDOW < s->next) {
        start_over(s);
    }
    while (s->next <= i) {
        advance(s);
    }
    return s->window + i % WINDOW * s->width;
}

/* Every path has random numbers of its own, so that a case can be made without those before it. */
static void path_point(struct emb_sampler *s, size_t i, double *u)
{
    const size_t path = i / (s->dims + 1), step = i % (s->dims + 1);
    /* odd constant of Steele, Lea & Flood 2014 (golden ratio): scatters the seeds of the paths */
    gsl_rng_set(s->rng, (unsigned long)((s->seed + path + 1) * 0x9E3779B97F4A7C15ULL >> 32));
    for (size_t d = 0; d < s->dims; d++) {
        u[d] = (double)gsl_rng_uniform_int(s->rng, LEVELS) / (LEVELS - 1);
        s->order[d] = (uint32_t)d;
    }
    gsl_ran_shuffle(s->rng, s->order, s->dims, sizeof *s->order);
    for (size_t k = 0; k < step; k++) {
        const size_t d = s->order[k];
        u[d] += (u[d] < 0.5 ? 1.0 : -1.0) * LEVELS / (2.0 * (LEVELS - 1));
    }
}

static void block_point(struct emb_sampler *s, size_t i, double *u)
{
    const size_t k = i % (s->dims + 2);
    const double *both = point_at(s, i / (s->dims + 2));
    for (size_t d = 0; d < s->dims; d++) {
        const size_t from = k == 1 || k == d + 2 ? s->dims + d : d;
        u[d] = both[from] + s->shift[from];
        u[d] -= floor(u[d]);
    }
}

void emb_sampler_point(struct emb_sampler *s, size_t i, double *u)
{
    pthread_mutex_lock(&s->lock);
    if (s->design == EMB_DESIGN_SCREEN) {
        path_point(s, i, u);
    } else if (s->design == EMB_DESIGN_VARIANCE) {
        block_point(s, i, u);
    } else {
        memcpy(u, point_at(s, i), s->dims * sizeof *u);
    }
    pthread_mutex_unlock(&s->lock);
    for (size_t d = 0; s->design == EMB_DESIGN_HYPERCUBE && d < s->dims; d++) {
        u[d] = (s->order[d * s->n + i] + u[d]) / (double)s->n;
    }
}
