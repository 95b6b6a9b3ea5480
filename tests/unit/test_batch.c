/* The same cases on one and on three threads, bit for bit; failures, stopping, giving up. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "emberpipe/batch.h"
#include "emberpipe/config.h"
#include "emberpipe/measure.h"
#include "emberpipe/vary.h"

enum { N = 8 };
struct job {
    struct emb_case base;
    struct emb_place ambient;
    struct emb_measure peak;
    double value[N];
    enum emb_status status[N];
    size_t taken, end_after;
    atomic_bool stop;
};

static int job_new(void **state)
{
    static const char *const sets[] = {"duty.phases[0].for=40 s", "duty.phases[1].for=20 s"};
    struct job *j = calloc(1, sizeof *j);
    struct emb_err err = {EMB_OK, "", ""};
    *state = j;
    if (j == NULL ||
        emb_config_load("configs/quickstart.yaml", sets, 2, &j->base, NULL, &err) != EMB_OK ||
        emb_place_find(&j->base, "ambient.temperature", &j->ambient, &err) != EMB_OK ||
        emb_measure_parse("doc.mean_temperature.end", &j->peak, &err) != EMB_OK) {
        return -1;
    }
    return 0;
}

static int job_free(void **state)
{
    struct job *j = *state;
    emb_case_free(&j->base);
    free(j);
    return 0;
}

/* Case 5 asks for air that is too hot to be allowed. */
static enum emb_status make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct job *j = user;
    enum emb_status st = emb_case_copy(&j->base, out, err);
    if (st == EMB_OK) {
        st = emb_place_set(out, &j->ambient, i == 5 ? 900.0 : 260.0 + 5.0 * (double)i, err);
        if (st != EMB_OK) {
            emb_case_free(out);
        }
    }
    return st;
}

static enum emb_status take(size_t i, enum emb_status status, const struct emb_err *why,
                            const struct emb_result *r, void *user)
{
    struct job *j = user;
    j->value[i] = emb_measure_value(&j->peak, r);
    j->status[i] = status;
    j->taken++;
    assert_true(status == EMB_OK || why->msg[0] != '\0');
    if (j->end_after > 0 && j->taken == j->end_after) {
        return EMB_ERR_IO;
    }
    return EMB_OK;
}

static void threads_do_not_matter(void **state)
{
    struct job *j = *state;
    double one[N];
    for (int threads = 1; threads <= 3; threads += 2) {
        const struct emb_batch b = {
            .threads = threads, .n = N, .make = make, .take = take, .user = j};
        struct emb_err err = {EMB_OK, "", ""};
        j->taken = 0;
        assert_int_equal(emb_batch_run(&b, &err), EMB_OK);
        assert_int_equal(j->taken, N);
        if (threads == 1) {
            memcpy(one, j->value, sizeof one);
        }
        assert_memory_equal(one, j->value, sizeof one);
    }
    assert_int_equal(j->status[5], EMB_ERR_CONFIG);
    assert_true(isnan(j->value[5]) && j->status[4] == EMB_OK);
    assert_true(one[0] < one[7]); /* colder air, colder catalyst */
}

static void take_ends_the_batch(void **state)
{
    struct job *j = *state;
    const struct emb_batch b = {.threads = 2, .n = N, .make = make, .take = take, .user = j};
    struct emb_err err = {EMB_OK, "", ""};
    j->taken = 0;
    j->end_after = 2;
    assert_int_equal(emb_batch_run(&b, &err), EMB_ERR_IO);
    assert_true(j->taken < N && err.msg[0] != '\0');
}

static void stop_from_outside(void **state)
{
    struct job *j = *state;
    const struct emb_batch b = {
        .threads = 2, .n = N, .make = make, .take = take, .user = j, .stop = &j->stop};
    struct emb_err err = {EMB_OK, "", ""};
    atomic_store(&j->stop, true);
    j->taken = 0;
    assert_int_equal(emb_batch_run(&b, &err), EMB_OK);
    assert_int_equal(j->taken, 0);
}

static enum emb_status take_given_up(size_t i, enum emb_status status, const struct emb_err *why,
                                     const struct emb_result *r, void *user)
{
    struct job *j = user;
    (void)i;
    j->taken++;
    assert_int_equal(status, EMB_ERR_SOLVER);
    assert_non_null(strstr(why->msg, "given up"));
    assert_false(r->complete);
    return EMB_OK;
}

static void a_case_that_hangs_is_given_up(void **state)
{
    struct job *j = *state;
    const struct emb_batch b = {.threads = 2, .n = 3, .make = make, .take = take_given_up,
                                .user = j, .max_steps = 3};
    struct emb_err err = {EMB_OK, "", ""};
    j->taken = 0;
    assert_int_equal(emb_batch_run(&b, &err), EMB_OK);
    assert_int_equal(j->taken, 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(threads_do_not_matter, job_new, job_free),
        cmocka_unit_test_setup_teardown(take_ends_the_batch, job_new, job_free),
        cmocka_unit_test_setup_teardown(stop_from_outside, job_new, job_free),
        cmocka_unit_test_setup_teardown(a_case_that_hangs_is_given_up, job_new, job_free),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
