/* config.h - YAML file to case, with every problem reported. */
#ifndef EMB_CONFIG_H
#define EMB_CONFIG_H
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
#endif
