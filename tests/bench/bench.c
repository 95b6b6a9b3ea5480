/* bench.c - one case with the waist of the integrator (ode.h) under a stopwatch, and with CVODE's
 * own dense difference Jacobian in place of the chain. The linker's --wrap puts these shells around
 * emb_sim_ode and one setter of CVODE; the library is the one that is shipped.
 *
 *   emb_bench [--dense] [--loose] [--bare] [--set PATH=VALUE]... CASE
 *
 * --dense: dense differences; --loose: CVODE's default Newton tolerance; --bare: no stopwatch
 * inside. Prints one JSON object; all times are processor time. */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "emberpipe/config.h"
#include "emberpipe/run.h"
#include "run/sim.h"

enum { RHS, JACOBIAN, FACTOR, SOLVE, QUAD, ROOTS, N_PART };
enum { MAX_SET = 32 };

struct watch {
    double seconds[N_PART];
    long calls[N_PART];
};

/* A run has no room for a caller's data in its waist, so the shells keep theirs here. */
static struct watch watch;
static struct emb_ode inner;
static bool dense, loose, bare;

void __real_emb_sim_ode(struct emb_sim *s);
void __wrap_emb_sim_ode(struct emb_sim *s);
int __real_CVodeSetNonlinConvCoef(void *cv, double coefficient);
int __wrap_CVodeSetNonlinConvCoef(void *cv, double coefficient);

static double now(void)
{
    struct timespec ts;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &ts);
    return (double)ts.tv_sec + 1e-9 * (double)ts.tv_nsec;
}

static void stop(int part, double begin)
{
    watch.seconds[part] += now() - begin;
    watch.calls[part]++;
}

static int rhs(double t, const double *y, double *d, void *user)
{
    const double begin = now();
    const int rc = inner.rhs(t, y, d, user);
    stop(RHS, begin);
    return rc;
}

static int jacobian(double t, const double *y, const double *d, void *user)
{
    const double begin = now();
    const int rc = inner.jacobian(t, y, d, user);
    stop(JACOBIAN, begin);
    return rc;
}

static int factor(double gamma, void *user)
{
    const double begin = now();
    const int rc = inner.factor(gamma, user);
    stop(FACTOR, begin);
    return rc;
}

static void solve(double *b, void *user)
{
    const double begin = now();
    inner.solve(b, user);
    stop(SOLVE, begin);
}

static int quad(double t, const double *y, double *q, void *user)
{
    const double begin = now();
    const int rc = inner.quad(t, y, q, user);
    stop(QUAD, begin);
    return rc;
}

static int roots(double t, const double *y, double *g, void *user)
{
    const double begin = now();
    const int rc = inner.roots(t, y, g, user);
    stop(ROOTS, begin);
    return rc;
}

void __wrap_emb_sim_ode(struct emb_sim *s)
{
    __real_emb_sim_ode(s);
    if (!bare) {
        inner = s->ode;
        s->ode.rhs = rhs;
        s->ode.jacobian = jacobian;
        s->ode.factor = factor;
        s->ode.solve = solve;
        s->ode.quad = quad;
        s->ode.roots = roots;
    }
    if (dense) {
        s->ode.jacobian = NULL;
        s->ode.factor = NULL;
        s->ode.solve = NULL;
    }
}

int __wrap_CVodeSetNonlinConvCoef(void *cv, double coefficient)
{
    return __real_CVodeSetNonlinConvCoef(cv, loose ? 0.1 : coefficient); /* CVODE's default */
}

static void print(const struct emb_result *r, double load, double run, double states)
{
    static const char *const name[N_PART] = {"rhs", "jacobian", "factor", "solve", "quad", "roots"};
    const struct emb_counters *c = &r->counters;
    printf("{\"load_s\": %.6f, \"run_s\": %.6f, \"states\": %.0f, \"simulated_s\": %.17g, ", load,
           run, states, r->t_end);
    printf("\"steps\": %ld, \"rhs\": %ld, \"jac\": %ld, \"restarts\": %ld, \"inside\": {", c->steps,
           c->rhs, c->jac, c->restarts);
    for (int i = 0; i < N_PART && !bare; i++) {
        printf("%s\"%s\": {\"calls\": %ld, \"s\": %.6f}", i > 0 ? ", " : "", name[i],
               watch.calls[i], watch.seconds[i]);
    }
    puts("}}");
}

static double count_states(const struct emb_case *c)
{
    struct emb_line l;
    struct emb_err err = {EMB_OK, "", ""};
    double n = 0.0;
    if (emb_line_build(c, &l, &err) == EMB_OK) {
        n = (double)l.n_state;
        emb_line_free(&l);
    }
    return n;
}

static int measure(const char *file, const char *const *set, size_t n_set)
{
    struct emb_case c;
    struct emb_result r;
    struct emb_err err = {EMB_OK, "", ""};
    const double begin = now();
    if (emb_config_load(file, set, n_set, &c, NULL, &err) != EMB_OK) {
        fprintf(stderr, "emb_bench: %s: %s\n", err.where, err.msg);
        return 3;
    }
    const double loaded = now();
    const enum emb_status st = emb_run(&c, NULL, &r, &err);
    const double done = now();
    if (st == EMB_OK) {
        print(&r, loaded - begin, done - loaded, count_states(&c));
    } else {
        fprintf(stderr, "emb_bench: %s: %s\n", err.where, err.msg);
    }
    emb_result_free(&r);
    emb_case_free(&c);
    return st == EMB_OK ? 0 : 4;
}

int main(int argc, char **argv)
{
    const char *set[MAX_SET], *file = NULL;
    size_t n_set = 0;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--dense") == 0) {
            dense = true;
        } else if (strcmp(argv[i], "--loose") == 0) {
            loose = true;
        } else if (strcmp(argv[i], "--bare") == 0) {
            bare = true;
        } else if (strcmp(argv[i], "--set") == 0 && i + 1 < argc && n_set < MAX_SET) {
            set[n_set++] = argv[++i];
        } else if (argv[i][0] != '-' && file == NULL) {
            file = argv[i];
        } else {
            fprintf(stderr, "emb_bench: cannot use '%s'\n", argv[i]);
            return 2;
        }
    }
    if (file == NULL) {
        fputs("usage: emb_bench [--dense] [--loose] [--bare] [--set PATH=VALUE]... CASE\n", stderr);
        return 2;
    }
    return measure(file, set, n_set);
}
