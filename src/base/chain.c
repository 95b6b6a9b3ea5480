#include "emberpipe/chain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/carve.h"
#include "emberpipe/columns.h"

static size_t link_size(const struct emb_link *k)
{
    return 3 * k->n * k->n + 3 * k->n * k->n_ear +
           (k->m_out + EMB_LINK_TALLIES) * (k->n + k->n_ear) + 2 * k->n + k->m_in;
}

static struct emb_link with_ears(const struct emb_link *shape)
{
    struct emb_link k = *shape;
    for (size_t v = 0; v < k.m_in; v++) {
        if (k.heard >> v & 1u) {
            k.ear[k.n_ear++] = (unsigned char)v;
        }
    }
    return k;
}

struct emb_chain *emb_chain_new(size_t n_link, const struct emb_link *shapes)
{
    struct emb_chain *c = calloc(1, sizeof *c);
    size_t total = 0;
    if (c == NULL) {
        return NULL;
    }
    for (size_t i = 0; i < n_link; i++) {
        const struct emb_link k = with_ears(&shapes[i]);
        total += link_size(&k);
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
        *k = with_ears(&shapes[i]);
        k->A = emb_carve(&next, k->n * k->n);
        k->B = emb_carve(&next, k->n * k->n_ear);
        k->C = emb_carve(&next, k->m_out * k->n);
        k->D = emb_carve(&next, k->m_out * k->n_ear);
        k->E = emb_carve(&next, EMB_LINK_TALLIES * k->n);
        k->F = emb_carve(&next, EMB_LINK_TALLIES * k->n_ear);
        k->lu = emb_carve(&next, k->n * k->n);
        k->inverse = emb_carve(&next, k->n * k->n);
        k->Q = emb_carve(&next, k->n * k->n_ear);
        k->Q_by_column = emb_carve(&next, k->n * k->n_ear);
        k->R = emb_carve(&next, k->n);
        k->w = emb_carve(&next, k->n);
        k->quiet = emb_carve(&next, k->m_in);
        for (size_t v = 0; v < k->m_in; v++) {
            k->quiet[v] = (k->heard >> v & 1u) != 0 ? 0.0 : 1.0;
        }
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

static double dot(const double *a, const double *b, size_t n)
{
    double v = 0.0;
    for (size_t i = 0; i < n; i++) {
        v += a[i] * b[i];
    }
    return v;
}

/* The same with those b that link k hears. */
static double dot_heard(const struct emb_link *k, const double *a, const double *b)
{
    double v = 0.0;
    for (size_t i = 0; i < k->n_ear; i++) {
        v += a[i] * b[k->ear[i]];
    }
    return v;
}

/* What a link hears of the first variables of the lanes, each as large as `lane` says. */
static double heard_of_lanes(const struct emb_link *k, const double *a, const double *lane)
{
    double v = 0.0;
    for (size_t j = 0; j < k->n_ear; j++) {
        v += k->ear[j] % k->lane == 0 ? a[j] * lane[k->ear[j] / k->lane] : 0.0;
    }
    return v;
}

/* Adds what lies behind, T_{i+1} = p + q g_i + r T_i with q a row of the next Q. With g_i = g' +
 * down T_{i+1} that is (p + q g' + r T_i)/(1 - q down): gamma down e_t (q C + r e_t') to the
 * matrix, gamma down e_t q D to Q, gamma down e_t q up to R, each by the echo 1/(1 - q down). */
static void couple(struct emb_link *k, const struct emb_link *next, double gamma)
{
    const double *q = next->Q + next->t * next->n_ear;
    k->echo = 1.0 / (1.0 - heard_of_lanes(next, q, k->down.out));
    const double g = gamma * k->down.rate * k->echo;
    double *row = k->lu + k->t * k->n, *to = k->Q + k->t * k->n_ear;
    row[k->t] -= g * next->R[next->t];
    for (size_t j = 0; j < k->n; j++) {
        row[j] -= g * dot_heard(next, q, k->C + j * k->m_out);
    }
    for (size_t j = 0; j < k->n_ear; j++) {
        to[j] += g * dot_heard(next, q, k->D + j * k->m_out);
    }
    k->R[k->t] += g * heard_of_lanes(next, q, k->up.out);
}

/* lu = I - gamma A, Q = gamma B, R = gamma up e_t: all but what lies behind. */
static void set_up(struct emb_link *k, double gamma)
{
    for (size_t j = 0; j < k->n * k->n; j++) {
        k->lu[j] = -gamma * k->A[j];
    }
    for (size_t j = 0; j < k->n * k->n_ear; j++) {
        k->Q[j] = gamma * k->B[j];
    }
    for (size_t j = 0; j < k->n; j++) {
        k->lu[j * k->n + j] += 1.0;
        k->R[j] = j == k->t ? gamma * k->up.rate : 0.0;
    }
}

static void to_columns(const double *rows, size_t n, size_t n_column, double *columns)
{
    for (size_t j = 0; j < n_column; j++) {
        for (size_t i = 0; i < n; i++) {
            columns[j * n + i] = rows[i * n_column + j];
        }
    }
}

/* Factored once, solved many times: the inverse of the few states of a link spares each solution
 * the divisions, and columns spare it the wait of one sum for another. */
static void ready(struct emb_link *k)
{
    double unit[EMB_LINK_STATES * EMB_LINK_STATES] = {0.0};
    for (size_t j = 0; j < k->n; j++) {
        unit[j * k->n + j] = 1.0;
    }
    lu_solve(k->lu, k->n, k->pivot, k->Q, k->n_ear);
    lu_solve(k->lu, k->n, k->pivot, k->R, 1);
    lu_solve(k->lu, k->n, k->pivot, unit, k->n);
    to_columns(k->Q, k->n, k->n_ear, k->Q_by_column);
    to_columns(unit, k->n, k->n, k->inverse);
}

size_t emb_chain_factor(struct emb_chain *c, double gamma)
{
    c->gamma = gamma;
    for (size_t i = c->n_link; i-- > 0;) {
        struct emb_link *k = &c->link[i];
        set_up(k, gamma);
        if (k->down.rate != 0.0) {
            couple(k, k + 1, gamma);
        }
        if (lu_factor(k->lu, k->n, k->pivot) != 0) {
            return i + 1;
        }
        ready(k);
    }
    return 0;
}

double emb_link_whole(const struct emb_link *k, const double *in)
{
    double sum = 0.0;
    for (size_t v = 1; v < k->lane && v < k->m_in; v++) {
        sum += in[v];
    }
    return sum;
}

static void add_beside(struct emb_beside *to, const struct emb_beside *by, double T)
{
    to->rate += by->rate * T;
    for (size_t l = 0; l < EMB_LINK_LANES; l++) {
        to->out[l] += by->out[l] * T;
    }
}

struct emb_beside emb_link_given(const struct emb_link *k, const double *y0, const double *y1)
{
    struct emb_beside sum = {0};
    if (k->up.rate != 0.0) {
        const size_t j = k[-1].row + k[-1].t;
        add_beside(&sum, &k->up, y1[j] - y0[j]);
    }
    if (k->down.rate != 0.0) {
        const size_t j = k[1].row + k[1].t;
        add_beside(&sum, &k->down, y1[j] - y0[j]);
    }
    return sum;
}

size_t emb_chain_row(const struct emb_chain *c)
{
    return c->widest + EMB_LINK_TALLIES;
}

size_t emb_chain_passed(const struct emb_chain *c)
{
    return c->n_link * emb_chain_row(c);
}

void emb_chain_let_pass(const struct emb_link *k, const double *restrict in, double *restrict out)
{
    memset(out, 0, k->m_out * sizeof *out);
    for (size_t from = 0; from * k->lane < k->m_in; from++) {
        const double *const quiet = k->quiet + from * k->lane, *const flow = in + from * k->lane;
        for (size_t to = 0; to * k->lane < k->m_out; to++) {
            const double share = k->pass[from][to];
            double *const sum = out + to * k->lane;
            for (size_t v = 0; share != 0.0 && v < k->lane; v++) {
                sum[v] += share * (quiet[v] * flow[v]);
            }
        }
    }
}

void emb_link_add_given(const struct emb_link *k, const struct emb_beside *by, double T,
                        double *out)
{
    for (size_t l = 0; l * k->lane < k->m_out; l++) {
        out[l * k->lane] += by->out[l] * T;
    }
}

static void forward(const struct emb_link *k, double T_before, const double *in, double *out,
                    double *x)
{
    double z[EMB_LINK_STATES + EMB_LINK_FLOWS], *const heard = z + k->n;
    for (size_t j = 0; j < k->n_ear; j++) {
        heard[j] = in[k->ear[j]];
    }
    for (size_t j = 0; j < k->n; j++) {
        z[j] = k->w[j] + k->R[j] * T_before;
    }
    emb_add_columns(k->Q_by_column, heard, k->n_ear, z, k->n);
    memcpy(x, z, k->n * sizeof *x);
    emb_chain_let_pass(k, in, out);
    emb_add_columns(k->C, z, k->n + k->n_ear, out, k->m_out); /* D lies behind C */
    emb_link_add_given(k, &k->up, T_before, out);
    if (k->down.rate != 0.0) {
        const struct emb_link *next = k + 1;
        const size_t t = next->t;
        const double T_behind =
            next->w[t] + next->R[t] * x[k->t] + dot_heard(next, next->Q + t * next->n_ear, out);
        emb_link_add_given(k, &k->down, k->echo * T_behind, out);
    }
}

void emb_chain_solve(struct emb_chain *c, double *b)
{
    for (size_t i = c->n_link; i-- > 0;) {
        struct emb_link *k = &c->link[i];
        double *own = b + k->row;
        if (k->down.rate != 0.0) {
            own[k->t] += c->gamma * k->down.rate * k->echo * k[1].w[k[1].t];
        }
        memset(k->w, 0, k->n * sizeof *k->w);
        emb_add_columns(k->inverse, own, k->n, k->w, k->n);
    }
    double *in = c->flow;
    for (size_t i = 0; i < c->n_link; i++, in += c->widest) {
        const struct emb_link *k = &c->link[i];
        const double T_before = k->up.rate != 0.0 ? b[k[-1].row + k[-1].t] : 0.0;
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
           dot_heard(k, k->F + which * k->n_ear, emb_chain_in(c, i));
}
