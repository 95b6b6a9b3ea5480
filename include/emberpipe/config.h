/* config.h - YAML file to case, with every problem reported. */
#ifndef EMB_CONFIG_H
#define EMB_CONFIG_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/case.h"
#include "emberpipe/status.h"
struct emb_problem {
    char file[200];
    int line, column;
    char path[160];
    char text[400];
}; /* line 0: unknown */
struct emb_problems {
    size_t n;
    struct emb_problem *item;
};
void emb_problems_free(struct emb_problems *p);
/* sets: n_set strings "path=value" applied over the file. All problems are collected; the first
 * also goes to err. On failure *out holds nothing to free. */
enum emb_status emb_config_load(const char *file, const char *const *sets, size_t n_set,
                                struct emb_case *out, struct emb_problems *problems,
                                struct emb_err *err);

/* What a case says, key by key, with the defaults that fill the gaps. */
struct emb_input_value {
    char path[160]; /* "line.doc.oxidation_catalyst.length"; list entries by their name */
    char *text;     /* "5 in", as a user would write it */
    bool given;     /* false: the default */
    const char *help, *source; /* of the field table; source may be NULL */
};
struct emb_input_values {
    size_t n;
    struct emb_input_value *item;
};
/* Blocks that are left out and without which a part is absent (an engine) are not listed. A file
 * that emb_config_load refuses is refused here too, with less to say about it. */
enum emb_status emb_config_values(const char *file, const char *const *sets, size_t n_set,
                                  struct emb_input_values *out, struct emb_err *err);
void emb_input_values_free(struct emb_input_values *v); /* what it owns, not v */
#endif
