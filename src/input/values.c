/* values.c - what a case says, key by key, read back from its record and the field table. */
#include "input.h"

#include <stdlib.h>
#include <string.h>

struct lister {
    struct emb_input_values *out;
    size_t room;
    bool no_memory;
};

static void value_add(struct lister *k, const char *path, const struct emb_field *f,
                      const char *text, bool given)
{
    if (k->out->n == k->room) {
        const size_t room = 2 * k->room + 64;
        struct emb_input_value *p = realloc(k->out->item, room * sizeof *p);
        if (p == NULL) {
            k->no_memory = true;
            return;
        }
        k->out->item = p;
        k->room = room;
    }
    struct emb_input_value *v = &k->out->item[k->out->n];
    *v = (struct emb_input_value){.given = given, .help = f->help, .source = f->source};
    snprintf(v->path, sizeof v->path, "%s", path);
    v->text = malloc(strlen(text) + 1);
    if (v->text == NULL) {
        k->no_memory = true;
        return;
    }
    memcpy(v->text, text, strlen(text) + 1);
    k->out->n++;
}

/* These hold for every case; any other block left out means that the thing itself is not there. */
static bool always_there(const struct emb_block *b)
{
    return b == &emb_block_ambient || b == &emb_block_solver;
}

/* Entries are told apart by their names, so that two cases can be compared entry by entry. */
static void entry_path(const struct emb_block *b, void **rec, const char *at, size_t i, char *path)
{
    const char *name = emb_record_text(b, rec, "name");
    if (name != NULL && *name != '\0') {
        snprintf(path, EMB_PATH, "%.95s.%.60s", at, name);
    } else {
        snprintf(path, EMB_PATH, "%.130s[%zu]", at, i);
    }
}

static void list_block(struct lister *k, const struct emb_block *b, void **rec, const char *path,
                       bool unset)
{
    for (size_t i = 0; i < b->n && !k->no_memory; i++) {
        const struct emb_field *f = &b->field[i];
        char at[EMB_PATH], item[EMB_PATH];
        snprintf(at, sizeof at, "%.95s%s%.60s", path, *path != '\0' ? "." : "", f->key);
        if (f->kind == EMB_FIELD_BLOCK) {
            if ((rec != NULL && rec[i] != NULL) || always_there(f->block)) {
                list_block(k, f->block, rec != NULL ? rec[i] : NULL, at, unset || f->override);
            }
        } else if (f->kind == EMB_FIELD_LIST) {
            const size_t n = rec != NULL && rec[i] != NULL ? *emb_slot_count(b, rec, i) : 0;
            for (size_t e = 0; e < n; e++) {
                void **entry = (void **)rec[i] + e * 2 * f->block->n;
                entry_path(f->block, entry, at, e, item);
                list_block(k, f->block, entry, item, unset);
            }
        } else if (rec != NULL && rec[i] != NULL) {
            value_add(k, at, f, rec[i], true);
        } else if (!unset && f->def != NULL && strcmp(f->def, EMB_UNSET) != 0 && *f->def != '\0') {
            value_add(k, at, f, f->def, false);
        }
    }
}

static enum emb_status values_read(struct emb_loader *l, const char *const *sets, size_t n_set,
                                   struct emb_input_values *out, struct emb_err *err)
{
    struct lister k = {out, 0, false};
    size_t index = 0;
    void **root = emb_doc_load(l, l->file, "", &emb_block_case, &index) == 0
                      ? emb_record_read(l, &l->doc[index], &emb_block_case)
                      : NULL;
    if (root != NULL) {
        for (size_t i = 0; i < n_set; i++) {
            emb_record_set(l, &emb_block_case, root, sets[i]);
        }
        emb_parts_apply(l, &emb_block_case, root, "");
        list_block(&k, &emb_block_case, root, "", false);
        emb_record_free(&emb_block_case, root);
    }
    if (l->no_memory || k.no_memory) {
        return emb_fail(err, EMB_ERR_NOMEM, l->file, "out of memory while reading");
    }
    if (root == NULL || l->problems->n > 0) {
        return emb_fail(err, EMB_ERR_CONFIG, l->file, "%s",
                        l->problems->n > 0 ? l->problems->item[0].text : "cannot be read");
    }
    return EMB_OK;
}

enum emb_status emb_config_values(const char *file, const char *const *sets, size_t n_set,
                                  struct emb_input_values *out, struct emb_err *err)
{
    struct emb_problems problems = {0};
    struct emb_loader l = {.file = file, .problems = &problems, .units = emb_units_new()};
    *out = (struct emb_input_values){0};
    if (l.units == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, file, "out of memory");
    }
    const enum emb_status st = values_read(&l, sets, n_set, out, err);
    if (st != EMB_OK) {
        emb_input_values_free(out);
    }
    emb_loader_free(&l);
    emb_problems_free(&problems);
    return st;
}

void emb_input_values_free(struct emb_input_values *v)
{
    for (size_t i = 0; i < v->n; i++) {
        free(v->item[i].text);
    }
    free(v->item);
    *v = (struct emb_input_values){0};
}
