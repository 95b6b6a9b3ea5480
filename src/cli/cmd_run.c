/* cmd_run.c - load, run, report. Everything that can be refused is refused before the run. */
#include <string.h>

#include "cli.h"
#include "emberpipe/page.h"
#include "emberpipe/report.h"

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

static enum emb_status page_write(const struct emb_cli_args *a, struct emb_cli_file *page,
                                  const struct emb_result *r, struct emb_err *err)
{
    struct emb_input_values values;
    enum emb_status st = emb_config_values(a->word, a->set, a->n_set, &values, err);
    if (st != EMB_OK) {
        return st;
    }
    const struct emb_page_case c = {emb_cli_base_name(a->word), r, &values};
    emb_page_write(&c, 1, page->f);
    st = emb_cli_file_keep(page, err);
    if (st == EMB_OK && !a->quiet) {
        fprintf(stderr, "emberpipe: the page is in %s\n", a->page);
    }
    emb_input_values_free(&values);
    return st;
}

static enum emb_status run_case(const struct emb_cli_args *a, const struct emb_report_writer *w,
                                const struct emb_case *c, struct emb_cli_file *page,
                                struct emb_err *err)
{
    struct emb_result r;
    struct emb_err own = {EMB_OK, "", ""};
    enum emb_status st = emb_cli_run(a, c, &r, &own);
    /* a failed integration still has a story to tell, if it got as far as its first row */
    if (st == EMB_OK || (st == EMB_ERR_SOLVER && r.n_row > 0)) {
        enum emb_status told = report(a, w, &r, err);
        if (told == EMB_OK && page->f != NULL) {
            told = page_write(a, page, &r, err);
        }
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
    struct emb_cli_file page = {0};
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
        st = a->page != NULL ? emb_cli_file_open(&page, a->page, err) : EMB_OK;
    }
    if (st == EMB_OK) {
        st = run_case(a, w, &c, &page, err);
    }
    emb_cli_file_drop(&page);
    emb_case_free(&c);
    return st;
}
