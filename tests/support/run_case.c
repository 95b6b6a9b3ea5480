#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "emberpipe/config.h"
#include "emberpipe/run.h"
#include "run_case.h"

/* False: `words` says why. */
static bool load(const char *file, const char *const *sets, size_t n_set, struct emb_case *c,
                 char *words, size_t size)
{
    struct emb_err err = {EMB_OK, "", ""};
    struct emb_problems problems = {0, NULL};
    const enum emb_status st = emb_config_load(file, sets, n_set, c, &problems, &err);
    emb_problems_free(&problems);
    snprintf(words, size, "%s: %s", err.where, err.msg);
    return st == EMB_OK;
}

static struct emb_result run(struct emb_case *c)
{
    struct emb_result r;
    struct emb_err err = {EMB_OK, "", ""};
    memset(&r, 0, sizeof r);
    if (emb_run(c, NULL, &r, &err) != EMB_OK) {
        fail_msg("%s: %s", err.where, err.msg);
    }
    emb_case_free(c);
    assert_true(r.complete);
    return r;
}

struct emb_result run_file(const char *file, const char *const *sets, size_t n_set)
{
    struct emb_case c;
    char words[700];
    if (!load(file, sets, n_set, &c, words, sizeof words)) {
        fail_msg("%s", words);
    }
    return run(&c);
}

struct emb_result run_text(const char *yaml)
{
    struct emb_case c;
    char words[700], file[] = "test_run-XXXXXX"; /* here: paths inside are as seen from here */
    const int fd = mkstemp(file);
    assert_true(fd >= 0);
    const size_t n = strlen(yaml);
    assert_true(write(fd, yaml, n) == (ssize_t)n);
    assert_int_equal(close(fd), 0);
    const bool good = load(file, NULL, 0, &c, words, sizeof words);
    assert_int_equal(unlink(file), 0); /* before any failure jumps away */
    if (!good) {
        fail_msg("%s", words);
    }
    return run(&c);
}

static size_t column_of(const struct emb_result *r, const char *column)
{
    const int k = emb_result_find(r, column);
    if (k < 0 || r->n_row == 0) {
        fail_msg("no column '%s'", column);
    }
    return (size_t)k;
}

double column_at(const struct emb_result *r, const char *column, double t)
{
    const size_t k = column_of(r, column);
    size_t i = 1;
    while (i + 1 < r->n_row && r->row[i * r->n_column] < t) {
        i++;
    }
    const double *a = r->row + (i - 1) * r->n_column, *b = a + r->n_column;
    return a[k] + (t - a[0]) / (b[0] - a[0]) * (b[k] - a[k]);
}

double last_of(const struct emb_result *r, const char *column)
{
    const size_t k = column_of(r, column);
    return r->row[(r->n_row - 1) * r->n_column + k];
}
