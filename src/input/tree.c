/* tree.c - paths and places in a YAML text. */
#include "tree.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

enum emb_status emb_tree_parse(const char *text, struct emb_tree *t, struct emb_err *err)
{
    yaml_parser_t parser;
    t->text = text;
    if (!yaml_parser_initialize(&parser)) {
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, (const unsigned char *)text, strlen(text));
    const int ok = yaml_parser_load(&parser, &t->doc);
    const size_t line = parser.problem_mark.line + 1;
    yaml_parser_delete(&parser);
    if (!ok) {
        return emb_fail(err, EMB_ERR_CONFIG, "", "not readable as YAML, line %zu", line);
    }
    const yaml_node_t *root = yaml_document_get_root_node(&t->doc);
    if (root == NULL || root->type != YAML_MAPPING_NODE) {
        yaml_document_delete(&t->doc);
        return emb_fail(err, EMB_ERR_CONFIG, "", "the text is no block of keys");
    }
    return EMB_OK;
}

void emb_tree_free(struct emb_tree *t)
{
    yaml_document_delete(&t->doc);
}

/* The library's getters do not change the document, but do not promise it in their types. */
static yaml_document_t *document(const struct emb_tree *t)
{
    return (yaml_document_t *)(uintptr_t)&t->doc;
}

const yaml_node_t *emb_tree_node(const struct emb_tree *t, int index)
{
    return yaml_document_get_node(document(t), index);
}

size_t emb_tree_byte(const struct emb_tree *t, size_t mark)
{
    const char *p = t->text;
    for (size_t i = 0; i < mark && *p != '\0'; i++) {
        do {
            p++;
        } while (((unsigned char)*p & 0xC0U) == 0x80U);
    }
    return (size_t)(p - t->text);
}

const char *emb_tree_word(const char *path, char *word, size_t size)
{
    const size_t n = strcspn(path, ".[]"), k = n < size ? n : size - 1;
    memcpy(word, path, k);
    word[k] = '\0';
    path += n;
    return path + strspn(path, ".[]");
}

const yaml_node_t *emb_tree_child(const struct emb_tree *t, const yaml_node_t *map, const char *key)
{
    if (map->type != YAML_MAPPING_NODE) {
        return NULL;
    }
    for (yaml_node_pair_t *p = map->data.mapping.pairs.start; p < map->data.mapping.pairs.top;
         p++) {
        const yaml_node_t *k = emb_tree_node(t, p->key);
        if (k->type == YAML_SCALAR_NODE && strcmp((const char *)k->data.scalar.value, key) == 0) {
            return emb_tree_node(t, p->value);
        }
    }
    return NULL;
}

/* Entry of a list by its number or by the value of its key `name`. */
static const yaml_node_t *entry(const struct emb_tree *t, const yaml_node_t *list, const char *word)
{
    const yaml_node_item_t *first = list->data.sequence.items.start;
    const size_t n = (size_t)(list->data.sequence.items.top - first);
    for (size_t i = 0; i < n; i++) {
        const yaml_node_t *e = emb_tree_node(t, first[i]), *name = emb_tree_child(t, e, "name");
        if (name != NULL && name->type == YAML_SCALAR_NODE &&
            strcmp((const char *)name->data.scalar.value, word) == 0) {
            return e;
        }
    }
    char *end = NULL;
    const unsigned long i = strtoul(word, &end, 10);
    return isdigit((unsigned char)*word) && *end == '\0' && i < n ? emb_tree_node(t, first[i])
                                                                  : NULL;
}

/* The one block of keys in a mapping (the kind of an element), if there is just one. */
static const yaml_node_t *only_block(const struct emb_tree *t, const yaml_node_t *map)
{
    const yaml_node_t *found = NULL;
    for (yaml_node_pair_t *p = map->data.mapping.pairs.start; p < map->data.mapping.pairs.top;
         p++) {
        const yaml_node_t *v = emb_tree_node(t, p->value);
        if (v->type == YAML_MAPPING_NODE) {
            if (found != NULL) {
                return NULL;
            }
            found = v;
        }
    }
    return found;
}

const yaml_node_t *emb_tree_find(const struct emb_tree *t, const char *path, const char **rest)
{
    const yaml_node_t *node = yaml_document_get_root_node(document(t));
    bool line_entry = false;
    *rest = path;
    while (**rest != '\0') {
        char word[64];
        const char *after = emb_tree_word(*rest, word, sizeof word);
        const yaml_node_t *next =
            node->type == YAML_SEQUENCE_NODE ? entry(t, node, word) : emb_tree_child(t, node, word);
        if (next == NULL && line_entry && (next = only_block(t, node)) != NULL) {
            node = next; /* the kind of an element was left out */
            line_entry = false;
            continue;
        }
        if (next == NULL) {
            return node;
        }
        line_entry = node->type == YAML_SEQUENCE_NODE && strncmp(path, "line", 4) == 0;
        node = next;
        *rest = after;
    }
    return node;
}
