/* How long a stretch may be follows from two errors: that of the line laid out against the commands
 * seen ahead, and, once it is over, against those that the law then gave. */
#include "emberpipe/stretch.h"

#include <math.h>

enum { MOST = 64 };              /* samples: judgement */
static const double tame = 0.25; /* [-] of the bound: an error, which grows with the square of the
                                  * length, is fit for twice the samples */

double emb_stretch_at(double from, double to, double share)
{
    return to + (share - 1.0) * (to - from); /* at 1 exactly what was seen */
}

void emb_stretch_begin(struct emb_stretch *x, double t)
{
    *x = (struct emb_stretch){.t0 = t, .t1 = t};
}

double emb_stretch_value(const struct emb_stretch *x, double t)
{
    const double span = x->t1 - x->t0, /* [s] */
        f = span > 0.0 ? fmin(fmax((t - x->t0) / span, 0.0), 1.0) : 1.0;
    return x->a + f * (x->b - x->a);
}

void emb_stretch_break(struct emb_stretch *x)
{
    x->n = 0;
}

void emb_stretch_shorten(struct emb_stretch *x, double t)
{
    const double interval = (x->t1 - x->t0) / x->n; /* [s] */
    const double n = fmax(ceil((t - x->t0) / interval - 1e-9), 1.0);
    if (n < x->n) {
        const double t1 = x->t0 + n * interval; /* [s] */
        x->b = emb_stretch_value(x, t1);
        x->t1 = t1;
        x->n = (int)n;
    }
}

/* How far a command, to be reached k samples after the start, is from a line of n of them. */
static double off_line(double command, double a, double b, int k, int n)
{
    return fabs(command - (a + (b - a) * k / n));
}

void emb_stretch_close(struct emb_stretch *x, const struct emb_sampled_law *law)
{
    double off = 0.0; /* [unit of the command] */
    bool decides = false;
    for (int k = 1; k < x->n && !decides; k++) {
        const double command = law->sample(law->state, (double)k / x->n, &decides);
        off = fmax(off, off_line(command, x->a, x->b, k + 1, x->n));
    }
    x->command = law->sample(law->state, 1.0, &decides);
    x->most = decides || off > law->bound ? 1 : off > tame * law->bound ? x->n : 2 * x->n;
}

/* Fills in what the law will command, for up to twice n samples; how many of the n may be taken
 * with no decision in sight for twice as long? */
static int run_ahead(const struct emb_stretch *x, const struct emb_sampled_law *law, int n,
                     double *command)
{
    const double share = law->interval / (x->t1 - x->t0); /* [-] of a sample */
    bool decides = false;
    int seen = 1; /* the newest command is known */
    command[0] = x->command;
    while (seen < 2 * n) {
        command[seen] = law->sample(law->state, 1.0 + seen * share, &decides);
        if (decides) {
            break;
        }
        seen++;
    }
    return seen > 1 ? seen / 2 : 1;
}

static bool straight(double a, const double *command, int n, double bound)
{
    double off = 0.0; /* [unit of the command] */
    for (int k = 1; k < n; k++) {
        off = fmax(off, off_line(command[k - 1], a, command[n - 1], k, n));
    }
    return off <= bound;
}

void emb_stretch_open(struct emb_stretch *x, double until, const struct emb_sampled_law *law)
{
    const double room = ceil((until - x->t1) / law->interval - 1e-9) - 1.0; /* samples */
    const double most = fmin(fmin(x->most, MOST), law->longest / law->interval);
    double command[2 * MOST] = {x->command}; /* [unit of the command] */
    int n = (int)fmax(fmin(most, room), 1.0);
    if (n > 1) {
        n = run_ahead(x, law, n, command);
    }
    while (n > 1 && !straight(x->b, command, n, law->bound)) {
        n /= 2;
    }
    x->a = x->b;
    x->b = command[n - 1];
    x->t0 = x->t1;
    x->t1 = x->t0 + n * law->interval;
    x->n = n;
}
