/* main.c - finds the command, runs it, prints the one error line, exits. */
#include <string.h>

#include "cli.h"
#include "emberpipe/report.h"

static const struct emb_cli_command *command_find(const char *name)
{
    if (strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0 || strcmp(name, "--version") == 0) {
        name = name[1] == '-' && name[2] == 'v' ? "version" : "help";
    }
    for (size_t i = 0; i < emb_cli_n_command; i++) {
        if (strcmp(emb_cli_commands[i].name, name) == 0) {
            return &emb_cli_commands[i];
        }
    }
    return NULL;
}

static enum emb_status unknown_command(const char *name, struct emb_err *err)
{
    const char *near = emb_cli_nearest(name, &emb_cli_commands[0].name, emb_cli_n_command,
                                       sizeof emb_cli_commands[0]);
    if (near != NULL) {
        return emb_fail(err, EMB_ERR_USAGE, name, "unknown command; did you mean %s?", near);
    }
    return emb_fail(err, EMB_ERR_USAGE, name, "unknown command; see emberpipe --help");
}

enum emb_status emb_cmd_help(const struct emb_cli_args *a, struct emb_err *err)
{
    const struct emb_cli_command *c = NULL;
    if (a->word != NULL && (c = command_find(a->word)) == NULL) {
        return unknown_command(a->word, err);
    }
    emb_cli_help(c, stdout);
    return emb_report_flush(stdout, "standard output", err);
}

static enum emb_status command_run(int n, char **text, const struct emb_cli_command *c,
                                   struct emb_err *err)
{
    struct emb_cli_args a;
    enum emb_status st = emb_cli_parse(n, text, c, &a, err);
    if (st == EMB_OK && a.help) {
        emb_cli_help(c, stdout);
        st = emb_report_flush(stdout, "standard output", err);
    } else if (st == EMB_OK) {
        st = c->run(&a, err);
    }
    emb_cli_args_free(&a);
    return st;
}

int main(int argc, char **argv)
{
    struct emb_err err = {EMB_OK, "", ""};
    enum emb_status st;
    if (argc < 2) {
        emb_cli_help(NULL, stderr);
        return EMB_ERR_USAGE;
    }
    const struct emb_cli_command *c = command_find(argv[1]);
    st = c == NULL ? unknown_command(argv[1], &err) : command_run(argc - 2, argv + 2, c, &err);
    if (err.status != EMB_OK) {
        fprintf(stderr, "emberpipe: %s%s%s\n", err.where, err.where[0] != '\0' ? ": " : "",
                err.msg);
    }
    return (int)st;
}
