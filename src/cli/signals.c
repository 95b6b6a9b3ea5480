#include "signals.h"

#include <signal.h>
#include <stdbool.h>
#include <time.h>

static void signals_set(sigset_t *set)
{
    sigemptyset(set);
    sigaddset(set, SIGINT);
    sigaddset(set, SIGTERM);
    sigaddset(set, SIGHUP);
}

/* The second signal ends the program at once, as without us. */
static void *wait_for_them(void *user)
{
    struct emb_signals *s = user;
    const struct timespec tick = {0, 100000000}; /* 0.1 s */
    sigset_t set;
    signals_set(&set);
    while (!atomic_load(&s->end)) {
        const int got = sigtimedwait(&set, NULL, &tick);
        if (got > 0 && atomic_exchange(&s->stop, true)) {
            signal(got, SIG_DFL);
            pthread_sigmask(SIG_UNBLOCK, &set, NULL);
            raise(got);
        }
    }
    return NULL;
}

void emb_signals_begin(struct emb_signals *s)
{
    sigset_t set;
    signals_set(&set);
    atomic_store(&s->stop, false);
    atomic_store(&s->end, false);
    pthread_sigmask(SIG_BLOCK, &set, NULL);
    s->running = pthread_create(&s->thread, NULL, wait_for_them, s) == 0;
    if (!s->running) {
        pthread_sigmask(SIG_UNBLOCK, &set, NULL);
    }
}

void emb_signals_end(struct emb_signals *s)
{
    if (s->running) {
        atomic_store(&s->end, true);
        pthread_join(s->thread, NULL);
    }
}
