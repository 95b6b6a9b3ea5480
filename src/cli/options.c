/* options.c - options of all commands in one table, which also prints the help. */
#include <stdlib.h>
#include <string.h>

#include "cli.h"

enum kind { FLAG, VALUE, MAYBE }; /* MAYBE: a value only with '=' */
/* PLAIN options are kept as they are given, in one member of the arguments; the others by hand. */
enum id { PLAIN, SET, REQUIRE, ANSWER, FAULT };
struct option {
    const char *name;
    enum id id;
    enum kind kind;
    size_t at; /* of the member: const char * for a VALUE, bool for a FLAG */
    int commands;
    const char *value, *help;
};
#define TEXT(member) PLAIN, VALUE, offsetof(struct emb_cli_args, member)
#define YES(member)  PLAIN, FLAG, offsetof(struct emb_cli_args, member)

static const struct option options[] = {
    {"--set", SET, VALUE, 0, EMB_CLI_LOG | EMB_CLI_LIKELY |
         EMB_CLI_RUN | EMB_CLI_CHECK | EMB_CLI_COMPARE | EMB_CLI_PLOT | EMB_CLI_SHOP,
     "PATH=VALUE", "change one key of the case; may be repeated"},
    {"--report", TEXT(page), EMB_CLI_RUN | EMB_CLI_COMPARE, "FILE.html",
     "write a page to look at, in one file; opens anywhere, needs no network"},
    {"--to", TEXT(to), EMB_CLI_PLOT | EMB_CLI_STUDY, "FILE", "the picture; ends in .svg, .png or .pdf"},
    {"--columns", TEXT(columns), EMB_CLI_PLOT, "NAMES",
     "series to draw, with commas between them; * fits any part of a name (temperatures)"},
    {"--of", TEXT(of), EMB_CLI_STUDY, "OUTPUT", "map: the output to draw (the first)"},
    {"--x", TEXT(x), EMB_CLI_STUDY, "KEY", "map: axis that runs to the right (the last)"},
    {"--x", TEXT(x), EMB_CLI_PLOT, "NAME", "series along the x axis (time)"},
    {"--units", TEXT(units), EMB_CLI_PLOT | EMB_CLI_STUDY, "UNITS", "units to use where they fit: degF,g/s,h"},
    {"--size", TEXT(size), EMB_CLI_PLOT | EMB_CLI_STUDY, "WxH", "in pixels, 96 to the inch (960x540; map 1280x620)"},
    {"--title", TEXT(title), EMB_CLI_PLOT | EMB_CLI_STUDY, "TEXT", "instead of the title of the case or study"},
    {"--list", YES(list), EMB_CLI_PLOT, "", "list the recorded series instead of drawing"},
    {"--format", TEXT(format), EMB_CLI_RUN, "text|json|csv", "what to print (text)"},
    {"--format", TEXT(format), EMB_CLI_LOG | EMB_CLI_LIKELY | EMB_CLI_READINGS, "text|csv", "what to print (text)"},
    {"--out", TEXT(out), EMB_CLI_RUN, "DIR",
     "write all formats into a new folder instead of printing"},
    {"--out", TEXT(out), EMB_CLI_STUDY, "FILE",
     "export: the file, ends in .nc or .csv; analyse, local: numbers as CSV"},
    {"--layout", ANSWER, VALUE, 0, EMB_CLI_QUICK, "NAME", "order of the parts, and where fuel is dosed; see --choices"},
    {"--class", ANSWER, VALUE, 0, EMB_CLI_QUICK, "NAME", "sizes: heavy, medium, pickup"},
    {"--displacement", ANSWER, VALUE, 0, EMB_CLI_QUICK, "VOLUME",
     "of the engine, \"10.5 L\"; chooses the class too"},
    {"--soot", ANSWER, VALUE, 0, EMB_CLI_QUICK, "SHARE", "in the filter, of a full load as a scan tool shows it, \"70 %\""},
    {"--ambient", ANSWER, VALUE, 0, EMB_CLI_QUICK, "TEMPERATURE", "\"-5 degC\" or \"23 degF\""},
    {"--wind", ANSWER, VALUE, 0, EMB_CLI_QUICK, "SPEED", "under the parked vehicle, \"10 mph\""},
    {"--idle", ANSWER, VALUE, 0, EMB_CLI_QUICK, "SPEED", "idle speed available, \"1100 rpm\""},
    {"--fault", FAULT, VALUE, 0, EMB_CLI_QUICK, "NAME=VALUE", "a known fault, see --choices; may be repeated"},
    {"--choices", YES(choices), EMB_CLI_QUICK, "", "list layouts, classes and faults"},
    {"--ask", YES(ask), EMB_CLI_QUICK, "", "ask for the answers one by one"},
    {"--every", TEXT(every), EMB_CLI_READINGS, "TIME", "between rows (1 min)"},
    {"--target", TEXT(target), EMB_CLI_REMEDY, "NAME", "only this one of the failing targets"},
    {"--soot-limit", TEXT(soot_limit), EMB_CLI_BALANCE, "SHARE", "of the full load (100 %)"},
    {"--crust-limit", TEXT(crust_limit), EMB_CLI_BALANCE, "SHARE", "of a face closed (30 %)"},
    {"--drive", TEXT(drive), EMB_CLI_BALANCE, "TIME", "put so much driving behind each pass"},
    {"--cold", YES(cold), EMB_CLI_BALANCE, "", "each pass of the duty is a day that begins cold"},
    {"--as-new", YES(as_new), EMB_CLI_READINGS, "",
     "parts as on a new vehicle: without the faults of the case"},
    {"--no-band", YES(no_band), EMB_CLI_READINGS, "", "no band around the readings: one run only"},
    {"--map", TEXT(map), EMB_CLI_LOG, "FILE", "which column of the log is what (YAML)"},
    {"--samples", TEXT(samples), EMB_CLI_LIKELY, "N", "trucks to draw (200)"},
    {"--seed", TEXT(seed), EMB_CLI_LIKELY, "N", "of the draw (1); the same seed, the same answer"},
    {"--cells", TEXT(cells), EMB_CLI_LIKELY, "N", "most cells in the longest brick (2); more: slower, closer"},
    {"--full", YES(full), EMB_CLI_LIKELY, "", "no run made coarse: some eight times slower"},
    {"--force", YES(force), EMB_CLI_RUN | EMB_CLI_QUICK, "", "replace what an earlier call wrote"},
    {"--require", REQUIRE, MAYBE, 0, EMB_CLI_RUN, "[=TARGET]",
     "exit 1 if a target (this one) was not met"},
    {"--stats", YES(stats), EMB_CLI_RUN, "", "add solver counters and wall time"},
    {"--journal", TEXT(journal), EMB_CLI_STUDY, "FILE",
     "where the results are (NAME.journal in this folder)"},
    {"--threads", TEXT(threads), EMB_CLI_LIKELY |
         EMB_CLI_STUDY, "N", "cases at once (one a core)"},
    {"--fresh", YES(fresh), EMB_CLI_STUDY, "", "throw away what the journal holds and start over"},
    {"--retry", YES(retry), EMB_CLI_STUDY, "", "run failed cases once more"},
    {"--quiet", YES(quiet),
     EMB_CLI_LOG | EMB_CLI_LIKELY |
         EMB_CLI_RUN | EMB_CLI_CHECK | EMB_CLI_COMPARE | EMB_CLI_PLOT | EMB_CLI_STUDY |
         EMB_CLI_REMEDY | EMB_CLI_READINGS,
     "",
     "no progress and no talk, only errors"},
    {"--help", YES(help), EMB_CLI_ALL, "", "this text"},
};
enum { N_OPTION = sizeof options / sizeof *options, NAME_ROOM = 48 };

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Edit distance of two short words; longer ones count as far apart. */
static size_t distance(const char *a, const char *b)
{
    size_t row[NAME_ROOM + 1];
    const size_t n = strlen(a), m = strlen(b);
    if (n > NAME_ROOM || m > NAME_ROOM) {
        return NAME_ROOM;
    }
    for (size_t j = 0; j <= m; j++) {
        row[j] = j;
    }
    for (size_t i = 1; i <= n; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= m; j++) {
            const size_t up = row[j], swap = diagonal + (a[i - 1] != b[j - 1]);
            row[j] = least(swap, least(up, row[j - 1]) + 1);
            diagonal = up;
        }
    }
    return row[m];
}

const char *emb_cli_nearest(const char *word, const void *names, size_t n, size_t stride)
{
    const char *best = NULL;
    size_t best_distance = strlen(word) / 2 + 1;
    for (size_t i = 0; i < n; i++) {
        const char *name;
        memcpy(&name, (const char *)names + i * stride, sizeof name);
        const size_t d = distance(word, name);
        if (d < best_distance) {
            best_distance = d;
            best = name;
        }
    }
    return best;
}

/* The row of this command if it has one of its own, else any row of that name. */
static const struct option *option_find(const char *text, size_t n, int bit)
{
    const struct option *other = NULL;
    for (size_t i = 0; i < N_OPTION; i++) {
        if (strlen(options[i].name) == n && strncmp(options[i].name, text, n) == 0) {
            other = &options[i];
            if ((other->commands & bit) != 0) {
                return other;
            }
        }
    }
    if (other != NULL) {
        return other;
    }
    return n == 2 && strncmp(text, "-h", 2) == 0 ? &options[N_OPTION - 1] : NULL;
}

static enum emb_status unknown_option(const char *text, size_t n, const struct emb_cli_command *c,
                                      struct emb_err *err)
{
    char word[NAME_ROOM];
    snprintf(word, sizeof word, "%.*s", (int)(n < NAME_ROOM ? n : NAME_ROOM - 1), text);
    const char *near = emb_cli_nearest(word, &options[0].name, N_OPTION, sizeof options[0]);
    if (near != NULL) {
        return emb_fail(err, EMB_ERR_USAGE, word, "unknown option; did you mean %s?", near);
    }
    return emb_fail(err, EMB_ERR_USAGE, word, "unknown option; see emberpipe %s --help", c->name);
}

/* Options of the quick case are named like its questions. */
static void answer_take(const char *name, const char *value, struct emb_quick *q)
{
    for (int i = 0; i < EMB_N_ASK; i++) {
        if (strcmp(emb_questions[i].name, name) == 0) {
            q->answer[i] = value;
        }
    }
}

static void apply(const struct option *o, const char *value, struct emb_cli_args *a)
{
    void *member = (char *)a + o->at;
    if (o->id == SET) {
        a->set[a->n_set++] = value;
    } else if (o->id == REQUIRE && value != NULL) {
        a->require[a->n_require++] = value;
    } else if (o->id == REQUIRE) {
        a->require_all = true;
    } else if (o->id == ANSWER) {
        answer_take(o->name + 2, value, &a->quick);
    } else if (o->id == FAULT) {
        if (a->quick.n_fault < EMB_MAX_FAULT) {
            a->quick.fault[a->quick.n_fault++] = value;
        }
    } else if (o->kind == FLAG) {
        *(bool *)member = true;
    } else {
        *(const char **)member = value;
    }
}

/* Reads the option at text[*i]; *i moves on over a value that stands apart. */
static enum emb_status option_read(int n, char **text, int *i, const struct emb_cli_command *c,
                                   struct emb_cli_args *a, struct emb_err *err)
{
    const char *word = text[*i], *equals = strchr(word, '=');
    const size_t length = equals != NULL ? (size_t)(equals - word) : strlen(word);
    const struct option *o = option_find(word, length, c->bit);
    const char *value = equals != NULL ? equals + 1 : NULL;
    if (o == NULL) {
        return unknown_option(word, length, c, err);
    }
    if ((o->commands & c->bit) == 0) {
        return emb_fail(err, EMB_ERR_USAGE, o->name, "is no option of '%s'", c->name);
    }
    if (o->kind == FLAG && value != NULL) {
        return emb_fail(err, EMB_ERR_USAGE, o->name, "takes no value, got '%s'", value);
    }
    if (o->kind == VALUE && value == NULL) {
        if (*i + 1 >= n) {
            return emb_fail(err, EMB_ERR_USAGE, o->name, "needs a value: %s %s", o->name, o->value);
        }
        value = text[++*i];
    }
    if ((o->kind == VALUE || o->kind == MAYBE) && value != NULL && value[0] == '\0') {
        return emb_fail(err, EMB_ERR_USAGE, o->name, "got an empty value; use %s %s", o->name,
                        o->value);
    }
    apply(o, value, a);
    return EMB_OK;
}

enum emb_status emb_cli_parse(int n, char **text, const struct emb_cli_command *c,
                              struct emb_cli_args *a, struct emb_err *err)
{
    bool only_words = false;
    enum emb_status st = EMB_OK;
    *a = (struct emb_cli_args){.format = "text"};
    a->set = calloc((size_t)n + 1, sizeof *a->set);
    a->require = calloc((size_t)n + 1, sizeof *a->require);
    a->words = calloc((size_t)n + 1, sizeof *a->words);
    if (a->set == NULL || a->require == NULL || a->words == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    for (int i = 0; i < n && st == EMB_OK; i++) {
        if (!only_words && strcmp(text[i], "--") == 0) {
            only_words = true;
        } else if (!only_words && text[i][0] == '-' && text[i][1] != '\0') {
            st = option_read(n, text, &i, c, a, err);
        } else if (a->n_word >= c->max_words) {
            st = emb_fail(err, EMB_ERR_USAGE, text[i],
                          "one argument too many; use: emberpipe %s %s", c->name, c->argument);
        } else {
            a->words[a->n_word++] = text[i];
            a->word = a->words[0];
        }
    }
    if (st == EMB_OK && c->needs_word && a->word == NULL && !a->help) {
        st = emb_fail(err, EMB_ERR_USAGE, c->name, "needs %s; see emberpipe %s --help", c->argument,
                      c->name);
    }
    return st;
}

void emb_cli_args_free(struct emb_cli_args *a)
{
    free(a->set);
    free(a->require);
    free(a->words);
}

void emb_cli_options_print(int bit, FILE *f)
{
    for (size_t i = 0; i < N_OPTION; i++) {
        if ((options[i].commands & bit) != 0) {
            char both[64];
            snprintf(both, sizeof both, "%s%s%s", options[i].name,
                     options[i].kind == VALUE ? " " : "", options[i].value);
            fprintf(f, "  %-26s %s\n", both, options[i].help);
        }
    }
}
