/* signals.h - Ctrl-C and kind kills as a flag, without a handler and its global: the signals are
 * blocked in all threads, and one thread waits for them. */
#ifndef EMB_SIGNALS_H
#define EMB_SIGNALS_H
#include <pthread.h>
#include <stdatomic.h>
struct emb_signals {
    atomic_bool stop; /* a signal has come */
    atomic_bool end;  /* nobody listens any more */
    pthread_t thread;
    int running;
};
void emb_signals_begin(struct emb_signals *s); /* before any other thread is started */
void emb_signals_end(struct emb_signals *s);
#endif
