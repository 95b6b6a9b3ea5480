/* Whole runs: books that close, the demonstrations' verdicts, and limits known without a model. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "assert_close.h"
#include "emberpipe/config.h"
#include "emberpipe/run.h"
#include "run_case.h"

/* Worst book over its limit, so that one failure does not hide another; limits [-]. */
static bool books_close(const char *what, const struct emb_result *r, double limit, double hydrogen)
{
    bool good = r->n_book == 6;
    for (size_t i = 0; i < r->n_book; i++) {
        const struct emb_book *b = &r->book[i];
        const double allowed = strcmp(b->name, "hydrogen") == 0 ? hydrogen : limit; /* [-] */
        if (!(fabs(b->relative) <= allowed)) {
            print_error("%s: %s is open by %.3g, allowed %.3g\n", what, b->name, b->relative,
                        allowed);
            good = false;
        }
    }
    return good;
}

static double total_of(const struct emb_result *r, const char *name) /* [its own unit] */
{
    for (size_t i = 0; i < r->n_total; i++) {
        if (strcmp(r->total[i].name, name) == 0) {
            return r->total[i].value;
        }
    }
    fail_msg("no total '%s'", name);
    return NAN;
}

static void test_books(void **state)
{
    (void)state;
    static const char *const demos[] = {"parked-regeneration", "dosing-far-downstream",
                                        "weak-heat",           "front-blocked",
                                        "cold-soak",           "highway",
                                        "idle-all-day",        "stop-and-go",
                                        "light-off"};
    bool good = true;
    for (size_t i = 0; i < sizeof demos / sizeof *demos; i++) {
        char file[100];
        snprintf(file, sizeof file, "configs/%s.yaml", demos[i]);
        struct emb_result r = run_file(file, NULL, 0);
        /* In the cold soak water films form and dry up in every part: hydrogen is mostly that
         * water, and a film that vanishes costs the integrator more than its tolerance. */
        const bool films = strcmp(demos[i], "cold-soak") == 0;
        good = books_close(demos[i], &r, 1e-6, films ? 5e-6 : 1e-6) && good;
        emb_result_free(&r);
    }
    assert_true(good);
}

static void test_place_of_the_doser(void **state)
{
    (void)state;
    struct emb_case a, b;
    struct emb_problems p = {0, NULL};
    assert_int_equal(
        emb_config_load("configs/parked-regeneration.yaml", NULL, 0, &a, &p, NULL), EMB_OK);
    emb_problems_free(&p);
    p = (struct emb_problems){0, NULL};
    assert_int_equal(
        emb_config_load("configs/dosing-far-downstream.yaml", NULL, 0, &b, &p, NULL), EMB_OK);
    emb_problems_free(&p);
    assert_int_equal(a.n_line, b.n_line);
    size_t k = 0;
    for (size_t i = 0; i < a.n_line; i++) { /* the same parts in the same order but for the doser */
        const int j = emb_case_find(&b, a.line[i].name);
        assert_true(j >= 0);
        assert_int_equal(a.line[i].kind, b.line[j].kind);
        assert_memory_equal(&a.line[i].u, &b.line[j].u, sizeof a.line[i].u);
        if (a.line[i].kind != EMB_DOSER) {
            k += b.line[k].kind == EMB_DOSER;
            assert_string_equal(a.line[i].name, b.line[k++].name);
        }
    }
    assert_true(emb_case_find(&a, "injector") < emb_case_find(&a, "scr"));
    assert_true(emb_case_find(&b, "injector") > emb_case_find(&b, "scr"));
    emb_case_free(&a);
    emb_case_free(&b);
}

static void test_dosing_verdicts(void **state)
{
    (void)state;
    struct emb_result r = run_file("configs/parked-regeneration.yaml", NULL, 0);
    assert_true(r.verdict[0].reached);
    emb_result_free(&r);
    r = run_file("configs/dosing-far-downstream.yaml", NULL, 0);
    assert_false(r.verdict[0].reached);
    assert_true(r.verdict[0].best < 400.0 + 273.15);
    assert_true(total_of(&r, "dosed_fuel") > 0.0);
    emb_result_free(&r);
    r = run_file("configs/weak-heat.yaml", NULL, 0);
    assert_true(total_of(&r, "dosed_fuel") == 0.0);
    emb_result_free(&r);
}

static void test_nothing_happens(void **state)
{
    (void)state;
    struct emb_result r = run_text(
        "title: all at one temperature\n"
        "ambient: {temperature: 20 degC}\n"
        "stream: {flow: 0.1 kg/s, temperature: 20 degC, o2: 21 %, co2: 0, h2o: 0}\n"
        "line:\n"
        "  - name: pipe\n    pipe: {length: 1 m}\n"
        "  - name: brick\n    oxidation_catalyst: {kinetics: none}\n"
        "  - name: sensor\n    sensor: {}\n"
        "duty:\n  phases:\n    - {for: 20 min}\n");
    size_t seen = 0;
    for (size_t k = 0; k < r.n_column; k++) {
        for (size_t i = 0; strcmp(r.column[k].unit, "K") == 0 && i < r.n_row; i++) {
            assert_close(r.row[i * r.n_column + k], 293.15, 0.0, 1e-3);
            seen++;
        }
    }
    assert_true(seen > 0);
    assert_true(books_close("all at one temperature", &r, 1e-6, 1e-6));
    emb_result_free(&r);
}

static void test_warmer_air_warmer_brick(void **state)
{
    (void)state;
    static const char *const air[] = {
        "ambient.temperature=-20 degC", "ambient.temperature=0 degC", "ambient.temperature=20 degC",
        "ambient.temperature=40 degC"};
    double before = 0.0; /* [K] */
    for (size_t i = 0; i < sizeof air / sizeof *air; i++) {
        struct emb_result r = run_file("configs/weak-heat.yaml", &air[i], 1);
        const double T = last_of(&r, "scr.mean_temperature"); /* [K] */
        assert_true(T > before + 1.0);
        before = T;
        emb_result_free(&r);
    }
}

/* Times to the targets against the run as configured; limit [-]. */
static bool times_stay(const char *what, const char *const *sets, size_t n, double limit)
{
    bool good = true;
    struct emb_result a = run_file("configs/parked-regeneration.yaml", NULL, 0);
    struct emb_result b = run_file("configs/parked-regeneration.yaml", sets, n);
    for (size_t i = 0; i < a.n_verdict; i++) {
        const double ta = a.verdict[i].t_reached, tb = b.verdict[i].t_reached; /* [s] */
        print_message("%s: '%s' %.2f s -> %.2f s (%+.3f %%)\n", what, a.verdict[i].name, ta, tb,
                      100.0 * (tb - ta) / ta);
        good = good && a.verdict[i].reached == b.verdict[i].reached &&
               (!a.verdict[i].reached || fabs(tb - ta) < limit * ta);
    }
    emb_result_free(&a);
    emb_result_free(&b);
    return good;
}

static void test_tolerances(void **state)
{
    (void)state;
    static const char *const sets[] = {"solver.rtol=1e-8", "solver.temperature_atol=1e-5 K"};
    assert_true(times_stay("100 times tighter", sets, 2, 0.02));
}

static void test_cells(void **state)
{
    (void)state;
    static const char *const sets[] = {"line.doc.cells=20", "line.scr.cells=20",
                                       "line.doc2.cells=20", "line.dpf.cells=20"};
    assert_true(times_stay("20 cells for 10", sets, 4, 0.02));
}

/* Of what passes a leak, its share goes: heat, elements and soot, and all books know. */
static void test_leak(void **state)
{
    (void)state;
    struct emb_result r = run_text("title: leak\nengine: {}\nline:\n"
                                   "  - name: pipe\n    pipe: {length: 1 m, diameter: 100 mm}\n"
                                   "  - name: crack\n    leak: {share: 10 %}\n"
                                   "  - name: dpf\n    filter: {}\n"
                                   "duty:\n  phases:\n    - {name: idle, for: 10 min}\n"
                                   "solver: {rtol: 1e-7, temperature_atol: 1e-4 K}\n");
    assert_true(books_close("a leak", &r, 1e-6, 1e-6));
    assert_close(total_of(&r, "soot_leaked"), 0.1 * total_of(&r, "soot_in"), 1e-9, 0.0);
    emb_result_free(&r);
}

static struct emb_result run_cycle(const char *kind, const char *file, const char *solver)
{
    char yaml[1500];
    snprintf(yaml, sizeof yaml,
             "title: cycle\nengine: {}\nline:\n  - name: turbine\n    turbine: {}\n"
             "  - name: doc\n    oxidation_catalyst: {}\n  - name: dpf\n    filter: {}\n"
             "  - name: def\n    def_doser: {}\n"
             "  - name: scr\n    reduction_catalyst: {kinetics: copper_zeolite}\n"
             "output: {interval: 10 s}\nsolver: {%s}\n"
             "duty:\n  phases:\n    - {name: cycle, %s: '%s'}\n",
             solver, kind, file);
    return run_text(yaml);
}

/* Root mean square difference of a series [its unit]. */
static double apart(const struct emb_result *a, const struct emb_result *b, const char *column)
{
    const int k = emb_result_find(a, column);
    double sum = 0.0;
    assert_int_equal(a->n_row, b->n_row);
    for (size_t i = 0; i < a->n_row; i++) {
        const double d = a->row[i * a->n_column + (size_t)k] - b->row[i * b->n_column + (size_t)k];
        sum += d * d;
    }
    return sqrt(sum / (double)a->n_row);
}

/* Row by row, as cycles are run unless told otherwise, and along every bend: what README says of the
 * one against the other, and the books of both. */
static void test_real_cycles(void **state)
{
    (void)state;
    static const char *const cycles[][2] = {
        {"road_cycle", "../shared/data/day_cycles/EPA_Ph2_transient.csv"},
        {"engine_cycle", "../shared/data/whtc/WHTC_normalised.csv"}};
    bool good = true;
    for (size_t i = 0; i < 2; i++) {
        if (access(cycles[i][1], R_OK) != 0) {
            print_message("%s: no data here, skipped\n", cycles[i][0]);
            continue;
        }
        /* at 1e-6 the bends of 1 Hz data leave some 1e-5 of the energy open; a run says so */
        struct emb_result bends = run_cycle(cycles[i][0], cycles[i][1], "method: bdf, rtol: 1e-7");
        struct emb_result rows = run_cycle(cycles[i][0], cycles[i][1], "rtol: 1e-6");
        good = books_close(cycles[i][0], &bends, 5e-6, 5e-6) && good;
        good = books_close("row by row", &rows, 1e-4, 1e-7) && good;
        assert_int_equal(rows.method, EMB_METHOD_TRAPEZOID);
        assert_true(2 * rows.counters.rhs < bends.counters.rhs);
        const double face = apart(&rows, &bends, "doc.face_temperature"),
                     scr = apart(&rows, &bends, "scr.mean_temperature"); /* [K] */
        print_message("%s: %.2f K at the face, %.2f K in the last brick\n", cycles[i][0], face, scr);
        good = face < 4.0 && scr < 3.0 && good;
        emb_result_free(&bends);
        emb_result_free(&rows);
    }
    assert_true(good);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_books),           cmocka_unit_test(test_place_of_the_doser),
        cmocka_unit_test(test_dosing_verdicts), cmocka_unit_test(test_nothing_happens),
        cmocka_unit_test(test_warmer_air_warmer_brick), cmocka_unit_test(test_tolerances),
        cmocka_unit_test(test_cells),           cmocka_unit_test(test_leak), cmocka_unit_test(test_real_cycles)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
