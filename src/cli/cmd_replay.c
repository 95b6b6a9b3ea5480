/* cmd_replay.c - a recorded log held against the model. */
#include <string.h>

#include "cli.h"
#include "emberpipe/log.h"
#include "emberpipe/replay.h"
#include "emberpipe/report.h"

enum emb_status emb_cli_log(const struct emb_cli_args *a, const struct emb_case *c,
                            struct emb_log *log, struct emb_err *err)
{
    struct emb_log_map map;
    if (a->n_word < 2) {
        return emb_fail(err, EMB_ERR_USAGE, a->word, "needs a second argument: the recorded log");
    }
    struct emb_problems problems = {0, NULL};
    struct emb_err first = {EMB_OK, "", ""};
    enum emb_status st = emb_log_map_load(a->map, &map, &problems, &first);
    for (size_t i = 0; st != EMB_OK && i < problems.n; i++) {
        emb_cli_problem(&problems.item[i], stderr);
    }
    if (st != EMB_OK) {
        emb_fail(err, st, problems.n > 0 ? a->map : first.where, "%s",
                 problems.n > 0 ? "the mapping file is rejected; nothing was run" : first.msg);
    } else {
        st = emb_log_read(a->words[1], c, &map, log, err);
        emb_log_map_free(&map);
    }
    emb_problems_free(&problems);
    return st;
}

enum emb_status emb_cli_text_or_csv(const struct emb_cli_args *a, struct emb_err *err)
{
    if (strcmp(a->format, "text") != 0 && strcmp(a->format, "csv") != 0) {
        return emb_fail(err, EMB_ERR_USAGE, "--format", "got '%s'; use text or csv", a->format);
    }
    return EMB_OK;
}

enum emb_status emb_cmd_replay(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    struct emb_log log;
    struct emb_replay r;
    enum emb_status st = emb_cli_text_or_csv(a, err);
    st = st == EMB_OK ? emb_cli_load(a, stderr, &c, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    st = emb_cli_log(a, &c, &log, err);
    if (st == EMB_OK) {
        struct emb_cli_progress p;
        const struct emb_hooks hooks = emb_cli_progress_hooks(&p, a->quiet);
        st = emb_replay(&c, &log, &hooks, &r, err);
        emb_cli_progress_end(&p);
        if (st == EMB_OK) {
            (strcmp(a->format, "csv") == 0 ? emb_replay_csv : emb_replay_text)(&r, stdout);
            st = emb_report_flush(stdout, "standard output", err);
        }
        emb_replay_free(&r);
        emb_log_free(&log);
    }
    emb_case_free(&c);
    return st;
}
