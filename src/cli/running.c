/* running.c - a run with its progress, and files that appear whole or not at all. */
#include <errno.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cli.h"
#include "emberpipe/report.h"
#include "emberpipe/run.h"

static double seconds_now(void)
{
    struct timespec ts;
    clock_gettime(CLOCK_MONOTONIC, &ts);
    return (double)ts.tv_sec + 1e-9 * (double)ts.tv_nsec;
}

static int progress_show(double t, double t_end, void *user)
{
    struct emb_cli_progress *p = user;
    const double now = seconds_now();
    if (now - p->began > 1.0 && now - p->shown > 0.2) {
        fprintf(stderr, "\r%3.0f %% of %.0f s", t_end > 0.0 ? 100.0 * t / t_end : 100.0, t_end);
        fflush(stderr);
        p->shown = now;
        p->any = true;
    }
    return 0;
}

struct emb_hooks emb_cli_progress_hooks(struct emb_cli_progress *p, bool quiet)
{
    *p = (struct emb_cli_progress){seconds_now(), 0.0, false};
    return (struct emb_hooks){!quiet && isatty(STDERR_FILENO) ? progress_show : NULL, p};
}

void emb_cli_progress_end(struct emb_cli_progress *p)
{
    if (p->any) {
        fputs("\r                              \r", stderr);
    }
}

enum emb_status emb_cli_run(const struct emb_cli_args *a, const struct emb_case *c,
                            struct emb_result *r, struct emb_err *err)
{
    struct emb_cli_progress p;
    const struct emb_hooks hooks = emb_cli_progress_hooks(&p, a->quiet);
    memset(r, 0, sizeof *r);
    const enum emb_status st = emb_run(c, &hooks, r, err);
    emb_cli_progress_end(&p);
    return st;
}

const char *emb_cli_base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash != NULL && slash[1] != '\0' ? slash + 1 : path;
}

enum emb_status emb_cli_file_open(struct emb_cli_file *o, const char *path, struct emb_err *err)
{
    *o = (struct emb_cli_file){.path = path};
    const int n = snprintf(o->side, sizeof o->side, "%s.partial-%ld", path, (long)getpid());
    if (n < 0 || (size_t)n >= sizeof o->side) {
        o->side[0] = '\0';
        return emb_fail(err, EMB_ERR_IO, "", "the name of the file to write is too long");
    }
    o->f = fopen(o->side, "wbx");
    if (o->f == NULL) {
        o->side[0] = '\0';
        return emb_fail(err, EMB_ERR_IO, path, "cannot be made: %s", strerror(errno));
    }
    return EMB_OK;
}

enum emb_status emb_cli_file_keep(struct emb_cli_file *o, struct emb_err *err)
{
    enum emb_status st = emb_report_flush(o->f, o->path, err);
    if (fclose(o->f) != 0 && st == EMB_OK) {
        st = emb_fail(err, EMB_ERR_IO, o->path, "cannot write: %s", strerror(errno));
    }
    o->f = NULL;
    if (st == EMB_OK && rename(o->side, o->path) != 0) {
        st = emb_fail(err, EMB_ERR_IO, o->path, "cannot be put in place: %s", strerror(errno));
    }
    if (st != EMB_OK) {
        unlink(o->side);
    }
    o->side[0] = '\0';
    return st;
}

void emb_cli_file_drop(struct emb_cli_file *o)
{
    if (o->f != NULL) {
        fclose(o->f);
        o->f = NULL;
    }
    if (o->side[0] != '\0') {
        unlink(o->side);
        o->side[0] = '\0';
    }
}
