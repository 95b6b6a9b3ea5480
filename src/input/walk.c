/* walk.c - shape of a whole document against the field table: the library that loads it stops at the first problem
 * and may name the wrong line, so all unknown keys, duplicates and wrong shapes are found here. */
#include "input.h"

#include <string.h>

struct walk { struct emb_loader *l; struct emb_doc *d; size_t fatal; };

static void walk_mapping(struct walk *w, const struct emb_block *b, const yaml_node_t *node, const char *path, int depth);

static const char *shape_name(yaml_node_type_t type)
{
    return type == YAML_SCALAR_NODE ? "a single value" : type == YAML_SEQUENCE_NODE ? "a list" : "a block of keys";
}

static void walk_wrong(struct walk *w, const yaml_node_t *node, const char *path, const char *wanted)
{
    const bool empty = node->type == YAML_SCALAR_NODE && node->data.scalar.length == 0;
    emb_problem_at(w->l, w->d->file, node->start_mark, path, "must be %s, is %s", wanted,
                   empty ? "empty" : shape_name(node->type));
    w->fatal++;
}

static void walk_list(struct walk *w, const struct emb_block *b, const yaml_node_t *node, const char *path, int depth)
{
    const size_t n = (size_t)(node->data.sequence.items.top - node->data.sequence.items.start);
    for (size_t i = 0; i < n; i++) {
        const yaml_node_t *item = yaml_document_get_node(&w->d->tree, node->data.sequence.items.start[i]);
        char at[EMB_PATH];
        if (snprintf(at, sizeof at, "%s[%zu]", path, i) < (int)sizeof at) {
            walk_mapping(w, b, item, at, depth);
        }
    }
}

static void walk_texts(struct walk *w, const yaml_node_t *node, const char *path)
{
    if (node->type != YAML_SEQUENCE_NODE) {
        walk_wrong(w, node, path, "a list, for example [a, b, c]");
        return;
    }
    const size_t n = (size_t)(node->data.sequence.items.top - node->data.sequence.items.start);
    for (size_t i = 0; i < n; i++) {
        const yaml_node_t *item = yaml_document_get_node(&w->d->tree, node->data.sequence.items.start[i]);
        if (item->type != YAML_SCALAR_NODE || item->data.scalar.length == 0) {
            walk_wrong(w, item, path, "a list of single values");
        } else if (memchr(item->data.scalar.value, 0, item->data.scalar.length) != NULL) {
            walk_wrong(w, item, path, "text without NUL characters");
        }
    }
}

static void walk_value(struct walk *w, const struct emb_field *f, const yaml_node_t *node, const char *path, int depth)
{
    if (f->kind == EMB_FIELD_BLOCK) {
        walk_mapping(w, f->block, node, path, depth);
    } else if (f->kind == EMB_FIELD_LIST) {
        if (node->type == YAML_SEQUENCE_NODE) {
            walk_list(w, f->block, node, path, depth);
        } else {
            walk_wrong(w, node, path, "a list (lines that start with -)");
        }
    } else if (f->kind == EMB_FIELD_TEXTS) {
        walk_texts(w, node, path);
    } else if (node->type != YAML_SCALAR_NODE) {
        walk_wrong(w, node, path, "a single value");
    } else if (memchr(node->data.scalar.value, 0, node->data.scalar.length) != NULL) {
        walk_wrong(w, node, path, "text without NUL characters");
    }
}

static void walk_key(struct walk *w, const struct emb_block *b, yaml_node_pair_t *pair, const char *path,
                     unsigned char *seen, int depth)
{
    const yaml_node_t *key = yaml_document_get_node(&w->d->tree, pair->key);
    const yaml_node_t *value = yaml_document_get_node(&w->d->tree, pair->value);
    if (key->type != YAML_SCALAR_NODE) {
        walk_wrong(w, key, path, "a plain key");
        return;
    }
    const char *text = (const char *)key->data.scalar.value;
    char at[EMB_PATH], near[200] = "";
    const int room = snprintf(at, sizeof at, "%s%s%.60s", path, *path != '\0' ? "." : "", text);
    const int i = emb_field_find(b, text);
    if (i < 0 || room >= (int)sizeof at) {
        if (w->l->problems->n < EMB_MAX_PROBLEMS) {
            emb_suggest_key(b, text, near, sizeof near);
        }
        emb_problem_at(w->l, w->d->file, key->start_mark, at, "unknown key '%.40s'%s", text, near);
    } else if (seen[i]) {
        emb_problem_at(w->l, w->d->file, key->start_mark, at, "key '%.40s' is given twice", text);
        w->fatal++;
    } else {
        seen[i] = 1;
        walk_value(w, &b->field[i], value, at, depth + 1);
    }
}

static void walk_mapping(struct walk *w, const struct emb_block *b, const yaml_node_t *node, const char *path, int depth)
{
    unsigned char seen[64] = {0};
    if (node->type != YAML_MAPPING_NODE) {
        walk_wrong(w, node, path, "a block of keys");
        return;
    }
    if (depth > EMB_MAX_DEPTH) {
        return; /* refused before */
    }
    for (yaml_node_pair_t *p = node->data.mapping.pairs.start; p < node->data.mapping.pairs.top; p++) {
        walk_key(w, b, p, path, seen, depth);
    }
}

size_t emb_doc_walk(struct emb_loader *l, struct emb_doc *d, const struct emb_block *b)
{
    struct walk w = {l, d, 0};
    walk_mapping(&w, b, yaml_document_get_root_node(&d->tree), d->prefix, 0);
    return w.fatal;
}
