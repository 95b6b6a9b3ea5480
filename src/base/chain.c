#include "emberpipe/chain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static size_t link_size(const struct emb_link *k)
{
    return 2 * k->n * k->n + 2 * k->n * k->m_in +
           (k->m_out + EMB_LINK_TALLIES) * (k->n + k->m_in) + 2 * k->n;
}

static double *carve(double **from, size_t n)
{
    double *p = *from;
    *from += n;
    return p;
}

struct emb_chain *emb_chain_new(size_t n_link, const struct emb_link *shapes)
{
    struct emb_chain *c = calloc(1, sizeof *c);
    size_t total = 0;
    if (c == NULL) {
        return NULL;
    }
    for (size_t i = 0; i < n_link; i++) {
        total += link_size(&shapes[i]);
        c->widest = shapes[i].m_in > c->widest ? shapes[i].m_in : c->widest;
        c->widest = shapes[i].m_out > c->widest ? shapes[i].m_out : c->widest;
    }
    c->n_link = n_link;
    c->link = calloc(n_link + 1, sizeof *c->link);
    c->store = calloc(total + 1, sizeof *c->store);
    c->flow = calloc((n_link + 1) * c->widest + 1, sizeof *c->flow);
    if (c->link == NULL || c->store == NULL || c->flow == NULL) {
        emb_chain_free(c);
        return NULL;
    }
    double *next = c->store;
    for (size_t i = 0; i < n_link; i++) {
        struct emb_link *k = &c->link[i];
        *k = shapes[i];
        k->A = carve(&next, k->n * k->n);
        k->B = carve(&next, k->n * k->m_in);
        k->C = carve(&next, k->m_out * k->n);
        k->D = carve(&next, k->m_out * k->m_in);
        k->E = carve(&next, EMB_LINK_TALLIES * k->n);
        k->F = carve(&next, EMB_LINK_TALLIES * k->m_in);
        k->lu = carve(&next, k->n * k->n);
        k->Q = carve(&next, k->n * k->m_in);
        k->R = carve(&next, k->n);
        k->w = carve(&next, k->n);
    }
    return c;
}

void emb_chain_free(struct emb_chain *c)
{
    if (c != NULL) {
        free(c->link);
        free(c->store);
        free(c->flow);
        free(c);
    }
}

/* ---- a small dense matrix ---- */

static int lu_factor(double *a, size_t n, size_t *pivot)
{
    for (size_t k = 0; k < n; k++) {
        size_t p = k;
        for (size_t i = k + 1; i < n; i++) {
            p = fabs(a[i * n + k]) > fabs(a[p * n + k]) ? i : p;
        }
        pivot[k] = p;
        if (!(fabs(a[p * n + k]) > 0.0)) {
            return -1;
        }
        for (size_t j = 0; p != k && j < n; j++) {
            const double t = a[k * n + j];
            a[k * n + j] = a[p * n + j];
            a[p * n + j] = t;
        }
        const double inv = 1.0 / a[k * n + k];
        for (size_t i = k + 1; i < n; i++) {
            const double f = a[i * n + k] * inv;
            a[i * n + k] = f;
            for (size_t j = k + 1; f != 0.0 && j < n; j++) {
                a[i * n + j] -= f * a[k * n + j];
            }
        }
    }
    return 0;
}

/* b has `stride` right-hand sides side by side, row-major n x stride. */
static void lu_solve(const double *a, size_t n, const size_t *pivot, double *b, size_t stride)
{
    for (size_t k = 0; k < n; k++) {
        for (size_t s = 0; pivot[k] != k && s < stride; s++) {
            const double t = b[k * stride + s];
            b[k * stride + s] = b[pivot[k] * stride + s];
            b[pivot[k] * stride + s] = t;
        }
    }
    for (size_t k = 0; k < n; k++) {
        for (size_t j = 0; j < k; j++) {
            for (size_t s = 0; s < stride; s++) {
                b[k * stride + s] -= a[k * n + j] * b[j * stride + s];
            }
        }
    }
    for (size_t k = n; k-- > 0;) {
        for (size_t j = k + 1; j < n; j++) {
            for (size_t s = 0; s < stride; s++) {
                b[k * stride + s] -= a[k * n + j] * b[j * stride + s];
            }
        }
        const double inv = 1.0 / a[k * n + k];
        for (size_t s = 0; s < stride; s++) {
            b[k * stride + s] *= inv;
        }
    }
}

/* ---- the chain ---- */

/* q of the next link, T_{i+1} = p + q g_i + r T_i; NULL where nothing conducts. */
static const double *answer_of(const struct emb_link *next)
{
    return next->n > 0 ? next->Q + next->t * next->m_in : NULL;
}

static double dot(const double *a, const double *b, size_t n)
{
    double v = 0.0;
    for (size_t i = 0; i < n; i++) {
        v += a[i] * b[i];
    }
    return v;
}

/* out += x times a column */
static void add_column(const double *column, double x, double *out, size_t n)
{
    for (size_t i = 0; x != 0.0 && i < n; i++) {
        out[i] += column[i] * x;
    }
}

/* Adds what lies behind: gamma down e_t (q C + r e_t') to the matrix, gamma down e_t q D to Q. */
static void couple(struct emb_link *k, const struct emb_link *next, double gamma)
{
    const double *q = answer_of(next), g = gamma * k->down;
    double *row = k->lu + k->t * k->n, *to = k->Q + k->t * k->m_in;
    row[k->t] -= g * next->R[next->t];
    for (size_t j = 0; j < k->n; j++) {
        row[j] -= g * dot(q, k->C + j * k->m_out, k->m_out);
    }
    for (size_t j = 0; j < k->m_in; j++) {
        to[j] += g * dot(q, k->D + j * k->m_out, k->m_out);
    }
}

size_t emb_chain_factor(struct emb_chain *c, double gamma)
{
    c->gamma = gamma;
    for (size_t i = c->n_link; i-- > 0;) {
        struct emb_link *k = &c->link[i];
        for (size_t j = 0; j < k->n * k->n; j++) {
            k->lu[j] = -gamma * k->A[j];
        }
        for (size_t j = 0; j < k->n * k->m_in; j++) {
            k->Q[j] = gamma * k->B[j];
        }
        for (size_t j = 0; j < k->n; j++) {
            k->lu[j * k->n + j] += 1.0;
            k->R[j] = 0.0;
        }
        if (k->n == 0) {
            continue;
        }
        k->R[k->t] = gamma * k->up;
        if (k->down != 0.0) {
            couple(k, k + 1, gamma);
        }
        if (lu_factor(k->lu, k->n, k->pivot) != 0) {
            return i + 1;
        }
        lu_solve(k->lu, k->n, k->pivot, k->Q, k->m_in);
        lu_solve(k->lu, k->n, k->pivot, k->R, 1);
    }
    return 0;
}

static void forward(const struct emb_link *k, double T_before, const double *in, double *out,
                    double *x)
{
    for (size_t j = 0; j < k->n; j++) {
        x[j] = k->w[j] + k->R[j] * T_before + dot(k->Q + j * k->m_in, in, k->m_in);
    }
    memset(out, 0, k->m_out * sizeof *out);
    for (size_t j = 0; j < k->n; j++) {
        add_column(k->C + j * k->m_out, x[j], out, k->m_out);
    }
    for (size_t j = 0; j < k->m_in; j++) {
        add_column(k->D + j * k->m_out, in[j], out, k->m_out);
    }
}

void emb_chain_solve(struct emb_chain *c, double *b)
{
    for (size_t i = c->n_link; i-- > 0;) {
        struct emb_link *k = &c->link[i];
        memcpy(k->w, b + k->row, k->n * sizeof *b);
        if (k->down != 0.0) {
            k->w[k->t] += c->gamma * k->down * k[1].w[k[1].t];
        }
        lu_solve(k->lu, k->n, k->pivot, k->w, 1);
    }
    double *in = c->flow;
    for (size_t i = 0; i < c->n_link; i++, in += c->widest) {
        const struct emb_link *k = &c->link[i];
        const double T_before = k->up != 0.0 ? b[k[-1].row + k[-1].t] : 0.0;
        forward(k, T_before, in, in + c->widest, b + k->row);
    }
}

const double *emb_chain_in(const struct emb_chain *c, size_t i)
{
    return c->flow + i * c->widest;
}

const double *emb_chain_out(const struct emb_chain *c, size_t i)
{
    return c->flow + (i + 1) * c->widest;
}

double emb_chain_tally(const struct emb_chain *c, size_t i, size_t which, const double *dx)
{
    const struct emb_link *k = &c->link[i];
    return dot(k->E + which * k->n, dx, k->n) +
           dot(k->F + which * k->m_in, emb_chain_in(c, i), k->m_in);
}
