/* cmd_run.c - load, run, report. Everything that can be refused is refused before the run. */
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cli.h"
#include "emberpipe/report.h"
#include "emberpipe/run.h"

struct progress {
    double began, shown; /* [s] */
    bool any;
};

static double seconds_now(void)
{
    struct timespec ts;
    clock_gettime(CLOCK_MONOTONIC, &ts);
    return (double)ts.tv_sec + 1e-9 * (double)ts.tv_nsec;
}

static int progress_show(double t, double t_end, void *user)
{
    struct progress *p = user;
    const double now = seconds_now();
    if (now - p->began > 1.0 && now - p->shown > 0.2) {
        fprintf(stderr, "\r%3.0f %% of %.0f s", t_end > 0.0 ? 100.0 * t / t_end : 100.0, t_end);
        fflush(stderr);
        p->shown = now;
        p->any = true;
    }
    return 0;
}

static enum emb_status require_check(const struct emb_cli_args *a, const struct emb_case *c,
                                     struct emb_err *err)
{
    if ((a->require_all || a->n_require > 0) && c->n_target == 0) {
        return emb_fail(err, EMB_ERR_USAGE, "--require", "the case has no targets");
    }
    for (size_t i = 0; i < a->n_require; i++) {
        bool found = false;
        for (size_t k = 0; k < c->n_target; k++) {
            found = found ||
                    (c->target[k].name != NULL && strcmp(c->target[k].name, a->require[i]) == 0);
        }
        if (!found) {
            return emb_fail(err, EMB_ERR_USAGE, "--require", "the case has no target '%s'",
                            a->require[i]);
        }
    }
    return EMB_OK;
}

static enum emb_status verdict_status(const struct emb_cli_args *a, const struct emb_result *r)
{
    for (size_t i = 0; i < r->n_verdict; i++) {
        bool asked = a->require_all;
        for (size_t k = 0; k < a->n_require; k++) {
            asked = asked || strcmp(a->require[k], r->verdict[i].name) == 0;
        }
        if (asked && !r->verdict[i].reached) {
            return EMB_VERDICT_NO;
        }
    }
    return EMB_OK;
}

static enum emb_status report(const struct emb_cli_args *a, const struct emb_report_writer *w,
                              const struct emb_result *r, struct emb_err *err)
{
    const struct emb_report_options o = {a->stats, a->word, a->set, a->n_set};
    if (a->out != NULL) {
        const enum emb_status st = emb_folder_write(a->out, a->force, r, &o, err);
        if (st == EMB_OK && !a->quiet) {
            fprintf(stderr, "emberpipe: results are in %s\n", a->out);
        }
        return st;
    }
    w->write(r, &o, stdout);
    return emb_report_flush(stdout, "standard output", err);
}

static enum emb_status run_case(const struct emb_cli_args *a, const struct emb_report_writer *w,
                                const struct emb_case *c, struct emb_err *err)
{
    struct emb_result r;
    struct emb_err own = {EMB_OK, "", ""};
    struct progress p = {seconds_now(), 0.0, false};
    const struct emb_hooks hooks = {!a->quiet && isatty(STDERR_FILENO) ? progress_show : NULL, &p};
    memset(&r, 0, sizeof r);
    enum emb_status st = emb_run(c, &hooks, &r, &own);
    if (p.any) {
        fputs("\r                              \r", stderr);
    }
    /* a failed integration still has a story to tell, if it got as far as its first row */
    if (st == EMB_OK || (st == EMB_ERR_SOLVER && r.n_row > 0)) {
        const enum emb_status told = report(a, w, &r, err);
        st = told != EMB_OK ? told : st;
    }
    if (own.status != EMB_OK) {
        emb_fail(err, own.status, own.where[0] != '\0' ? own.where : a->word, "%s", own.msg);
    }
    if (st == EMB_OK) {
        st = verdict_status(a, &r);
    }
    emb_result_free(&r);
    return st;
}

enum emb_status emb_cmd_run(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    const struct emb_report_writer *w = emb_report_find(a->format);
    enum emb_status st = EMB_OK;
    if (w == NULL) {
        return emb_fail(err, EMB_ERR_USAGE, "--format", "got '%s'; use text, json or csv",
                        a->format);
    }
    if (a->force && a->out == NULL) {
        return emb_fail(err, EMB_ERR_USAGE, "--force", "belongs to --out DIR");
    }
    st = emb_cli_load(a, stderr, &c, err);
    if (st != EMB_OK) {
        return st;
    }
    st = require_check(a, &c, err);
    if (st == EMB_OK && a->out != NULL) {
        st = emb_folder_check(a->out, a->force, err);
    }
    if (st == EMB_OK) {
        st = run_case(a, w, &c, err);
    }
    emb_case_free(&c);
    return st;
}
