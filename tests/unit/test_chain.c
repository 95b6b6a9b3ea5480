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
#include "emberpipe/config.h"
#include "emberpipe/duty.h"
#include "emberpipe/line.h"
#include "emberpipe/secant.h"

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

/* What T of the link `way` off does to link k. */
static struct emb_beside felt(const struct emb_link *k, ptrdiff_t way, const struct emb_beside *by,
                              const double *x)
{
    const double T = by->rate != 0.0 ? x[k[way].row + k[way].t] : 0.0;
    return (struct emb_beside){by->rate * T, {by->out[0] * T, by->out[1] * T}};
}

/* y = (I - gamma J) x by the definition in chain.h, link by link. */
static void apply(const struct emb_chain *c, double gamma, const double *x, double *y)
{
    double in[8] = {0.0}, out[8];
    for (size_t l = 0; l < c->n_link; l++) {
        const struct emb_link *k = &c->link[l];
        const double *xl = x + k->row;
        const struct emb_beside before = felt(k, -1, &k->up, x), behind = felt(k, 1, &k->down, x);
        for (size_t i = 0; i < k->n; i++) {
            double rate = 0.0;
            for (size_t j = 0; j < k->n; j++) {
                rate += k->A[i * k->n + j] * xl[j];
            }
            for (size_t j = 0; j < k->n_ear; j++) {
                rate += k->B[i * k->n_ear + j] * in[k->ear[j]];
            }
            rate += i == k->t ? before.rate + behind.rate : 0.0;
            y[k->row + i] = xl[i] - gamma * rate;
        }
        for (size_t v = 0; v < k->m_out; v++) {
            out[v] = v % k->lane == 0 ? before.out[v / k->lane] + behind.out[v / k->lane] : 0.0;
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
    c->link[1].down = (struct emb_beside){0.3, {0.1, 0.0}};
    c->link[2].up = (struct emb_beside){0.4, {-0.2, 0.0}};
    c->link[2].down = (struct emb_beside){0.5, {0.2, 0.0}};
    c->link[3].up = (struct emb_beside){0.6, {0.3, 0.0}};
    c->link[5].down = (struct emb_beside){0.7, {0.1, -0.3}};
    c->link[6].up = (struct emb_beside){0.8, {-0.1, 0.0}};
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
    /* once followed: derivatives at y, and two marches noted, the first of them at y */
    struct emb_chain *chain;
    struct emb_march march[2];
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
    emb_chain_free(b->chain);
    for (int i = 0; i < 2; i++) {
        free(b->march[i].slot);
        free(b->march[i].passed);
    }
    emb_line_free(&b->line);
}

static void follow(struct bench *b)
{
    b->chain = emb_line_chain(&b->line);
    assert_non_null(b->chain);
    for (int i = 0; i < 2; i++) {
        b->march[i] = (struct emb_march){
            .slot = calloc(b->line.n_slot, sizeof *b->march[i].slot),
            .passed = calloc(emb_chain_passed(b->chain), sizeof *b->march[i].passed),
            .row = emb_chain_row(b->chain)};
    }
    assert_int_equal(emb_line_jacobian(&b->line, &b->at, b->y, b->chain), 0);
    assert_int_equal(emb_line_march(&b->line, &b->at, b->y, b->f1, &b->march[0]), 0);
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
        if (w > (rough ? 0.7 : 2e-3)) {
            fail_msg("%s: off by %g", name, w);
        }
    }
    emb_chain_free(chain);
    release(&b);
}

/* Broyden 1965, Math. Comp. 19:577, eq. 4.5: J1 = J0 + (df - J0 dx) dx' / (dx' dx), here with every
 * state measured in its own tolerance: dx' becomes dx' W with W = diag(1/tolerance^2). */
static void one_link_learns_as_broyden(void **state)
{
    enum { N = 3 };
    const struct emb_link shape = {.n = N, .lane = 1};
    const double atol[N] = {0.5, 1.0, 2.0}, y0[N] = {0.0, 0.0, 0.0}, r0[N] = {1.0, -2.0, 3.0};
    const double J0[N * N] = {-1.0, 0.3, 0.0, 0.2, -2.0, 0.1, 0.0, 0.4, -0.5};
    struct emb_chain *c = emb_chain_new(1, &shape);
    struct emb_secant *s = emb_secant_new(c, N, 0.0, atol, true);
    double none[EMB_LINK_TALLIES] = {0.0}, b[N] = {4.0, 5.0, -6.0}, dx[N], r1[N], length = 0.0;
    (void)state;
    assert_non_null(s);
    memcpy(c->link[0].A, J0, sizeof J0);
    assert_int_equal(emb_chain_factor(c, 0.7), 0);
    emb_secant_solve(s, &(struct emb_point){1.0, y0, r0, none}, b);
    for (size_t i = 0; i < N; i++) {
        dx[i] = b[i];
        length += dx[i] * dx[i] / (atol[i] * atol[i]);
        r1[i] = r0[i] + sin(1.0 + (double)i) - dx[i];
    }
    emb_secant_solve(s, &(struct emb_point){1.0, dx, r1, none}, b); /* y0 is 0: dx is y1 */
    for (size_t i = 0; i < N; i++) {
        double off = r1[i] - r0[i];
        for (size_t j = 0; j < N; j++) {
            off -= J0[i * N + j] * dx[j];
        }
        for (size_t j = 0; j < N; j++) {
            const double want = J0[i * N + j] + off * dx[j] / (atol[j] * atol[j]) / length;
            assert_close(c->link[0].A[i * N + j], want, 1e-12, 1e-12);
        }
    }
    memcpy(c->link[0].A, J0, sizeof J0); /* another time: not the next iterate, nothing to learn */
    memcpy(r1, b, sizeof r1);
    for (size_t i = 0; i < N; i++) {
        dx[i] += b[i];
    }
    emb_secant_solve(s, &(struct emb_point){2.0, dx, r1, none}, b);
    assert_memory_equal(c->link[0].A, J0, sizeof J0);
    emb_secant_free(s);
    emb_chain_free(c);
}

/* What link k did beyond what its derivatives say, the worst of its rates in shares of their
 * change. */
static double unforeseen(const struct emb_chain *c, size_t l, const struct emb_point *a,
                         const struct emb_point *b)
{
    const struct emb_link *k = &c->link[l];
    const size_t row = emb_chain_row(c);
    double worst = 0.0;
    for (size_t i = 0; i < k->n; i++) {
        double off = b->rates[k->row + i] - a->rates[k->row + i], most = fabs(off);
        for (size_t j = 0; j < k->n; j++) {
            off -= k->A[i * k->n + j] * (b->y[k->row + j] - a->y[k->row + j]);
        }
        for (size_t j = 0; j < k->n_ear; j++) {
            const size_t v = (l - 1) * row + k->ear[j];
            off -= k->B[i * k->n_ear + j] * (b->passed[v] - a->passed[v]);
        }
        if (i == k->t) {
            off -= felt(k, -1, &k->up, b->y).rate - felt(k, -1, &k->up, a->y).rate;
            off -= felt(k, 1, &k->down, b->y).rate - felt(k, 1, &k->down, a->y).rate;
        }
        worst = fmax(worst, fabs(off) / (most + 1e-12));
    }
    return worst;
}

/* After a correction that leads far, derivatives of the line's links must give what the links did
 * on that way: the secant equation, the same reference, eq. 4.2. */
static void a_line_learns_its_own_way(void **state)
{
    struct bench b = {0};
    prepare(&b, *state);
    follow(&b);
    const size_t n = b.line.n_state;
    struct emb_secant *s = emb_secant_new(b.chain, n, 0.0, b.scale, true);
    double *y1 = calloc(n, sizeof *y1);
    assert_int_equal(emb_chain_factor(b.chain, 5.0), 0);
    for (size_t i = 0; i < n; i++) {
        b.b[i] = 3e3 * b.scale[i] * cos((double)i);
    }
    const struct emb_point from = {0.0, b.y, b.f1, b.march[0].passed},
                           to = {0.0, y1, b.f2, b.march[1].passed};
    emb_secant_solve(s, &from, b.b);
    for (size_t i = 0; i < n; i++) {
        y1[i] = b.y[i] + b.b[i];
    }
    assert_int_equal(emb_line_march(&b.line, &b.at, y1, b.f2, &b.march[1]), 0);
    double before = 0.0, after = 0.0;
    for (size_t l = 1; l < b.chain->n_link; l++) {
        before = fmax(before, unforeseen(b.chain, l, &from, &to));
    }
    emb_secant_solve(s, &to, b.b);
    for (size_t l = 1; l < b.chain->n_link; l++) {
        after = fmax(after, unforeseen(b.chain, l, &from, &to));
    }
    assert_true(before > 1e-2);
    assert_true(after < 1e-6);
    free(y1);
    emb_secant_free(s);
    release(&b);
}

/* Rates of the line at y0 + by times a direction, told from y0, less those asked for: the worst, in
 * tolerances per second. */
static double told_less_asked(struct bench *b, const struct emb_nearby *near, double by)
{
    const size_t n = b->line.n_state;
    double worst = 0.0, *y = calloc(n, sizeof *y);
    for (size_t i = 0; i < n; i++) {
        char name[120];
        emb_line_state_name(&b->line, i, name, sizeof name);
        /* of crusts and films the matrix knows a little less, as said above */
        const bool rough = strstr(name, "crust") != NULL || strstr(name, "film") != NULL;
        y[i] = b->y[i] + (rough ? 0.0 : by * b->scale[i] * cos((double)i));
    }
    assert_int_equal(emb_line_march(&b->line, &b->at, y, b->f2, NULL), 0);
    b->march[1].near = near;
    assert_int_equal(emb_line_march(&b->line, &b->at, y, b->b, &b->march[1]), 0);
    for (size_t i = 0; i < n; i++) {
        worst = fmax(worst, fabs(b->b[i] - b->f2[i]) / b->scale[i]);
    }
    free(y);
    return worst;
}

/* Taylor: what a straight line leaves over falls with the square of the move. */
static void told_cells_are_off_in_second_order(void **state)
{
    struct bench b = {0};
    prepare(&b, *state);
    follow(&b);
    double *weight = calloc(b.line.n_state, sizeof *weight);
    struct emb_nearby near = {/* tell all */
                              b.chain,
                              {0.0, b.y, b.f1, b.march[0].passed},
                              weight,
                              1e9};
    const double far = told_less_asked(&b, &near, 160.0);
    const double half = told_less_asked(&b, &near, 80.0);
    assert_true(far > 0.0);
    assert_in_range((long)(100.0 * far / half), 330, 480); /* about four times */
    near.small_T = 0.0;                                    /* tell none: the same march */
    assert_true(told_less_asked(&b, &near, 160.0) == 0.0);
    free(weight);
    release(&b);
}

/* Below empty a store is the mirror image of what it is above, about nothing at all: so it heals as
 * fast as it would have gone, and its slope does not jump. */
static void a_store_heals_from_below_empty(void **state)
{
    struct bench b = {0};
    struct emb_case *c = calloc(1, sizeof *c); /* one with ammonia */
    size_t found = 0;
    (void)state;
    assert_non_null(c);
    assert_int_equal(emb_config_load("configs/parked-regeneration.yaml", NULL, 0, c, NULL, NULL),
                     EMB_OK);
    prepare(&b, c);
    const size_t n = b.line.n_state;
    for (size_t i = 0; i < n; i++) {
        char name[120];
        emb_line_state_name(&b.line, i, name, sizeof name);
        if (strstr(name, "biuret") == NULL && strstr(name, "scr, cell 3: coverage") == NULL) {
            continue;
        }
        const double much = 1e3 * b.scale[i];
        b.y[i] = 0.0;
        assert_int_equal(emb_line_march(&b.line, &b.at, b.y, b.f1, NULL), 0);
        b.y[i] = much;
        assert_int_equal(emb_line_march(&b.line, &b.at, b.y, b.f2, NULL), 0);
        b.y[i] = -much;
        assert_int_equal(emb_line_march(&b.line, &b.at, b.y, b.b, NULL), 0);
        assert_true(b.b[i] > b.f1[i]);
        assert_close(b.b[i], 2.0 * b.f1[i] - b.f2[i], 1e-9, 0.0);
        found++;
    }
    assert_int_equal(found, 2);
    release(&b);
    emb_case_free(c);
    free(c);
}

/* An overshoot past full lets go, however far it went: nothing more is taken up. */
static void a_store_lets_go_past_full(void **state)
{
    struct bench b = {0};
    size_t found = 0;
    prepare(&b, *state);
    for (size_t i = 0; i < b.line.n_state; i++) {
        char name[120];
        emb_line_state_name(&b.line, i, name, sizeof name);
        if (strstr(name, "coverage") == NULL) {
            continue;
        }
        const double keep = b.y[i];
        for (double theta = 1.01; theta < 1e3; theta *= 3.0) {
            b.y[i] = theta;
            assert_int_equal(emb_line_march(&b.line, &b.at, b.y, b.f1, NULL), 0);
            assert_true(b.f1[i] < 0.0);
        }
        b.y[i] = keep;
        found++;
    }
    assert_true(found > 0);
    release(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(solve_undoes_the_matrix),
        cmocka_unit_test(singular_is_told),
        cmocka_unit_test(derivatives_agree_with_differences),
        cmocka_unit_test(one_link_learns_as_broyden),
        cmocka_unit_test(a_line_learns_its_own_way),
        cmocka_unit_test(told_cells_are_off_in_second_order),
        cmocka_unit_test(a_store_heals_from_below_empty),
        cmocka_unit_test(a_store_lets_go_past_full),
    };
    return cmocka_run_group_tests(tests, demo_case_load, demo_case_unload);
}
