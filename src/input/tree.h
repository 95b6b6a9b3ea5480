/* tree.h - a parsed YAML text with paths into it. Private to the input room. */
#ifndef EMB_TREE_H
#define EMB_TREE_H
#include <stdbool.h>
#include <stdint.h>
#include <yaml.h>
#include "emberpipe/status.h"

struct emb_tree {
    const char *text; /* borrowed */
    yaml_document_t doc;
};
enum emb_status emb_tree_parse(const char *text, struct emb_tree *t, struct emb_err *err);
void emb_tree_free(struct emb_tree *t);
const yaml_node_t *emb_tree_node(const struct emb_tree *t, int index);
/* As far as the path goes; *rest is what is left of it ("" when all of it was found). */
const yaml_node_t *emb_tree_find(const struct emb_tree *t, const char *path, const char **rest);
const yaml_node_t *emb_tree_child(const struct emb_tree *t, const yaml_node_t *map,
                                  const char *key);
size_t emb_tree_byte(const struct emb_tree *t, size_t mark); /* libyaml counts characters */
const char *emb_tree_word(const char *path, char *word, size_t size); /* first word; the rest */
#endif
