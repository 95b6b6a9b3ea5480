/* batch.c - a handful of threads that fetch numbers, make cases, run them and hand results over. */
#define _GNU_SOURCE /* sched_getaffinity: cores of this process, not of the machine */
#include "emberpipe/batch.h"

#include <pthread.h>
#include <sched.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/run.h"

struct shared {
    const struct emb_batch *b;
    pthread_mutex_t fetch, hand_over; /* order: never both */
    size_t next;                      /* under fetch */
    struct emb_err failed;            /* under hand_over */
    atomic_bool end;
};

int emb_batch_cores(void)
{
    cpu_set_t set;
    CPU_ZERO(&set);
    const int n = sched_getaffinity(0, sizeof set, &set) == 0 ? CPU_COUNT(&set) : 1;
    return n < 1 ? 1 : n > EMB_MAX_THREADS ? EMB_MAX_THREADS : n;
}

static bool ended(struct shared *s)
{
    return atomic_load(&s->end) || (s->b->stop != NULL && atomic_load(s->b->stop));
}

struct running { /* one case on one thread */
    struct shared *s;
    long steps;
    bool given_up;
    double t; /* [s] where it was given up */
};

static int step_done(double t, double t_end, void *user)
{
    struct running *r = user;
    const struct emb_batch *b = r->s->b;
    (void)t_end;
    if (b->poll != NULL) {
        b->poll(b->user);
    }
    if (b->max_steps > 0 && ++r->steps > b->max_steps) {
        r->given_up = true;
        r->t = t;
    }
    return r->given_up || ended(r->s);
}

static bool fetch(struct shared *s, size_t *i)
{
    bool any = false;
    pthread_mutex_lock(&s->fetch);
    if (!ended(s)) {
        *i = s->next++;
        any = s->b->next != NULL ? s->b->next(i, s->b->user) : *i < s->b->n;
    }
    pthread_mutex_unlock(&s->fetch);
    return any;
}

static void end_with(struct shared *s, enum emb_status st, const struct emb_err *err)
{
    s->failed = *err;
    if (s->failed.status == EMB_OK) {
        emb_fail(&s->failed, st, "batch", "%s", emb_status_text(st));
    }
    atomic_store(&s->end, true);
}

static void run_one(struct shared *s, size_t i)
{
    struct emb_case c;
    struct emb_result r;
    struct emb_err why = {EMB_OK, "", ""};
    struct running now = {.s = s};
    const struct emb_hooks hooks = {step_done, &now};
    memset(&r, 0, sizeof r);
    enum emb_status st = s->b->make(i, s->b->user, &c, &why);
    if (st == EMB_OK) {
        st = (s->b->verdicts_only ? emb_run_verdicts : emb_run)(&c, &hooks, &r, &why);
        emb_case_free(&c);
    }
    if (st != EMB_OK && now.given_up) {
        why = (struct emb_err){EMB_OK, "", ""}; /* the run only knows that it was cancelled */
        emb_fail(&why, st, "", "given up at t = %g s after max_steps = %ld steps of the integrator", now.t, s->b->max_steps);
    }
    pthread_mutex_lock(&s->hand_over);
    /* a run that failed because it was told to stop is no result, a finished one is */
    if (st == EMB_OK || !ended(s)) {
        const enum emb_status taken = s->b->take(i, st, &why, &r, s->b->user);
        if (taken != EMB_OK && s->failed.status == EMB_OK) {
            const struct emb_err none = {EMB_OK, "", ""};
            end_with(s, taken, &none);
        }
    }
    pthread_mutex_unlock(&s->hand_over);
    emb_result_free(&r);
}

static void *work(void *user)
{
    struct shared *s = user;
    size_t i = 0;
    while (fetch(s, &i)) {
        run_one(s, i);
    }
    return NULL;
}

enum emb_status emb_batch_run(const struct emb_batch *b, struct emb_err *err)
{
    const int want = b->threads > 0 ? b->threads : emb_batch_cores();
    pthread_t thread[EMB_MAX_THREADS];
    struct shared s = {.b = b};
    int n = 0;
    if (want > EMB_MAX_THREADS) {
        return emb_fail(err, EMB_ERR_USAGE, "threads", "%d; at most %d", want,
                        (int)EMB_MAX_THREADS);
    }
    pthread_mutex_init(&s.fetch, NULL);
    pthread_mutex_init(&s.hand_over, NULL);
    /* the calling thread is one of them: with fewer threads than asked for the work still gets done
     */
    while (n < want - 1 && pthread_create(&thread[n], NULL, work, &s) == 0) {
        n++;
    }
    work(&s);
    for (int k = 0; k < n; k++) {
        pthread_join(thread[k], NULL);
    }
    pthread_mutex_destroy(&s.fetch);
    pthread_mutex_destroy(&s.hand_over);
    if (s.failed.status != EMB_OK) {
        return emb_fail(err, s.failed.status, s.failed.where, "%s", s.failed.msg);
    }
    return EMB_OK;
}
