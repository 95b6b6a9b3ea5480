#include "demo_case.h"

#include <stdlib.h>

#include "emberpipe/config.h"

int demo_case_load(void **state)
{
    struct emb_case *c = calloc(1, sizeof *c);
    struct emb_err err = {EMB_OK, "", ""};
    if (c == NULL || emb_config_load("configs/quickstart.yaml", NULL, 0, c, NULL, &err) != EMB_OK) {
        free(c);
        return -1;
    }
    *state = c;
    return 0;
}

int demo_case_unload(void **state)
{
    emb_case_free(*state);
    free(*state);
    return 0;
}
