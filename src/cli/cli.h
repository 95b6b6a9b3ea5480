/* cli.h - the command line: one table of commands, one of options. Private to the cli room. */
#ifndef EMB_CLI_H
#define EMB_CLI_H
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include "emberpipe/config.h"
#include "emberpipe/log.h"
#include "emberpipe/quick.h"
#include "emberpipe/result.h"
#include "emberpipe/run.h"
#include "emberpipe/status.h"

struct emb_cli_args {
    const char *word;         /* the first argument that is no option, or NULL */
    size_t n_word;
    const char **words;       /* all of them; owned array of borrowed strings */
    const char *map;          /* of a log, or NULL */
    const char *samples, *seed, *cells; /* of a likelihood, as given */
    const char *page;         /* --report */
    const char *columns, *x, *units, *size, *title, *to; /* of plot; NULL: not given */
    bool list;                /* of plot */
    const char *of;           /* output of a study, or NULL: the first */
    const char *journal, *threads; /* of studies, as given */
    const char *format, *out; /* as given; format "text" if not */
    size_t n_set;
    const char **set; /* owned arrays of borrowed strings */
    size_t n_require;
    const char **require;
    bool require_all, stats, quiet, force, help, ask, choices, as_new, cold, fresh, retry, full, no_band;
    struct emb_quick quick; /* answers of the quick case */
    const char *every;      /* interval of readings, or NULL */
    const char *soot_limit, *crust_limit, *drive; /* of the balance, or NULL */
    const char *target;     /* of remedies, or NULL: all */
};

/* Commands an option belongs to, as bits. */
enum {
    EMB_CLI_RUN = 1,
    EMB_CLI_CHECK = 2,
    EMB_CLI_EXPLAIN = 4,
    EMB_CLI_OTHER = 8,
    EMB_CLI_LOG = 16384,
    EMB_CLI_LIKELY = 32768,
    EMB_CLI_COMPARE = 16,
    EMB_CLI_PLOT = 32,
    EMB_CLI_STUDY = 64,
    EMB_CLI_QUICK = 1024,
    EMB_CLI_READINGS = 2048,
    EMB_CLI_REMEDY = 4096,
    EMB_CLI_BALANCE = 8192,
    EMB_CLI_SHOP = EMB_CLI_READINGS | EMB_CLI_REMEDY | EMB_CLI_BALANCE, /* questions about a case */
    EMB_CLI_ALL = 0x7fffffff
};
enum { EMB_CLI_MAX_CASES = 8 }; /* of compare: more is no picture any more */
struct emb_cli_command {
    const char *name, *argument, *help;
    int bit;
    bool needs_word;
    size_t max_words;
    enum emb_status (*run)(const struct emb_cli_args *a, struct emb_err *err);
};

extern const struct emb_cli_command emb_cli_commands[];
extern const size_t emb_cli_n_command;

enum emb_status emb_cli_parse(int n, char **text, const struct emb_cli_command *c,
                              struct emb_cli_args *a, struct emb_err *err);
void emb_cli_args_free(struct emb_cli_args *a);
void emb_cli_options_print(int bit, FILE *f);
void emb_cli_help(const struct emb_cli_command *c, FILE *f); /* NULL: all commands */
/* The nearest of n names if it is near enough to be a slip, else NULL. stride: bytes from one name
 * pointer to the next. */
const char *emb_cli_nearest(const char *word, const void *names, size_t n, size_t stride);

/* emb_config_load, with a file that cannot be opened told apart and every problem printed to `to`.
 */
enum emb_status emb_cli_load(const struct emb_cli_args *a, FILE *to, struct emb_case *c,
                             struct emb_err *err);

/* The same for one of several files. */
enum emb_status emb_cli_load_file(const struct emb_cli_args *a, const char *file, FILE *to,
                                  struct emb_case *c, struct emb_err *err);

/* A file that appears whole or not at all: opened beside its place before the work starts, renamed
 * into place at the end. */
struct emb_cli_file {
    FILE *f;
    const char *path; /* borrowed */
    char side[4096];
};
enum emb_status emb_cli_file_open(struct emb_cli_file *o, const char *path, struct emb_err *err);
enum emb_status emb_cli_file_keep(struct emb_cli_file *o, struct emb_err *err);
void emb_cli_file_drop(struct emb_cli_file *o); /* after keep: does nothing */

void emb_cli_problem(const struct emb_problem *p, FILE *to);
/* The log of the arguments, with problems of its mapping file printed. */
enum emb_status emb_cli_log(const struct emb_cli_args *a, const struct emb_case *c,
                            struct emb_log *log, struct emb_err *err);
enum emb_status emb_cli_text_or_csv(const struct emb_cli_args *a, struct emb_err *err);

struct emb_cli_progress {
    double began, shown; /* [s] */
    bool any;
};
/* Shows how far a run is, on a terminal and unless it is quick. */
struct emb_hooks emb_cli_progress_hooks(struct emb_cli_progress *p, bool quiet);
void emb_cli_progress_end(struct emb_cli_progress *p);
/* Runs a case with progress on a terminal. On EMB_ERR_SOLVER the result may hold rows. */
enum emb_status emb_cli_run(const struct emb_cli_args *a, const struct emb_case *c,
                            struct emb_result *r, struct emb_err *err);
const char *emb_cli_base_name(const char *path);

/* An SVG of this size [px] as PNG or PDF. */
enum emb_status emb_picture_write(const char *svg, size_t n, bool pdf, double width, double height,
                                  FILE *f, struct emb_err *err);

enum emb_status emb_cmd_plot(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_compare(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_run(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_quick(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_remedy(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_balance(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_readings(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_likely(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_replay(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_diagnose(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_check(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_explain(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_schema(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_study(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_help(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_cmd_version(const struct emb_cli_args *a, struct emb_err *err);
#endif
