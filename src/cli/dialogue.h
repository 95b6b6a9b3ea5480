/* dialogue.h - questions and answers in the terminal. Private to the cli room. */
#ifndef EMB_DIALOGUE_H
#define EMB_DIALOGUE_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/quick.h"

#define EMB_CLI_QUICK_FILE "quick.yaml"
struct emb_cli_dialogue { /* owns the text of the answers that `quick` points to */
    struct emb_quick quick;
    char text[EMB_N_ASK][100], fault[EMB_MAX_FAULT][100], file[400];
};
/* Fills d; *replace becomes true when the user agreed to lose the file that exists. */
enum emb_status emb_cli_ask(struct emb_cli_dialogue *d, const char *file, bool *replace,
                            struct emb_err *err);
void emb_cli_choices(const char *shelf, FILE *f);
void emb_cli_faults(FILE *f);
#endif
