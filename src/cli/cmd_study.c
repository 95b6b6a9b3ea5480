/* cmd_study.c - emberpipe study run|status|export|measures FILE; other verbs in study_*.c. */
#include <math.h>
#include <string.h>
#include <unistd.h>

#include "emberpipe/measure.h"
#include "emberpipe/report.h"
#include "emberpipe/study_export.h"
#include "signals.h"
#include "study_talk.h"
#include "study_verbs.h"

static enum emb_status study_run(const struct emb_cli_args *a, const char *file,
                                 struct emb_err *err)
{
    struct emb_study s;
    struct emb_signals signals;
    struct emb_study_progress p = {0};
    struct emb_study_talk talk = {0.0, isatty(STDERR_FILENO) != 0, a->quiet};
    char name[300];
    struct emb_study_options o = {.journal = emb_study_journal(a, file, name, sizeof name),
                                  .fresh = a->fresh,
                                  .retry = a->retry,
                                  .stop = &signals.stop,
                                  .progress = emb_study_talk_progress,
                                  .user = &talk};
    enum emb_status st = emb_study_threads(a, &o.threads, err);
    st = st == EMB_OK ? emb_study_talk_load(file, &s, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    emb_signals_begin(&signals);
    st = emb_study_run(&s, &o, &p, err);
    emb_signals_end(&signals);
    emb_study_free(&s);
    return st == EMB_OK ? emb_study_talk_end(&p, &talk, o.journal, err) : st;
}

static void bytes_print(const char *what, double bytes)
{
    static const char *const unit[] = {"kB", "MB", "GB", "TB"};
    int i = 0;
    for (bytes /= 1e3; bytes >= 999.5 && i < 3; i++) {
        bytes /= 1e3;
    }
    printf("%s %.3g %s", what, bytes, unit[i]);
}

static enum emb_status plan_print(const struct emb_cli_args *a, const struct emb_study *s,
                                  struct emb_err *err)
{
    struct emb_study_estimate e;
    char took[32], one[32];
    int threads = 0;
    enum emb_status st = emb_study_threads(a, &threads, err);
    st = st == EMB_OK ? emb_study_estimate(s, threads, &e, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    threads = threads > 0 ? threads : emb_batch_cores();
    printf("not started: %zu cases\n", s->n);
    printf("time: about %s on %d thread%s (%s a case, from %zu cases tried%s)\n",
           emb_study_duration(e.total_seconds, took, sizeof took), threads, threads == 1 ? "" : "s",
           emb_study_duration(e.case_seconds, one, sizeof one), e.tried,
           e.failed > 0 ? ", of which some failed" : "");
    bytes_print("disk: about", e.journal_bytes);
    bytes_print(" for the journal,", e.netcdf_bytes);
    printf(" for the NetCDF export\n");
    return EMB_OK;
}

/* The first few of the failed cases with their reasons. */
static enum emb_status failures_print(struct emb_journal *j, struct emb_err *err)
{
    const struct emb_journal_info *info = emb_journal_info(j);
    struct emb_record r;
    bool more = info->failed > 0;
    size_t shown = 0;
    enum emb_status st = emb_record_make(info->n_axis, info->n_output, 0, &r, err);
    while (st == EMB_OK && more && shown < 10) {
        st = emb_journal_next(j, &r, &more, err);
        if (more && r.status != EMB_OK) {
            printf("  case %zu: %s\n", r.id, r.reason);
            shown++;
        }
    }
    if (shown < info->failed) {
        printf("  and %zu more: see the column reason of the CSV export\n", info->failed - shown);
    }
    emb_record_drop(&r);
    return st;
}

static enum emb_status study_status(const struct emb_cli_args *a, const char *file,
                                    struct emb_err *err)
{
    char name[300], one[32], all[32];
    struct emb_journal *j = NULL;
    const char *journal = emb_study_journal(a, file, name, sizeof name);
    if (access(journal, F_OK) != 0) {
        struct emb_study s;
        enum emb_status st = emb_study_talk_load(file, &s, err);
        if (st == EMB_OK) {
            st = plan_print(a, &s, err);
            emb_study_free(&s);
        }
        return st;
    }
    enum emb_status st = emb_journal_read(journal, &j, err);
    if (st != EMB_OK) {
        return st;
    }
    const struct emb_journal_info *info = emb_journal_info(j);
    const double each = info->done > 0 ? info->seconds / (double)info->done : NAN;
    printf("%s: %zu of %zu cases done (%.1f %%), %zu of them failed\n", journal, info->done,
           info->n, 100.0 * (double)info->done / (double)info->n, info->failed);
    printf("one case took %s on average; %s of computing left\n",
           emb_study_duration(each, one, sizeof one),
           emb_study_duration(each * (double)(info->n - info->done), all, sizeof all));
    st = failures_print(j, err);
    emb_journal_close(j);
    return st;
}

static bool ends_in(const char *name, const char *end)
{
    const size_t n = strlen(name), k = strlen(end);
    return n > k && strcmp(name + n - k, end) == 0;
}

static enum emb_status study_export(const struct emb_cli_args *a, const char *file,
                                    struct emb_err *err)
{
    char name[300], out[320];
    struct emb_journal *j = NULL;
    const char *journal = emb_study_journal(a, file, name, sizeof name), *to = a->out;
    if (to == NULL) {
        const char *dot = strrchr(journal, '.');
        snprintf(out, sizeof out, "%.*s.nc",
                 (int)(dot != NULL ? dot - journal : (long)strlen(journal)), journal);
        to = out;
    }
    if (!ends_in(to, ".nc") && !ends_in(to, ".csv")) {
        return emb_fail(err, EMB_ERR_USAGE, "--out", "got '%s'; the name must end in .nc or .csv",
                        to);
    }
    enum emb_status st = emb_journal_read(journal, &j, err);
    if (st != EMB_OK) {
        return st;
    }
    const struct emb_journal_info *info = emb_journal_info(j);
    st =
        ends_in(to, ".nc") ? emb_study_export_netcdf(j, to, err) : emb_study_export_csv(j, to, err);
    if (st == EMB_OK && !a->quiet) {
        printf("%zu of %zu cases are in %s\n", info->done, info->n, to);
    }
    emb_journal_close(j);
    return st;
}

/* FILE is a case here: what a study of it could keep. */
static enum emb_status study_measures(const struct emb_cli_args *a, const char *file,
                                      struct emb_err *err)
{
    struct emb_cli_args load = *a;
    struct emb_case c;
    struct emb_result r;
    load.word = file;
    enum emb_status st = emb_cli_load(&load, stderr, &c, err);
    if (st != EMB_OK) {
        return st;
    }
    st = emb_measure_sample(&c, &r, err);
    if (st == EMB_OK) {
        emb_measure_list(&r, stdout);
        emb_result_free(&r);
    }
    emb_case_free(&c);
    return st;
}

static const struct verb {
    const char *name;
    enum emb_status (*run)(const struct emb_cli_args *a, const char *file, struct emb_err *err);
} verbs[] = {{"run", study_run},
             {"status", study_status},
             {"export", study_export},
             {"analyse", emb_study_analyse},
             {"map", emb_study_map},
             {"search", emb_study_search},
             {"local", emb_study_local},
             {"measures", study_measures}};
enum { N_VERB = sizeof verbs / sizeof *verbs };

enum emb_status emb_cmd_study(const struct emb_cli_args *a, struct emb_err *err)
{
    for (size_t i = 0; i < N_VERB; i++) {
        if (strcmp(verbs[i].name, a->word) == 0) {
            if (a->n_word < 2) {
                return emb_fail(err, EMB_ERR_USAGE, "study",
                                "needs a file: emberpipe study %s FILE", a->word);
            }
            const enum emb_status st = verbs[i].run(a, a->words[1], err);
            const enum emb_status out = emb_report_flush(stdout, "standard output", err);
            return st != EMB_OK ? st : out;
        }
    }
    const char *near = emb_cli_nearest(a->word, &verbs[0].name, N_VERB, sizeof verbs[0]);
    return emb_fail(err, EMB_ERR_USAGE, "study", "unknown verb '%s'; %s%s%s", a->word,
                    near != NULL ? "did you mean " : "use run, status, export, map, analyse, search, local or measures",
                    near != NULL ? near : "", near != NULL ? "?" : "");
}
