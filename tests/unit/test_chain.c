/* The chain's Newton matrix: its answer against the definition, and the line's derivatives against
 * plain differences of the whole march. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "assert_close.h"
#include "demo_case.h"
#include "emberpipe/duty.h"
#include "emberpipe/line.h"

/* Park & Miller 1988, Comm. ACM 31:1192: the same numbers everywhere */
static double draw(unsigned long long *seed)
{
    *seed = *seed * 48271u % 2147483647u;
    return (double)*seed / 2147483647.0 - 0.5;
}

static void fill(double *a, size_t n, unsigned long long *seed)
{
    for (size_t i = 0; i < n; i++) {
        a[i] = draw(seed);
    }
}

/* y = (I - gamma J) x by the definition in chain.h, link by link. */
static void apply(const struct emb_chain *c, double gamma, const double *x, double *y)
{
    double in[8] = {0.0}, out[8];
    for (size_t l = 0; l < c->n_link; l++) {
        const struct emb_link *k = &c->link[l];
        const double *xl = x + k->row;
        for (size_t i = 0; i < k->n; i++) {
            double rate = 0.0;
            for (size_t j = 0; j < k->n; j++) {
                rate += k->A[i * k->n + j] * xl[j];
            }
            for (size_t j = 0; j < k->n_ear; j++) {
                rate += k->B[i * k->n_ear + j] * in[k->ear[j]];
            }
            if (i == k->t) {
                rate += k->up != 0.0 ? k->up * x[k[-1].row + k[-1].t] : 0.0;
                rate += k->down != 0.0 ? k->down * x[k[1].row + k[1].t] : 0.0;
            }
            y[k->row + i] = xl[i] - gamma * rate;
        }
        for (size_t v = 0; v < k->m_out; v++) {
            out[v] = 0.0;
            for (size_t j = 0; j < k->n; j++) {
                out[v] += k->C[j * k->m_out + v] * xl[j];
            }
            for (size_t j = 0; j < k->n_ear; j++) {
                out[v] += k->D[j * k->m_out + v] * in[k->ear[j]];
            }
            for (size_t j = 0; j < k->m_in; j++) {
                if ((k->heard >> j & 1u) == 0 && j % k->lane == v % k->lane) {
                    out[v] += k->pass[j / k->lane][v / k->lane] * in[j];
                }
            }
        }
        memcpy(in, out, sizeof in);
    }
}

static void solve_undoes_the_matrix(void **state)
{
    /* a source, a row of conducting links, one without states, one that widens the stream; each
     * with ballast, which the next in conduction does not hear either */
    enum { L = 3 };
    static const struct emb_link shapes[] = {
        {.row = 0, .n = 1, .m_out = L, .lane = L},
        {.row = 1, .n = 3, .t = 1, .m_in = L, .m_out = L, .lane = L, .heard = 5},
        {.row = 4, .n = 2, .m_in = L, .m_out = L, .lane = L, .heard = 5},
        {.row = 6, .n = 2, .m_in = L, .m_out = L, .lane = L, .heard = 1},
        {.row = 8, .n = 0, .m_in = L, .m_out = L, .lane = L},
        {.row = 8, .n = 3, .m_in = L, .m_out = 2 * L, .lane = L, .heard = 3},
        {.row = 11, .n = 3, .m_in = 2 * L, .m_out = L, .lane = L, .heard = 11}};
    const size_t n_link = sizeof shapes / sizeof *shapes, n = 14;
    struct emb_chain *c = emb_chain_new(n_link, shapes);
    unsigned long long seed = 7;
    double x[14], b[14];
    (void)state;
    assert_non_null(c);
    for (size_t l = 0; l < n_link; l++) {
        struct emb_link *k = &c->link[l];
        fill(k->A, k->n * k->n, &seed);
        fill(k->B, k->n * k->n_ear, &seed);
        fill(k->C, k->m_out * k->n, &seed);
        fill(k->D, k->m_out * k->n_ear, &seed);
        fill(k->pass[0], EMB_LINK_LANES * EMB_LINK_LANES, &seed);
    }
    c->link[1].down = 0.3;
    c->link[2].up = 0.4;
    c->link[2].down = 0.5;
    c->link[3].up = 0.6;
    c->link[5].down = 0.7;
    c->link[6].up = 0.8;
    for (double gamma = 1e-3; gamma < 20.0; gamma *= 7.0) {
        assert_int_equal(emb_chain_factor(c, gamma), 0);
        fill(x, n, &seed);
        apply(c, gamma, x, b);
        emb_chain_solve(c, b);
        for (size_t i = 0; i < n; i++) {
            assert_close(b[i], x[i], 1e-9, 1e-9);
        }
    }
    emb_chain_free(c);
}

static void singular_is_told(void **state)
{
    const struct emb_link shape = {.n = 1};
    struct emb_chain *c = emb_chain_new(1, &shape);
    (void)state;
    c->link[0].A[0] = 2.0;
    assert_int_equal(emb_chain_factor(c, 0.5), 1); /* 1 - 0.5 x 2 = 0 */
    assert_int_equal(emb_chain_factor(c, 0.4), 0);
    emb_chain_free(c);
}

struct bench {
    struct emb_line line;
    struct emb_moment at;
    double *y, *f1, *f2, *b;
    double *scale; /* [of each state] what counts as one */
};

/* A line under way: warm, with a temperature profile, some soot, film and stored ammonia. */
static void prepare(struct bench *b, const struct emb_case *c)
{
    struct emb_err err = {0};
    struct emb_duty duty;
    struct emb_piece piece;
    assert_int_equal(emb_line_build(c, &b->line, &err), EMB_OK);
    const size_t n = b->line.n_state;
    b->y = calloc(n, sizeof(double));
    b->f1 = calloc(n, sizeof(double));
    b->f2 = calloc(n, sizeof(double));
    b->b = calloc(n, sizeof(double));
    b->scale = calloc(n, sizeof(double));
    emb_line_start(&b->line, b->y);
    emb_line_tolerances(&b->line, 1e-3, b->scale);
    emb_duty_begin(&duty, c);
    assert_true(emb_duty_next(&duty, &piece));
    memcpy(b->at.u, piece.u0, sizeof piece.u0);
    b->at.u[EMB_U_DOSE] = 3e-4;
    b->at.back_pressure = 2000.0;
    for (size_t i = 0; i < n; i++) {
        b->y[i] = b->scale[i] == 1e-3 ? 590.0 + 40.0 * sin(0.7 * (double)i)
                                      : b->y[i] + 300.0 * b->scale[i];
    }
}

static void release(struct bench *b)
{
    free(b->y);
    free(b->f1);
    free(b->f2);
    free(b->b);
    free(b->scale);
    emb_line_free(&b->line);
}

/* Column j of I - gamma J by central differences of the march, put through the chain's solve, must
 * come out as the j-th unit vector. */
static double worst_column(struct bench *b, struct emb_chain *chain, double gamma, size_t j)
{
    const double step = b->scale[j] == 1e-3 ? 1e-2 : 0.3 * b->scale[j], keep = b->y[j];
    const size_t n = b->line.n_state;
    double worst = 0.0;
    b->y[j] = keep + step;
    assert_int_equal(emb_line_march(&b->line, &b->at, b->y, b->f1, NULL), 0);
    b->y[j] = keep - step;
    assert_int_equal(emb_line_march(&b->line, &b->at, b->y, b->f2, NULL), 0);
    b->y[j] = keep;
    for (size_t i = 0; i < n; i++) {
        b->b[i] = (i == j) - gamma * (b->f1[i] - b->f2[i]) / (2.0 * step);
    }
    emb_chain_solve(chain, b->b);
    for (size_t i = 0; i < n; i++) {
        worst = fmax(worst, fabs(b->b[i] - (i == j)) * b->scale[j] / b->scale[i]);
    }
    return worst;
}

static void derivatives_agree_with_differences(void **state)
{
    struct bench b = {0};
    prepare(&b, *state);
    struct emb_chain *chain = emb_line_chain(&b.line);
    assert_non_null(chain);
    assert_int_equal(emb_line_jacobian(&b.line, &b.at, b.y, chain), 0);
    assert_int_equal(emb_chain_factor(chain, 5.0), 0);
    for (size_t j = 0; j < b.line.n_state; j++) {
        char name[120];
        emb_line_state_name(&b.line, j, name, sizeof name);
        const double w = worst_column(&b, chain, 5.0, j);
        /* a crust closes the channels of all cells, the matrix knows of the first cell only, enough
         * for a state that takes hours; vapour from a film is ballast where nothing condenses */
        const bool rough = strstr(name, "crust") != NULL || strstr(name, "film") != NULL;
        if (w > (rough ? 0.5 : 2e-3)) {
            fail_msg("%s: off by %g", name, w);
        }
    }
    emb_chain_free(chain);
    release(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(solve_undoes_the_matrix),
        cmocka_unit_test(singular_is_told),
        cmocka_unit_test(derivatives_agree_with_differences),
    };
    return cmocka_run_group_tests(tests, demo_case_load, demo_case_unload);
}
