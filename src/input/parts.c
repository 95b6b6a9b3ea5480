/* parts.c - follows `use: name` of every block to parts/name.yaml; keys given in the block win. */
#include "input.h"
#include "emberpipe/shelf.h"

#include <stdlib.h>
#include <string.h>

static bool file_there(const char *file)
{
    FILE *f = fopen(file, "rb");
    if (f != NULL) {
        fclose(f);
    }
    return f != NULL;
}

/* Beside the case, beside its parent, then on the shelf. */
static bool part_find(const struct emb_loader *l, const char *name, char *file, size_t size)
{
    const char *slash = strrchr(l->file, '/');
    const int dir = slash != NULL ? (int)(slash - l->file) : 1;
    const char *base = slash != NULL ? l->file : ".";
    snprintf(file, size, "%.*s/parts/%s.yaml", dir, base, name);
    if (file_there(file)) {
        return true;
    }
    snprintf(file, size, "%.*s/../parts/%s.yaml", dir, base, name);
    if (file_there(file)) {
        return true;
    }
    return emb_shelf_find("parts", name, file, size);
}

/* Takes one part into rec; the part's own `use` is left in the slot for the next round. */
static bool part_take(struct emb_loader *l, const struct emb_block *b, void **rec, const char *path, const char *name)
{
    char file[400];
    size_t index = 0;
    if (!emb_shelf_name_ok(name)) {
        emb_problem_add(l, path, "'%.60s' is not a part name (letters, digits, _ and -)", name);
        return false;
    }
    if (!part_find(l, name, file, sizeof file)) {
        emb_problem_add(l, path, "part '%.60s' not found: no parts/%.60s.yaml beside the case, in its parent folder, in "
                        "$EMBERPIPE_CONFIGS, ./configs or the installed configs", name, name);
        return false;
    }
    char prefix[EMB_PATH];
    snprintf(prefix, sizeof prefix, "%.*s", (int)(strlen(path) - strlen(".use")), path);
    if (emb_doc_load(l, file, prefix, b, &index) != 0) {
        return false;
    }
    void **part = emb_record_read(l, &l->doc[index], b);
    if (part == NULL) {
        return false;
    }
    emb_record_merge(b, rec, part);
    emb_record_free(b, part);
    return true;
}

static void part_chain(struct emb_loader *l, const struct emb_block *b, void **rec, const char *path)
{
    char used[EMB_MAX_PART][64], at[EMB_PATH + 8];
    const int i = emb_field_find(b, "use");
    if (i < 0 || rec[i] == NULL) {
        return;
    }
    snprintf(at, sizeof at, "%s.use", path);
    for (size_t depth = 0; rec[i] != NULL; depth++) {
        char *name = rec[i];
        rec[i] = NULL;
        bool go = depth < EMB_MAX_PART;
        if (!go) {
            emb_problem_add(l, at, "parts use parts more than %d deep", EMB_MAX_PART);
        }
        for (size_t k = 0; go && k < depth; k++) {
            if (strcmp(used[k], name) == 0) {
                emb_problem_add(l, at, "part '%.60s' uses itself", name);
                go = false;
            }
        }
        if (go) {
            snprintf(used[depth], sizeof used[depth], "%s", name);
            go = part_take(l, b, rec, at, name);
        }
        free(name);
        if (!go) {
            return;
        }
    }
}

void emb_parts_apply(struct emb_loader *l, const struct emb_block *b, void **rec, const char *path)
{
    part_chain(l, b, rec, path);
    for (size_t i = 0; i < b->n; i++) {
        const struct emb_field *f = &b->field[i];
        char at[EMB_PATH];
        if (f->block == NULL || rec[i] == NULL ||
            snprintf(at, sizeof at, "%s%s%s", path, *path != '\0' ? "." : "", f->key) >= (int)sizeof at) {
            continue;
        }
        if (f->kind == EMB_FIELD_BLOCK) {
            emb_parts_apply(l, f->block, rec[i], at);
            continue;
        }
        for (size_t k = 0; k < *emb_slot_count(b, rec, i); k++) {
            char item[EMB_PATH + 24];
            snprintf(item, sizeof item, "%s[%zu]", at, k);
            emb_parts_apply(l, f->block, (void **)rec[i] + k * 2 * f->block->n, item);
        }
    }
}
