/* set.c - "path=value" from the command line into the record, before parts and defaults. */
#include "input.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

/* Where a path has led so far. */
struct place { const struct emb_block *b; void **rec; char path[EMB_PATH]; };

static bool place_path(struct place *p, const char *key, size_t i)
{
    const size_t n = strlen(p->path);
    const int w = key != NULL ? snprintf(p->path + n, sizeof p->path - n, "%s%s", n > 0 ? "." : "", key)
                              : snprintf(p->path + n, sizeof p->path - n, "[%zu]", i);
    return w > 0 && (size_t)w < sizeof p->path - n;
}

static void set_unknown(struct emb_loader *l, const struct place *p, const char *word, const char *assignment)
{
    char near[200];
    emb_suggest_key(p->b, word, near, sizeof near);
    emb_problem_add(l, "--set", "%.80s: no key '%.40s' in %s%s", assignment, word,
                    p->path[0] != '\0' ? p->path : "the case", near);
}

/* The one kind block of an element, so that line.doc.blocked needs no kind. */
static int place_kind(const struct place *p, const char *word)
{
    for (size_t i = 0; p->b == &emb_block_element && i < p->b->n; i++) {
        const struct emb_field *f = &p->b->field[i];
        if (f->kind == EMB_FIELD_BLOCK && p->rec[i] != NULL && emb_field_find(f->block, word) >= 0 &&
            emb_field_find(p->b, word) < 0) {
            return (int)i;
        }
    }
    return -1;
}

static bool place_enter(struct emb_loader *l, struct place *p, int i)
{
    const struct emb_field *f = &p->b->field[i];
    if (p->rec[i] == NULL && (p->rec[i] = emb_record_new(f->block)) == NULL) {
        l->no_memory = true;
        return false;
    }
    const bool ok = place_path(p, f->key, 0);
    p->rec = p->rec[i];
    p->b = f->block;
    return ok;
}

static bool place_entry(struct emb_loader *l, struct place *p, int i, const char *word, const char *assignment)
{
    const struct emb_field *f = &p->b->field[i];
    const size_t n = p->rec[i] != NULL ? *emb_slot_count(p->b, p->rec, (size_t)i) : 0;
    const int name = emb_field_find(f->block, "name");
    const char *names[64] = {NULL};
    size_t found = n, n_name = 0;
    if (isdigit((unsigned char)word[0])) {
        found = strtoul(word, NULL, 10);
    }
    for (size_t k = 0; k < n; k++) {
        const char *have = ((void **)p->rec[i] + k * 2 * f->block->n)[name];
        if (have != NULL && n_name < 64) {
            names[n_name++] = have;
        }
        found = have != NULL && strcmp(have, word) == 0 && found >= n ? k : found;
    }
    if (found >= n) {
        char near[200];
        emb_suggest(word, names, n_name, near, sizeof near);
        emb_problem_add(l, "--set", "%.80s: no entry '%.40s' in %s (%zu entries)%s", assignment, word, f->key, n, near);
        return false;
    }
    p->rec = (void **)p->rec[i] + found * 2 * f->block->n;
    p->b = f->block;
    return place_path(p, f->key, 0) && place_path(p, NULL, found);
}

static void set_value(struct emb_loader *l, struct place *p, int i, const char *value)
{
    const size_t n = strlen(value) + 1;
    char *text = malloc(n), (*grown)[EMB_PATH] = realloc(l->set, (l->n_set + 1) * sizeof *grown);
    if (grown != NULL) {
        l->set = grown;
    }
    if (text == NULL || grown == NULL || !place_path(p, p->b->field[i].key, 0)) {
        l->no_memory = true;
        free(text);
        return;
    }
    memcpy(text, value, n);
    memcpy(l->set[l->n_set++], p->path, sizeof p->path);
    free(p->rec[i]);
    p->rec[i] = text;
}

/* Cuts the next word off the path; brackets and dots both separate. */
static const char *word_next(const char *p, char *word, size_t size)
{
    p += strspn(p, ".[]");
    const size_t n = strcspn(p, ".[]");
    snprintf(word, size, "%.*s", (int)(n < size ? n : size - 1), p);
    p += n;
    return p + strspn(p, ".[]");
}

/* The entry of a list, by name or number; a key of it must follow. */
static bool set_entry(struct emb_loader *l, struct place *p, int i, const char **at, const char *assignment)
{
    char entry[64];
    *at = word_next(*at, entry, sizeof entry);
    if (!place_entry(l, p, i, entry, assignment)) {
        return false;
    }
    if (**at == '\0') {
        emb_problem_add(l, "--set", "%.80s: name a key of the entry", assignment);
    }
    return **at != '\0';
}

void emb_record_set(struct emb_loader *l, const struct emb_block *b, void **rec, const char *assignment)
{
    struct place p = {b, rec, ""};
    const char *equals = strchr(assignment, '=');
    char path[EMB_PATH], word[64];
    if (equals == NULL || equals == assignment || equals - assignment >= (long)sizeof path) {
        emb_problem_add(l, "--set", "%.80s: write path=value, for example ambient.temperature=-10 degC", assignment);
        return;
    }
    snprintf(path, sizeof path, "%.*s", (int)(equals - assignment), assignment);
    for (const char *at = path; *at != '\0';) {
        at = word_next(at, word, sizeof word);
        const int kind = place_kind(&p, word);
        if (kind >= 0 && !place_enter(l, &p, kind)) {
            return;
        }
        const int i = emb_field_find(p.b, word);
        if (i < 0) {
            set_unknown(l, &p, word, assignment);
            return;
        }
        const enum emb_field_kind is = p.b->field[i].kind;
        const bool deep = is == EMB_FIELD_BLOCK || is == EMB_FIELD_LIST;
        if (deep == (*at == '\0')) {
            emb_problem_add(l, "--set", "%.80s: '%.40s' %s", assignment, word,
                            deep ? "holds keys; name one of them" : "is a single value and holds no keys");
            return;
        }
        if (is == EMB_FIELD_TEXTS) {
            emb_problem_add(l, "--set", "%.80s: '%.40s' is a list and can be given in the file only", assignment, word);
            return;
        }
        if (!deep) {
            set_value(l, &p, i, equals + 1);
            return;
        }
        if (is != EMB_FIELD_LIST ? !place_enter(l, &p, i) : !set_entry(l, &p, i, &at, assignment)) {
            return;
        }
    }
}
