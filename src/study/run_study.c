/* run_study.c - hands the cases that are not done to a batch, and its results to the journal. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "emberpipe/study_run.h"

enum { SYNC_SECONDS = 10, PROBES = 4 };

struct job {
    const struct emb_study *s;
    const struct emb_study_options *o;
    struct emb_journal *journal;
    unsigned char *done; /* a bit a case; under the lock of next */
    size_t at;           /* next number to look at */
    struct emb_record record;
    struct emb_study_progress p;
    double began, synced; /* [s] */
    struct emb_err *err;
};

static double seconds_now(void)
{
    struct timespec ts;
    clock_gettime(CLOCK_MONOTONIC, &ts);
    return (double)ts.tv_sec + 1e-9 * (double)ts.tv_nsec;
}

void emb_study_progress_update(struct emb_study_progress *p, double elapsed)
{
    p->elapsed = elapsed;
    p->left = p->fresh > 0 ? elapsed / (double)p->fresh * (double)(p->n - p->done) : NAN;
}

static bool next(size_t *i, void *user)
{
    struct job *j = user;
    while (j->at < j->s->n && (j->done[j->at / 8] >> j->at % 8 & 1) != 0) {
        j->at++;
    }
    *i = j->at++;
    return *i < j->s->n;
}

static enum emb_status make_case(const struct emb_study *s, size_t i, struct emb_case *out,
                                 struct emb_err *err)
{
    double *values = calloc(s->n_axis + 1, sizeof *values);
    if (values == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "case", "out of memory");
    }
    emb_study_values(s, i, values);
    const enum emb_status st = emb_study_make(s, values, out, err);
    free(values);
    return st;
}

static enum emb_status make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    return make_case(((struct job *)user)->s, i, out, err);
}

static enum emb_status take(size_t i, enum emb_status status, const struct emb_err *why,
                            const struct emb_result *r, void *user)
{
    struct job *j = user;
    const double now = seconds_now();
    emb_record_take(j->s, i, status, why, r, &j->record);
    enum emb_status st = emb_journal_put(j->journal, &j->record, j->err);
    if (st == EMB_OK && now - j->synced > SYNC_SECONDS) {
        st = emb_journal_sync(j->journal, j->err);
        j->synced = now;
    }
    if (st == EMB_OK) {
        const struct emb_journal_info *info = emb_journal_info(j->journal);
        j->p.done = info->done;
        j->p.failed = info->failed;
        j->p.fresh++;
        emb_study_progress_update(&j->p, now - j->began);
        if (j->o->progress != NULL) {
            j->o->progress(&j->p, j->o->user);
        }
    }
    return st;
}

static enum emb_status job_run(struct job *j, struct emb_err *err)
{
    const struct emb_batch b = {.threads = j->o->threads,
                                .next = next,
                                .make = make,
                                .take = take,
                                .user = j,
                                .max_steps = j->s->cfg.max_steps,
                                .stop = j->o->stop};
    enum emb_status st = emb_journal_done(j->journal, &j->done, err);
    if (st != EMB_OK) {
        return st;
    }
    st = emb_record_make(j->s->n_axis, j->s->n_output, j->s->n_trace * j->s->n_time, &j->record,
                         err);
    if (st == EMB_OK) {
        st = emb_batch_run(&b, err);
    }
    emb_record_drop(&j->record);
    free(j->done);
    const enum emb_status synced = emb_journal_sync(j->journal, err);
    return st != EMB_OK ? st : synced;
}

enum emb_status emb_study_run(const struct emb_study *s, const struct emb_study_options *o,
                              struct emb_study_progress *out, struct emb_err *err)
{
    struct job j = {.s = s, .o = o, .began = seconds_now(), .err = err};
    j.synced = j.began;
    if (s->n == 0) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "has design: search and no cases to run; use emberpipe study search");
    }
    enum emb_status st = emb_journal_open(o->journal, s, o->fresh, o->retry, &j.journal, err);
    if (st != EMB_OK) {
        return st;
    }
    j.p.n = s->n;
    j.p.done = emb_journal_info(j.journal)->done;
    j.p.failed = emb_journal_info(j.journal)->failed;
    st = job_run(&j, err);
    emb_study_progress_update(&j.p, seconds_now() - j.began);
    *out = j.p;
    emb_journal_close(j.journal);
    return st;
}

/* ---- estimate ---- */
/* No new case is begun after this: an estimate must not take as long as the study. */
static const double probe_seconds = 8.0; /* [s] judgement */
struct probe {
    const struct emb_study *s;
    struct emb_study_estimate *e;
    size_t n, at; /* cases to try, spread evenly over the study; next one */
    double began; /* [s] */
};

static bool probe_next(size_t *i, void *user)
{
    struct probe *p = user;
    *i = p->at++;
    return *i < p->n && (*i == 0 || seconds_now() - p->began < probe_seconds);
}

static enum emb_status probe_make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct probe *p = user;
    return make_case(p->s, (size_t)((double)p->s->n * (0.5 + (double)i) / (double)p->n), out, err);
}

static enum emb_status probe_take(size_t i, enum emb_status status, const struct emb_err *why,
                                  const struct emb_result *r, void *user)
{
    struct probe *p = user;
    (void)i;
    (void)why;
    p->e->tried++;
    p->e->failed += status != EMB_OK;
    p->e->total_seconds += r->wall_seconds;
    return EMB_OK;
}

enum emb_status emb_study_estimate(const struct emb_study *s, int threads,
                                   struct emb_study_estimate *out, struct emb_err *err)
{
    const int cores = threads > 0 ? threads : emb_batch_cores();
    const size_t n = s->n < PROBES ? s->n : PROBES;
    struct probe p = {s, out, n, 0, seconds_now()};
    const struct emb_batch b = {
        .threads = cores, .next = probe_next, .make = probe_make, .take = probe_take, .user = &p,
        .max_steps = s->cfg.max_steps};
    *out = (struct emb_study_estimate){0};
    if (s->n == 0) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "has design: search and no cases to plan; use emberpipe study search");
    }
    const enum emb_status st = emb_batch_run(&b, err);
    const double cells = (double)(s->n_axis + s->n_output),
                 traces = (double)(s->n_trace * s->n_time);
    out->case_seconds = out->tried > 0 ? out->total_seconds / (double)out->tried : NAN;
    out->total_seconds = out->case_seconds * (double)s->n / (double)cores;
    /* SQLite: 9 bytes a number and some 20 a row; pages are filled to about nine tenths */
    out->journal_bytes = 1.1 * (double)s->n * (20.0 + 9.0 * (cells + 1.0) + 4.0 * traces) + 65536.0;
    out->netcdf_bytes = (double)s->n * (8.0 * cells + 4.0 * traces + 4.0) + 65536.0;
    return st;
}
