/* dialogue.c - the quick case asked for line by line. */
#include <string.h>
#include <unistd.h>

#include "cli.h"
#include "dialogue.h"
#include "emberpipe/shelf.h"

/* One line of standard input without its end, trimmed. False: the input is over. */
static bool line_read(char *buf, size_t size)
{
    fflush(stdout);
    if (fgets(buf, (int)size, stdin) == NULL) {
        return false;
    }
    size_t n = strlen(buf);
    if (n > 0 && buf[n - 1] != '\n') {
        for (int c = getchar(); c != '\n' && c != EOF; c = getchar()) {
            ; /* the rest of a line that is too long for any answer */
        }
    }
    while (n > 0 && strchr(" \t\r\n", buf[n - 1]) != NULL) {
        buf[--n] = '\0';
    }
    const size_t lead = strspn(buf, " \t");
    memmove(buf, buf + lead, n - lead + 1);
    return true;
}

static void choices_print(const char *shelf, bool numbered, FILE *f)
{
    size_t n = 0;
    char **names = emb_shelf_names(shelf, &n), about[200];
    for (size_t i = 0; i < n; i++) {
        if (numbered) {
            fprintf(f, "  %zu", i + 1);
        }
        fprintf(f, "  %-30s %s\n", names[i], emb_quick_about(shelf, names[i], about, sizeof about));
    }
    emb_shelf_free(names, n);
}

void emb_cli_choices(const char *shelf, FILE *f)
{
    choices_print(shelf, false, f);
}

/* "2" becomes the second name of the list; what is no such number stays. */
static void number_to_name(const char *shelf, char *text, size_t size)
{
    size_t n = 0;
    char **names = emb_shelf_names(shelf, &n);
    const size_t at =
        text[0] >= '1' && text[0] <= '9' && text[1] == '\0' ? (size_t)(text[0] - '0') : 0;
    if (at > 0 && at <= n) {
        snprintf(text, size, "%s", names[at - 1]);
    }
    emb_shelf_free(names, n);
}

void emb_cli_faults(FILE *f)
{
    for (size_t i = 0; i < emb_n_fault; i++) {
        char both[64];
        snprintf(both, sizeof both, "%s=%s", emb_faults[i].name, emb_faults[i].example);
        fprintf(f, "  %-30s %s\n", both, emb_faults[i].meaning);
    }
}

static bool ask_one(struct emb_cli_dialogue *d, int which)
{
    const struct emb_question *q = &emb_questions[which];
    char msg[EMB_ANSWER_MSG], *text = d->text[which];
    if (q->shelf != NULL) {
        choices_print(q->shelf, true, stdout);
    }
    for (;;) {
        printf("%s%s [%s]: ", q->prompt, q->shelf != NULL ? " (number or name)" : "",
               q->def[0] != '\0' ? q->def : "as the class");
        if (!line_read(text, sizeof d->text[which])) {
            return false;
        }
        if (q->shelf != NULL) {
            number_to_name(q->shelf, text, sizeof d->text[which]);
        }
        if (strcmp(text, "?") == 0) {
            if (q->shelf != NULL) {
                choices_print(q->shelf, true, stdout);
            } else {
                printf("  a %s with its unit: %s\n", emb_dim_name(q->dim), emb_dim_units(q->dim));
            }
        } else if (text[0] == '\0') {
            return true; /* the default */
        } else if (emb_quick_answer_ok((enum emb_answer)which, text, msg)) {
            d->quick.answer[which] = text;
            return true;
        } else {
            printf("  %s\n", msg);
        }
    }
}

static bool ask_faults(struct emb_cli_dialogue *d)
{
    while (d->quick.n_fault < EMB_MAX_FAULT) {
        char msg[EMB_ANSWER_MSG], *text = d->fault[d->quick.n_fault];
        fputs("Known fault as name=value (? lists them; Enter: no more): ", stdout);
        if (!line_read(text, sizeof d->fault[0])) {
            return false;
        }
        if (text[0] == '\0') {
            return true;
        }
        if (strcmp(text, "?") == 0) {
            emb_cli_faults(stdout);
        } else if (emb_quick_fault_ok(text, msg)) {
            d->quick.fault[d->quick.n_fault++] = text;
        } else {
            printf("  %s\n", msg);
        }
    }
    return true;
}

static bool ask_file(struct emb_cli_dialogue *d, const char *given, bool *replace)
{
    for (;;) {
        char yes[16];
        snprintf(d->file, sizeof d->file, "%s", given != NULL ? given : "");
        if (given == NULL) {
            printf("Write the case to [%s]: ", EMB_CLI_QUICK_FILE);
            if (!line_read(d->file, sizeof d->file)) {
                return false;
            }
        }
        if (d->file[0] == '\0') {
            snprintf(d->file, sizeof d->file, "%s", EMB_CLI_QUICK_FILE);
        }
        if (*replace || access(d->file, F_OK) != 0) {
            return true;
        }
        printf("'%s' exists. Replace it? yes or no [no]: ", d->file);
        if (!line_read(yes, sizeof yes)) {
            return false;
        }
        if (strcmp(yes, "yes") == 0 || strcmp(yes, "y") == 0) {
            *replace = true;
            return true;
        }
        if (given != NULL) {
            return true; /* saving will refuse it */
        }
    }
}

enum emb_status emb_cli_ask(struct emb_cli_dialogue *d, const char *file, bool *replace,
                            struct emb_err *err)
{
    bool ok = true;
    puts("Enter takes the answer in brackets; numbers need their unit.");
    for (int i = 0; ok && i < EMB_N_ASK; i++) {
        ok = ask_one(d, i);
    }
    ok = ok && ask_faults(d) && ask_file(d, file, replace);
    if (!ok) {
        puts("");
        return emb_fail(err, EMB_ERR_USAGE, "", "the answers ended too early; nothing was written");
    }
    puts("");
    return EMB_OK;
}
