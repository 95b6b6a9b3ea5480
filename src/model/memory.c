#include "emberpipe/memory.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct emb_memory *emb_memory_new(size_t n)
{
    struct emb_memory *m = calloc(1, sizeof *m);
    if (m == NULL) {
        return NULL;
    }
    m->n = n;
    m->at = NAN;
    m->hint = calloc(n + 1, sizeof *m->hint);
    m->x = calloc(n * EMB_NGAS + 1, sizeof *m->x);
    m->slope = calloc(n * EMB_NGAS + 1, sizeof *m->slope);
    if (m->hint == NULL || m->x == NULL || m->slope == NULL) {
        emb_memory_free(m);
        return NULL;
    }
    return m;
}

void emb_memory_free(struct emb_memory *m)
{
    if (m != NULL) {
        free(m->hint);
        free(m->x);
        free(m->slope);
        free(m);
    }
}

void emb_memory_predict(struct emb_memory *m, double t)
{
    if (t == m->at) {
        return;
    }
    m->at = t;
    for (size_t i = 0; i < m->n; i++) {
        const double *x = m->x + i * EMB_NGAS, *slope = m->slope + i * EMB_NGAS;
        for (int k = 0; m->hint[i].known && k < EMB_NGAS; k++) {
            const double ahead = x[k] + slope[k] * (t - m->t);
            const double low = 0.5 * x[k], high = 2.0 * x[k]; /* [-] */
            m->hint[i].x[k] = ahead < low ? low : ahead > high ? high : ahead;
        }
    }
}

void emb_memory_accept(struct emb_memory *m, double t)
{
    const double inv = t > m->t ? 1.0 / (t - m->t) : 0.0; /* [1/s] */
    for (size_t i = 0; i < m->n; i++) {
        double *x = m->x + i * EMB_NGAS, *slope = m->slope + i * EMB_NGAS;
        const struct emb_surface_hint *h = &m->hint[i];
        for (int k = 0; h->answered && k < EMB_NGAS; k++) {
            slope[k] = h->known ? (h->answer[k] - x[k]) * inv : 0.0;
            x[k] = h->answer[k];
        }
        m->hint[i].known = h->answered;
    }
    m->t = t;
    m->at = NAN;
}

void emb_memory_jump(struct emb_memory *m)
{
    memset(m->slope, 0, m->n * EMB_NGAS * sizeof *m->slope);
    m->at = NAN;
}
