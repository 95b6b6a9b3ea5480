/* cmd_compare.c - several cases, run one after the other and told side by side. */
#include <string.h>

#include "cli.h"
#include "emberpipe/page.h"
#include "emberpipe/report.h"

struct compared {
    struct emb_case c[EMB_CLI_MAX_CASES];
    struct emb_result r[EMB_CLI_MAX_CASES];
    struct emb_input_values v[EMB_CLI_MAX_CASES];
    struct emb_page_case told[EMB_CLI_MAX_CASES];
    size_t n_case, n_result; /* how far each got */
};

/* All files are read before the first run, so that a slip in the last one costs nothing. */
static enum emb_status load_all(const struct emb_cli_args *a, struct compared *k,
                                struct emb_err *err)
{
    for (; k->n_case < a->n_word; k->n_case++) {
        const enum emb_status st =
            emb_cli_load_file(a, a->words[k->n_case], stderr, &k->c[k->n_case], err);
        if (st != EMB_OK) {
            return st;
        }
    }
    return EMB_OK;
}

static enum emb_status run_all(const struct emb_cli_args *a, struct compared *k,
                               struct emb_err *err)
{
    for (; k->n_result < k->n_case; k->n_result++) {
        const size_t i = k->n_result;
        enum emb_status st =
            emb_config_values(a->words[i], a->set, a->n_set, &k->v[i], err);
        if (st == EMB_OK) {
            st = emb_cli_run(a, &k->c[i], &k->r[i], err);
        }
        if (st != EMB_OK) {
            k->n_result++;
            return st;
        }
        k->told[i] = (struct emb_page_case){emb_cli_base_name(a->words[i]), &k->r[i], &k->v[i]};
    }
    return EMB_OK;
}

static enum emb_status tell(const struct emb_cli_args *a, const struct compared *k,
                            struct emb_cli_file *page, struct emb_err *err)
{
    emb_compare_text(k->told, k->n_result, stdout);
    enum emb_status st = emb_report_flush(stdout, "standard output", err);
    if (st == EMB_OK && page->f != NULL) {
        emb_page_write(k->told, k->n_result, page->f);
        st = emb_cli_file_keep(page, err);
        if (st == EMB_OK && !a->quiet) {
            fprintf(stderr, "emberpipe: the page is in %s\n", a->page);
        }
    }
    return st;
}

enum emb_status emb_cmd_compare(const struct emb_cli_args *a, struct emb_err *err)
{
    struct compared k = {0};
    struct emb_cli_file page = {0};
    if (a->n_word < 2) {
        return emb_fail(err, EMB_ERR_USAGE, "compare", "needs two cases or more; got one");
    }
    enum emb_status st = load_all(a, &k, err);
    if (st == EMB_OK && a->page != NULL) {
        st = emb_cli_file_open(&page, a->page, err);
    }
    if (st == EMB_OK) {
        st = run_all(a, &k, err);
    }
    if (st == EMB_OK) {
        st = tell(a, &k, &page, err);
    }
    emb_cli_file_drop(&page);
    for (size_t i = 0; i < k.n_result; i++) {
        emb_result_free(&k.r[i]);
        emb_input_values_free(&k.v[i]);
    }
    for (size_t i = 0; i < k.n_case; i++) {
        emb_case_free(&k.c[i]);
    }
    return st;
}
