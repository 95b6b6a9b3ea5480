/* result.c - what a result owns, and finding a series in it. */
#include "emberpipe/result.h"

#include <stdlib.h>
#include <string.h>

void emb_result_free(struct emb_result *r)
{
    if (r == NULL) {
        return;
    }
    free(r->column);
    free(r->row);
    free(r->verdict);
    free(r->book);
    free(r->heat);
    free(r->warning);
    free(r->total);
    free(r->note);
    free(r->span);
    free(r->element);
    free(r->place);
    free(r->profile);
    memset(r, 0, sizeof *r);
}

int emb_result_find(const struct emb_result *r, const char *column)
{
    for (size_t i = 0; i < r->n_column; i++) {
        if (strcmp(r->column[i].name, column) == 0) {
            return (int)i;
        }
    }
    return -1;
}
