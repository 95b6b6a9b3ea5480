/* stated.c - which keys a case file itself gives, as opposed to its parts and the defaults. */
#include <stdlib.h>
#include <string.h>

#include "emberpipe/vary.h"
#include "input.h"

/* Keys set on the command line count as well. */
static void sets_mark(const struct emb_case *c, const char *const *sets, size_t n_set,
                      const struct emb_place *place, size_t n, bool *stated)
{
    for (size_t i = 0; i < n_set; i++) {
        struct emb_place p;
        char path[EMB_PATH];
        snprintf(path, sizeof path, "%.*s", (int)strcspn(sets[i], "="), sets[i]);
        for (size_t k = 0; emb_place_find(c, path, &p, NULL) == EMB_OK && k < n; k++) {
            stated[k] = stated[k] || strcmp(place[k].path, p.path) == 0;
        }
    }
}

enum emb_status emb_case_stated(const struct emb_case *c, const char *const *sets, size_t n_set,
                                const struct emb_place *place, size_t n, bool *stated,
                                struct emb_err *err)
{
    struct emb_problems problems = {0};
    struct emb_loader l = {.file = c->file, .problems = &problems, .units = emb_units_new()};
    size_t index = 0;
    memset(stated, 0, n * sizeof *stated);
    sets_mark(c, sets, n_set, place, n, stated);
    if (l.units == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "case", "out of memory");
    }
    if (c->file != NULL && emb_doc_load(&l, c->file, "", &emb_block_case, &index) == 0) {
        for (size_t i = 0; i < n; i++) {
            bool exact = false;
            emb_doc_find(&l.doc[index], place[i].path, &exact);
            stated[i] = stated[i] || exact;
        }
    }
    emb_loader_free(&l);
    emb_problems_free(&problems);
    return EMB_OK;
}
