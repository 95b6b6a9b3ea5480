/* merge.c - fragments and parts written into a text, key by key. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/edit.h"
#include "emberpipe/field.h"
#include "emberpipe/shelf.h"
#include "tree.h"

enum { PATH = 200 };

/* Adds every single value below `map` whose path, put behind `prefix`, the text lacks. Backwards,
 * because each one is added as the first of its block. */
static enum emb_status add_below(char **text, const struct emb_tree *t, const yaml_node_t *map,
                                 const char *prefix, struct emb_err *err)
{
    enum emb_status st = EMB_OK;
    yaml_node_pair_t *first = map->data.mapping.pairs.start;
    for (yaml_node_pair_t *p = map->data.mapping.pairs.top; st == EMB_OK && p > first;) {
        p--;
        const yaml_node_t *k = emb_tree_node(t, p->key), *v = emb_tree_node(t, p->value);
        char path[PATH];
        if (k->type != YAML_SCALAR_NODE || snprintf(path, sizeof path, "%s.%s", prefix,
                                                    (const char *)k->data.scalar.value) >= PATH) {
            return emb_fail(err, EMB_ERR_CONFIG, prefix, "unreadable key");
        }
        if (v->type == YAML_MAPPING_NODE) {
            st = add_below(text, t, v, path, err);
        } else if (v->type != YAML_SCALAR_NODE) {
            st = emb_fail(err, EMB_ERR_CONFIG, path, "lists cannot be merged");
        } else if (!emb_edit_has(*text, path)) {
            st = emb_edit_set(text, path, (const char *)v->data.scalar.value, err);
        }
    }
    return st;
}

/* One top-level block of the fragment: to the block of that name, or to each element of that kind.
 */
static enum emb_status add_block(char **text, const struct emb_tree *t, const char *key,
                                 const yaml_node_t *map, struct emb_err *err)
{
    enum emb_status st = EMB_OK;
    if (emb_field_find(&emb_block_element, key) < 0 || strcmp(key, "name") == 0) {
        return add_below(text, t, map, key, err);
    }
    for (int i = 0; st == EMB_OK; i++) {
        char entry[PATH], kind[PATH];
        snprintf(entry, sizeof entry, "line[%d]", i);
        snprintf(kind, sizeof kind, "line[%d].%s", i, key);
        if (!emb_edit_has(*text, entry)) {
            break;
        }
        if (emb_edit_has(*text, kind)) {
            st = add_below(text, t, map, kind, err);
        }
    }
    return st;
}

enum emb_status emb_edit_merge(char **text, const char *fragment, struct emb_err *err)
{
    struct emb_tree t;
    enum emb_status st = emb_tree_parse(fragment, &t, err);
    if (st != EMB_OK) {
        return st;
    }
    const yaml_node_t *root = emb_tree_node(&t, 1);
    for (yaml_node_pair_t *p = root->data.mapping.pairs.start;
         st == EMB_OK && p < root->data.mapping.pairs.top; p++) {
        const yaml_node_t *k = emb_tree_node(&t, p->key), *v = emb_tree_node(&t, p->value);
        const char *key = (const char *)k->data.scalar.value;
        if (v->type == YAML_MAPPING_NODE) {
            st = add_block(text, &t, key, v, err);
        } else if (v->type == YAML_SCALAR_NODE && !emb_edit_has(*text, key)) {
            st = emb_edit_set(text, key, (const char *)v->data.scalar.value, err);
        }
    }
    emb_tree_free(&t);
    return st;
}

/* Appends "key: value" of every pair of the part that `map` lacks, joined for map's style. */
static void pairs_join(const struct emb_tree *part, const struct emb_tree *t,
                       const yaml_node_t *map, const char *join, char *buf, size_t size)
{
    const yaml_node_t *root = emb_tree_node(part, 1);
    size_t n = 0;
    buf[0] = '\0';
    for (yaml_node_pair_t *p = root->data.mapping.pairs.start;
         p < root->data.mapping.pairs.top && n < size; p++) {
        const yaml_node_t *k = emb_tree_node(part, p->key), *v = emb_tree_node(part, p->value);
        const char *key = (const char *)k->data.scalar.value;
        if (emb_tree_child(t, map, key) == NULL || strcmp(key, "use") == 0) {
            const size_t from = emb_tree_byte(part, v->start_mark.index),
                         to = emb_tree_byte(part, v->end_mark.index);
            n += (size_t)snprintf(buf + n, size - n, "%s%s: %.*s", n > 0 ? join : "", key,
                                  (int)(to - from), part->text + from);
        }
    }
}

/* Exchanges the pair `use: name` of map for the pairs of the part. */
static enum emb_status use_expand(char **text, const struct emb_tree *t, const yaml_node_t *map,
                                  const yaml_node_pair_t *pair, struct emb_err *err)
{
    const yaml_node_t *k = emb_tree_node(t, pair->key), *v = emb_tree_node(t, pair->value);
    const char *name = v->type == YAML_SCALAR_NODE ? (const char *)v->data.scalar.value : "";
    char file[600], with[4000], join[80], *bytes = NULL;
    struct emb_tree part;
    if (!emb_shelf_find("parts", name, file, sizeof file)) {
        return emb_fail(err, EMB_ERR_CONFIG, "use", "part '%.60s' was not found", name);
    }
    enum emb_status st = emb_edit_read(file, &bytes, err);
    if (st == EMB_OK && (st = emb_tree_parse(bytes, &part, err)) == EMB_OK) {
        const bool flow = map->data.mapping.style == YAML_FLOW_MAPPING_STYLE;
        snprintf(join, sizeof join, flow ? ", " : "\n%*s", (int)k->start_mark.column, "");
        pairs_join(&part, t, map, join, with, sizeof with);
        const size_t from = emb_tree_byte(t, k->start_mark.index), n = strlen(*text);
        size_t to = emb_tree_byte(t, v->end_mark.index);
        to += with[0] == '\0' && flow ? strspn(*text + to, ", ") : 0; /* nothing to add */
        char *out = malloc(n + strlen(with) + 1);
        if (out == NULL) {
            st = emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
        } else {
            snprintf(out, n + strlen(with) + 1, "%.*s%s%s", (int)from, *text, with, *text + to);
            free(*text);
            *text = out;
        }
        emb_tree_free(&part);
    }
    free(bytes);
    return st;
}

/* Expands the first `use` it meets; *found tells whether there was one. */
static enum emb_status expand_one(char **text, bool *found, struct emb_err *err)
{
    struct emb_tree t;
    enum emb_status st = emb_tree_parse(*text, &t, err);
    *found = false;
    if (st != EMB_OK) {
        return st;
    }
    const yaml_node_t *map;
    for (int i = 1; !*found && (map = emb_tree_node(&t, i)) != NULL; i++) {
        if (map->type != YAML_MAPPING_NODE) {
            continue;
        }
        for (yaml_node_pair_t *p = map->data.mapping.pairs.start;
             !*found && p < map->data.mapping.pairs.top; p++) {
            const yaml_node_t *k = emb_tree_node(&t, p->key);
            if (strcmp((const char *)k->data.scalar.value, "use") == 0) {
                *found = true;
                st = use_expand(text, &t, map, p, err);
            }
        }
    }
    emb_tree_free(&t);
    return st;
}

enum emb_status emb_edit_expand(char **text, struct emb_err *err)
{
    bool found = true;
    enum emb_status st = EMB_OK;
    for (int i = 0; st == EMB_OK && found; i++) {
        if (i > 500) {
            return emb_fail(err, EMB_ERR_CONFIG, "use", "parts use each other in a circle");
        }
        st = expand_one(text, &found, err);
    }
    return st;
}
