/* commands.c - the table of commands, and the help that it prints. */
#include "cli.h"
#include "emberpipe/report.h"

const struct emb_cli_command emb_cli_commands[] = {
    {"run", "FILE", "run a case and report", EMB_CLI_RUN, true, 1, emb_cmd_run},
    {"compare", "FILE FILE [...]", "run cases side by side: what differs, and what that changed",
     EMB_CLI_COMPARE, true, EMB_CLI_MAX_CASES, emb_cmd_compare},
    {"plot", "FILE", "draw any recorded series as SVG, PNG or PDF", EMB_CLI_PLOT, true, 1,
     emb_cmd_plot},
    {"quick", "[FILE]", "a case file from a handful of answers, and its verdict", EMB_CLI_QUICK,
     false, 1, emb_cmd_quick},
    {"readings", "FILE", "what healthy sensors should show, minute by minute", EMB_CLI_READINGS,
     true, 1, emb_cmd_readings},
    {"remedy", "FILE", "what would make a failing target work: smallest change of each kind",
     EMB_CLI_REMEDY, true, 1, emb_cmd_remedy},
    {"balance", "FILE", "how long the duty may go on: soot and crust over days, cleaning up",
     EMB_CLI_BALANCE, true, 1, emb_cmd_balance},
    {"likely", "FILE", "in how many trucks like this it works, and what to measure first",
     EMB_CLI_LIKELY, true, 1, emb_cmd_likely},
    {"replay", "CASE LOG", "a recorded log drives the case: measured against computed",
     EMB_CLI_LOG, true, 2, emb_cmd_replay},
    {"diagnose", "CASE LOG", "which conditions of the line would explain a recorded log",
     EMB_CLI_LOG, true, 2, emb_cmd_diagnose},
    {"check", "FILE", "list every problem of a case without running it", EMB_CLI_CHECK, true, 1,
     emb_cmd_check},
    {"explain", "[KEY]", "what a key means: unit, range, default and its source", EMB_CLI_EXPLAIN,
     false, 1, emb_cmd_explain},
    {"schema", "", "JSON Schema of a case file, for editors", EMB_CLI_OTHER, false, 0,
     emb_cmd_schema},
    {"study", "VERB FILE",
     "many cases around one: run or resume, status, export, map, analyse, search, local; measures of a case", EMB_CLI_STUDY, true, 2,
     emb_cmd_study},
    {"help", "[COMMAND]", "this text", EMB_CLI_OTHER, false, 1, emb_cmd_help},
    {"version", "", "the version", EMB_CLI_OTHER, false, 0, emb_cmd_version},
};
const size_t emb_cli_n_command = sizeof emb_cli_commands / sizeof *emb_cli_commands;

static void one_command(const struct emb_cli_command *c, FILE *f)
{
    fprintf(f, "usage: emberpipe %s%s%s [options]\n%s\n\noptions:\n", c->name,
            c->argument[0] != '\0' ? " " : "", c->argument, c->help);
    emb_cli_options_print(c->bit, f);
}

void emb_cli_help(const struct emb_cli_command *c, FILE *f)
{
    if (c != NULL) {
        one_command(c, f);
        return;
    }
    fputs("emberpipe - heat and chemistry of diesel exhaust lines\n\n"
          "usage: emberpipe COMMAND [options]\n\ncommands:\n",
          f);
    for (size_t i = 0; i < emb_cli_n_command; i++) {
        char both[48];
        snprintf(both, sizeof both, "%s %s", emb_cli_commands[i].name,
                 emb_cli_commands[i].argument);
        fprintf(f, "  %-26s %s\n", both, emb_cli_commands[i].help);
    }
    fputs("\noptions of run:\n", f);
    emb_cli_options_print(EMB_CLI_RUN, f);
    fputs("\nexit codes:\n", f);
#define PRINT_STATUS(name, code, text) fprintf(f, "  %-4d %s\n", code, text);
    EMB_STATUS_LIST(PRINT_STATUS)
}

enum emb_status emb_cmd_version(const struct emb_cli_args *a, struct emb_err *err)
{
    (void)a;
    puts("emberpipe " EMB_VERSION);
    return emb_report_flush(stdout, "standard output", err);
}
