#include "study_talk.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#include "emberpipe/units.h"

const char *emb_study_duration(double s, char *buf, size_t size)
{
    if (isnan(s)) {
        snprintf(buf, size, "unknown time");
    } else if (s < 100.0) {
        snprintf(buf, size, "%.*f s", s < 10.0 ? 1 : 0, s);
    } else if (s < 6000.0) {
        snprintf(buf, size, "%.0f min", s / 60.0);
    } else if (s < 48.0 * 3600.0) {
        snprintf(buf, size, "%.1f h", s / 3600.0);
    } else {
        snprintf(buf, size, "%.1f days", s / 86400.0);
    }
    return buf;
}

/* On a terminal one line that is written over, else a line now and then. */
void emb_study_talk_progress(const struct emb_study_progress *p, void *talk)
{
    struct emb_study_talk *t = talk;
    char left[32], rate[48];
    if (t->quiet || (p->elapsed - t->shown < (t->terminal ? 0.25 : 30.0) && p->done < p->n)) {
        return;
    }
    t->shown = p->elapsed;
    const double per = (double)p->fresh / p->elapsed;
    snprintf(rate, sizeof rate, per >= 0.1 ? "%.3g cases/s" : "%.3g cases/h",
             per >= 0.1 ? per : 3600.0 * per);
    fprintf(stderr, "%s%zu of %zu cases (%.1f %%), %zu failed, %s, %s left%s",
            t->terminal ? "\r" : "", p->done, p->n, 100.0 * (double)p->done / (double)p->n,
            p->failed, rate, emb_study_duration(p->left, left, sizeof left),
            t->terminal ? "\x1b[K" : "\n");
    fflush(stderr);
}

enum emb_status emb_study_talk_end(const struct emb_study_progress *p, struct emb_study_talk *t,
                                   const char *journal, struct emb_err *err)
{
    char took[32];
    if (!t->quiet) {
        fputs(t->terminal ? "\r\x1b[K" : "", stderr);
        printf("%zu of %zu cases done, %zu of them failed; %zu in this run, %s\nresults: %s\n",
               p->done, p->n, p->failed, p->fresh,
               emb_study_duration(p->elapsed, took, sizeof took), journal);
        if (p->failed > 0) {
            printf(
                "reasons of the failed ones: emberpipe study status, or the column reason of the "
                "CSV export; --retry runs them once more\n");
        }
    }
    return p->done < p->n
               ? emb_fail(err, EMB_STOPPED, journal,
                          "stopped with %zu cases left; run it again to go on", p->n - p->done)
               : EMB_OK;
}

enum emb_status emb_study_talk_load(const char *file, struct emb_study *s, struct emb_err *err)
{
    struct emb_problems problems = {0, NULL};
    struct emb_err first = {EMB_OK, "", ""};
    FILE *f = fopen(file, "rb");
    if (f == NULL) {
        return emb_fail(err, EMB_ERR_IO, file, "cannot be read: %s", strerror(errno));
    }
    fclose(f);
    const enum emb_status st = emb_study_load(file, s, &problems, &first);
    for (size_t i = 1; i < problems.n; i++) { /* the first one is in the error line */
        const struct emb_problem *p = &problems.item[i];
        fprintf(stderr, "%s:%d:%d: %s%s%s\n", p->file, p->line, p->column, p->path,
                p->path[0] != '\0' ? ": " : "", p->text);
    }
    if (st != EMB_OK) {
        emb_fail(err, st, first.where, "%s", first.msg);
    }
    emb_problems_free(&problems);
    return st;
}

const char *emb_study_journal(const struct emb_cli_args *a, const char *file, char *buf,
                              size_t size)
{
    if (a->journal != NULL) {
        return a->journal;
    }
    const char *slash = strrchr(file, '/'), *name = slash != NULL ? slash + 1 : file;
    const char *dot = strrchr(name, '.');
    snprintf(buf, size, "%.*s.journal",
             (int)(dot != NULL && dot > name ? dot - name : (long)strlen(name)), name);
    return buf;
}

enum emb_status emb_study_threads(const struct emb_cli_args *a, int *threads, struct emb_err *err)
{
    double v = 0.0;
    if (a->threads != NULL && (emb_number_parse(a->threads, &v, NULL) != 0 || floor(v) < v ||
                               v < 1.0 || v > EMB_MAX_THREADS)) {
        return emb_fail(err, EMB_ERR_USAGE, "--threads",
                        "got '%s'; use a whole number from 1 to %d", a->threads,
                        (int)EMB_MAX_THREADS);
    }
    *threads = (int)v;
    return EMB_OK;
}
