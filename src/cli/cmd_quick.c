/* cmd_quick.c - a case from a handful of answers, kept in a file, and its verdict. */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli.h"
#include "dialogue.h"
#include "emberpipe/report.h"
#include "emberpipe/run.h"

static enum emb_status choices_print(struct emb_err *err)
{
    puts("layouts (--layout):");
    emb_cli_choices("layouts", stdout);
    puts("\nclasses (--class):");
    emb_cli_choices("classes", stdout);
    puts("\nfaults (--fault):");
    emb_cli_faults(stdout);
    return emb_report_flush(stdout, "standard output", err);
}

static bool anything_said(const struct emb_quick *q)
{
    bool said = q->n_fault > 0;
    for (int i = 0; i < EMB_N_ASK; i++) {
        said = said || q->answer[i] != NULL;
    }
    return said;
}

static enum emb_status answer_print(const char *file, struct emb_err *err)
{
    const struct emb_cli_args as_if = {.word = file, .format = "text"};
    struct emb_case c;
    struct emb_result r;
    enum emb_status st = emb_cli_load(&as_if, stderr, &c, err);
    if (st != EMB_OK) {
        return st;
    }
    st = emb_run(&c, NULL, &r, err);
    if (st == EMB_OK) {
        emb_report_answer(&r, stdout);
        printf("\nThe case is in %s. Next: correct what you know in it, then\n"
               "  emberpipe run %s        temperatures by minute, heat budget\n"
               "  emberpipe readings %s   what healthy sensors should show\n"
               "  emberpipe remedy %s     what would make it work, if it does not\n",
               file, file, file, file);
        st = emb_report_flush(stdout, "standard output", err);
    }
    emb_result_free(&r);
    emb_case_free(&c);
    return st;
}

enum emb_status emb_cmd_quick(const struct emb_cli_args *a, struct emb_err *err)
{
    static const struct emb_cli_dialogue nothing;
    struct emb_cli_dialogue d = nothing;
    bool replace = a->force;
    char *text = NULL;
    const char *file = a->word != NULL ? a->word : EMB_CLI_QUICK_FILE;
    enum emb_status st = EMB_OK;
    if (a->choices) {
        return choices_print(err);
    }
    d.quick = a->quick;
    if (a->ask || (!anything_said(&a->quick) && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO))) {
        st = emb_cli_ask(&d, a->word, &replace, err);
        file = d.file;
    } else if (!anything_said(&a->quick)) {
        st = emb_fail(err, EMB_ERR_USAGE, "quick",
                      "give answers, for example --layout filter-first --soot \"70 %%\", or --ask "
                      "to be asked; --choices lists what there is");
    }
    if (st == EMB_OK && !replace && access(file, F_OK) == 0) { /* told before the work */
        st = emb_fail(err, EMB_ERR_IO, file,
                      "exists and was left as it is; choose another name, or --force replaces it");
    }
    st = st != EMB_OK ? st : emb_quick_text(&d.quick, &text, err);
    st = st != EMB_OK ? st : emb_quick_save(file, text, replace, err);
    free(text);
    return st != EMB_OK ? st : answer_print(file, err);
}
