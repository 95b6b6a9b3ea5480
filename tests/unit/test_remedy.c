/* Remedies and balances: what is found is run again from a file, and the slow sums are held against
 * closed forms and longer runs. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

#include "assert_close.h"
#include "emberpipe/balance.h"
#include "emberpipe/config.h"
#include "emberpipe/edit.h"
#include "emberpipe/remedy.h"
#include "emberpipe/run.h"

static const char small[] = "tests/support/small.yaml";

/* Does the target come true when the overrides are written into a copy of the file? */
static bool file_reaches(const struct emb_remedy *m, double share, const char *target)
{
    char file[] = "/tmp/emberpipe-remedy-XXXXXX", *text = NULL;
    struct emb_err err = {EMB_OK, "", ""};
    struct emb_case c;
    struct emb_result r;
    bool reached = false;
    const int fd = mkstemp(file);
    assert_true(fd >= 0);
    assert_int_equal(emb_edit_read(small, &text, &err), EMB_OK);
    for (size_t i = 0; i < m->n_set; i++) {
        char path[120], value[120];
        const char *equals = strchr(m->set[i], '=');
        snprintf(path, sizeof path, "%.*s", (int)(equals - m->set[i]), m->set[i]);
        snprintf(value, sizeof value, "%s", equals + 1);
        if (share < 1.0) { /* of the delivery, which was 40 % */
            snprintf(value, sizeof value, "%.6g %%",
                     40.0 + (strtod(equals + 1, NULL) - 40.0) * share);
        }
        assert_int_equal(emb_edit_set(&text, path, value, &err), EMB_OK);
    }
    assert_int_equal(write(fd, text, strlen(text)), (int)strlen(text));
    close(fd);
    assert_int_equal(emb_config_load(file, NULL, 0, &c, NULL, &err), EMB_OK);
    assert_int_equal(emb_run(&c, NULL, &r, &err), EMB_OK);
    for (size_t i = 0; i < r.n_verdict; i++) {
        reached = reached || (strcmp(r.verdict[i].name, target) == 0 && r.verdict[i].reached);
    }
    emb_result_free(&r);
    emb_case_free(&c);
    free(text);
    unlink(file);
    return reached;
}

static const struct emb_remedy *named(const struct emb_remedies *t, const char *part)
{
    for (size_t i = 0; i < t->n; i++) {
        if (strstr(t->item[i].what, part) != NULL) {
            return &t->item[i];
        }
    }
    return NULL;
}

/* The change that was found reaches the target from a file; 5 % less of it does not. What is said
 * not to help is run too. */
static void remedy_holds(void **state)
{
    struct emb_remedy_report r;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_remedy_find(small, NULL, 0, NULL, NULL, NULL, &r, &err), EMB_OK);
    assert_int_equal(r.n_reached, 1); /* face warm */
    assert_int_equal(r.n, 1);
    const struct emb_remedies *t = &r.target[0];
    assert_string_equal(t->target, "hot enough");
    const struct emb_remedy *m = named(t, "delivery"), *no = named(t, "wrap");
    assert_non_null(m);
    assert_true(m->works && m->share > 0.05 && m->share < 0.95);
    assert_true(file_reaches(m, 1.0, "hot enough"));
    assert_false(file_reaches(m, 0.95, "hot enough"));
    assert_non_null(no);
    assert_true(!no->works &&
                no->effect.verdict.best > t->now.verdict.best); /* it helps a little */
    assert_false(file_reaches(no, 1.0, "hot enough"));
    assert_null(named(t, "idle"));      /* there is no engine */
    for (size_t i = 1; i < t->n; i++) { /* those that work stand first */
        assert_true(t->item[i - 1].works || !t->item[i].works);
    }
    emb_remedy_free(&r);
}

/* A time that is too short: the time told is enough and a minute less is not. */
static void remedy_time(void **state)
{
    const char *sets[] = {"duty.phases.regenerate.for=2 min", "line.injector.delivery=100 %"};
    struct emb_remedy_report r;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_remedy_find(small, sets, 2, "hot enough", NULL, NULL, &r, &err), EMB_OK);
    assert_int_equal(r.n, 1);
    const struct emb_remedy *m = named(&r.target[0], "more time");
    assert_non_null(m);
    assert_true(m->works);
    double minutes = 0.0;
    for (size_t i = 0; i < m->n_set; i++) {
        const char *key = "duty.phases[0].for=";
        if (strncmp(m->set[i], key, strlen(key)) == 0) {
            minutes = strtod(m->set[i] + strlen(key), NULL);
        }
    }
    assert_true(m->effect.verdict.t_reached <= 60.0 * minutes);
    assert_true(m->effect.verdict.t_reached > 60.0 * (minutes - 1.1));
    emb_remedy_free(&r);
}

/* Neither alone, but both: a face that is closed and a doser that is tired. */
static void remedy_pair(void **state)
{
    const char *sets[] = {"line.injector.delivery=60 %", "targets.hot enough.above=605 degC",
                          "stream.flow=0.1 kg/s", "line.doc.activity=0.2 %"};
    struct emb_remedy_report r;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_remedy_find(small, sets, 4, "hot enough", NULL, NULL, &r, &err), EMB_OK);
    assert_int_equal(r.n, 1);
    const struct emb_remedies *t = &r.target[0];
    for (size_t i = 0; i < t->n; i++) {
        assert_false(t->item[i].works);
    }
    assert_true(t->n_pair > 0);
    for (size_t i = 0; i < t->n_pair && t->pair[i].works; i++) {
        assert_true(t->pair[i].effect.verdict.reached && t->pair[i].n_set >= 2);
    }
    emb_remedy_free(&r);
}

static void remedy_refuses(void **state)
{
    struct emb_remedy_report r;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_remedy_find(small, NULL, 0, "no such", NULL, NULL, &r, &err),
                     EMB_ERR_USAGE);
}

/* dS/dt = a - b S: time = ln((a - b S0) / (a - b S1)) / b, soot = a/b + (S0 - a/b) exp(-b t). */
static void balance_linear(void **state)
{
    const double a = 3e-6, b = 2e-6, s[3] = {0.2, 0.55, 0.9};
    struct emb_balance_node n[3];
    double level;
    (void)state;
    for (int i = 0; i < 3; i++) {
        n[i] = (struct emb_balance_node){s[i], a - b * s[i], 0.0};
    }
    assert_close(emb_balance_time(n, 0.2, 1.0, &level), log((a - b * 0.2) / (a - b * 1.0)) / b,
                 1e-9, 0);
    assert_true(isnan(level));
    assert_close(emb_balance_after(n, 0.2, 2e5), 1.5 + (0.2 - 1.5) * exp(-b * 2e5), 1e-9, 0);
    assert_true(isinf(emb_balance_time(n, 0.2, 1.6, &level))); /* levels off before */
    assert_close(level, a / b, 1e-6, 0);
    assert_true(isinf(emb_balance_time(n, 1.7, 2.0, &level))); /* falls from there */
    assert_close(level, a / b, 1e-6, 0);
}

/* The soot that a cool stream carries stays: hours to the limit are a division. */
static void balance_cold(void **state)
{
    const char *sets[] = {"stream.temperature=150 degC", "duty.phases.regenerate.regenerate=no",
                          "duty.phases.regenerate.for=1 h"};
    const struct emb_balance_ask ask = {1.0, 0.3, 0.0, false};
    struct emb_balance b;
    struct emb_case c;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_config_load(small, sets, 3, &c, NULL, &err), EMB_OK);
    assert_int_equal(emb_balance_find(&c, &ask, &b, &err), EMB_OK);
    const struct emb_filter_cfg *f = &c.line[3].u.filter;
    const double volume =
        0.25 * 3.14159265358979 * f->body.diameter * f->body.diameter * f->body.length; /* [m3] */
    assert_close(b.reach, 3.0 * volume / c.stream.soot, 0.02,
                 0); /* 3 g/L to go; NO2 burns little */
    assert_true(b.error < 0.01);
    emb_case_free(&c);
}

/* The heaviest of the three loads does not fit the channels and is refused: the answer stands on the
 * others, and what is missing is told. */
static void balance_lost(void **state)
{
    const char *sets[] = {"stream.temperature=150 degC", "duty.phases.regenerate.regenerate=no",
                          "duty.phases.regenerate.for=1 h", "limits=stop",
                          "line.dpf.filter.soot_density=27 kg/m3"};
    const struct emb_balance_ask ask = {1.0, 0.3, 0.0, false};
    struct emb_balance b;
    struct emb_case c;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_config_load(small, sets, 5, &c, NULL, &err), EMB_OK);
    assert_int_equal(emb_balance_find(&c, &ask, &b, &err), EMB_OK);
    assert_true(b.lost >= 1);
    const struct emb_filter_cfg *f = &c.line[3].u.filter;
    const double volume =
        0.25 * 3.14159265358979 * f->body.diameter * f->body.diameter * f->body.length; /* [m3] */
    assert_close(b.reach, 3.0 * volume / c.stream.soot, 0.02, 0);
    emb_case_free(&c);
}

static void balance_refuses(void **state)
{
    const struct emb_balance_ask ask = {0.4, 0.3, 0.0, false}, drive = {1.0, 0.3, 600.0, false};
    struct emb_balance b;
    struct emb_case c;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_config_load(small, NULL, 0, &c, NULL, &err), EMB_OK);
    assert_int_equal(emb_balance_find(&c, &ask, &b, &err), EMB_ERR_USAGE); /* 50 % is there */
    err = (struct emb_err){EMB_OK, "", ""};
    assert_int_equal(emb_balance_find(&c, &drive, &b, &err), EMB_ERR_USAGE); /* no engine */
    emb_case_free(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(remedy_holds),   cmocka_unit_test(remedy_time),
        cmocka_unit_test(remedy_pair),    cmocka_unit_test(remedy_refuses),
        cmocka_unit_test(balance_linear), cmocka_unit_test(balance_cold),
        cmocka_unit_test(balance_lost),
        cmocka_unit_test(balance_refuses)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
