/* edit.c - the marks that libyaml keeps for every node say which bytes to exchange, so a text can
 * be changed without being written anew. Each change parses the text once more: texts are small and
 * marks go stale with the first change. */
#include "emberpipe/edit.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/field.h"
#include "tree.h"

enum { FILE_LIMIT = 4 * 1024 * 1024, WORD = 64, VALUE = 2000 };

enum emb_status emb_edit_read(const char *file, char **text, struct emb_err *err)
{
    FILE *f = fopen(file, "rb");
    if (f == NULL) {
        return emb_fail(err, EMB_ERR_IO, file, "cannot be read: %s", strerror(errno));
    }
    char *bytes = malloc(FILE_LIMIT + 1);
    const size_t n = bytes != NULL ? fread(bytes, 1, FILE_LIMIT, f) : 0;
    const bool whole = bytes != NULL && feof(f) && !ferror(f);
    fclose(f);
    if (!whole || memchr(bytes, 0, n) != NULL) {
        free(bytes);
        return emb_fail(err, EMB_ERR_IO, file, "cannot be read as text of at most 4 MB");
    }
    bytes[n] = '\0';
    char *fit = realloc(bytes, n + 1);
    *text = fit != NULL ? fit : bytes;
    return EMB_OK;
}

/* Exchanges bytes [from, to) for `with`. */
static enum emb_status splice(char **text, size_t from, size_t to, const char *with,
                              struct emb_err *err)
{
    const size_t n = strlen(*text), k = strlen(with);
    char *out = malloc(n - (to - from) + k + 1);
    if (out == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    memcpy(out, *text, from);
    memcpy(out + from, with, k);
    memcpy(out + from + k, *text + to, n - to + 1);
    free(*text);
    *text = out;
    return EMB_OK;
}

/* A value that YAML reads back as the same text, inside braces too. */
static const char *quoted(const char *value, char *buf, size_t size)
{
    const bool plain = *value != '\0' && strpbrk(value, ",{}[]#:&*!|>'\"\\`\n") == NULL &&
                       strchr("-?@% ", *value) == NULL && value[strlen(value) - 1] != ' ';
    if (plain || (isdigit((unsigned char)value[1]) && value[0] == '-' &&
                  strpbrk(value, ",{}[]#:'\"") == NULL)) {
        snprintf(buf, size, "%s", value);
        return buf;
    }
    size_t k = 0;
    buf[k++] = '\'';
    for (const char *p = value; *p != '\0' && k + 4 < size; p++) {
        buf[k++] = *p;
        if (*p == '\'') {
            buf[k++] = '\'';
        }
    }
    buf[k++] = '\'';
    buf[k] = '\0';
    return buf;
}

/* Adds "key: value" as the first key of a mapping, in the mapping's own style. */
static enum emb_status insert(char **text, const struct emb_tree *t, const yaml_node_t *map,
                              const char *pair, struct emb_err *err)
{
    char with[VALUE + 200];
    const bool empty = map->data.mapping.pairs.start == map->data.mapping.pairs.top;
    if (map->data.mapping.style == YAML_FLOW_MAPPING_STYLE || empty) {
        snprintf(with, sizeof with, "%s%s", pair, empty ? "" : ", ");
        const size_t at = emb_tree_byte(t, map->start_mark.index) + 1; /* behind the brace */
        return splice(text, at, at, with, err);
    }
    const yaml_node_t *key = emb_tree_node(t, map->data.mapping.pairs.start->key);
    snprintf(with, sizeof with, "%s\n%*s", pair, (int)key->start_mark.column, "");
    const size_t at = emb_tree_byte(t, key->start_mark.index);
    return splice(text, at, at, with, err);
}

/* "a.b.c" and a value to "a: {b: {c: value}}". */
static enum emb_status nest(const char *path, const char *value, char *buf, size_t size,
                            struct emb_err *err)
{
    char word[WORD], scalar[VALUE];
    size_t k = 0;
    int depth = 0;
    const char *p = path;
    while (*p != '\0' && k + WORD + 8 < size) {
        p = emb_tree_word(p, word, sizeof word);
        if (isdigit((unsigned char)word[0])) {
            return emb_fail(err, EMB_ERR_CONFIG, path, "there is no such entry to change");
        }
        k += (size_t)snprintf(buf + k, size - k, "%s: %s", word, *p != '\0' ? "{" : "");
        depth += *p != '\0';
    }
    if (k + strlen(value) + (size_t)depth + 8 >= size) {
        return emb_fail(err, EMB_ERR_CONFIG, path, "the value is too long");
    }
    k += (size_t)snprintf(buf + k, size - k, "%s", quoted(value, scalar, sizeof scalar));
    memset(buf + k, '}', (size_t)depth);
    buf[k + (size_t)depth] = '\0';
    return EMB_OK;
}

enum emb_status emb_edit_set(char **text, const char *path, const char *value, struct emb_err *err)
{
    struct emb_tree t;
    char pair[VALUE], scalar[VALUE];
    const char *rest = path;
    enum emb_status st = emb_tree_parse(*text, &t, err);
    if (st != EMB_OK) {
        return st;
    }
    const yaml_node_t *node = emb_tree_find(&t, path, &rest);
    if (strlen(value) > VALUE / 2) {
        st = emb_fail(err, EMB_ERR_CONFIG, path, "the value is too long");
    } else if (*rest == '\0' && node->type == YAML_SCALAR_NODE) {
        st = splice(text, emb_tree_byte(&t, node->start_mark.index),
                    emb_tree_byte(&t, node->end_mark.index), quoted(value, scalar, sizeof scalar),
                    err);
    } else if (*rest == '\0' || node->type != YAML_MAPPING_NODE) {
        st = emb_fail(err, EMB_ERR_CONFIG, path, "there is no single value here to change");
    } else if ((st = nest(rest, value, pair, sizeof pair, err)) == EMB_OK) {
        st = insert(text, &t, node, pair, err);
    }
    emb_tree_free(&t);
    return st;
}

bool emb_edit_get(const char *text, const char *path, char *buf, size_t size)
{
    struct emb_tree t;
    const char *rest = path;
    if (emb_tree_parse(text, &t, NULL) != EMB_OK) {
        return false;
    }
    const yaml_node_t *node = emb_tree_find(&t, path, &rest);
    const bool ok =
        *rest == '\0' && node->type == YAML_SCALAR_NODE && node->data.scalar.length < size;
    if (ok) {
        snprintf(buf, size, "%s", (const char *)node->data.scalar.value);
    }
    emb_tree_free(&t);
    return ok;
}

bool emb_edit_has(const char *text, const char *path)
{
    struct emb_tree t;
    const char *rest = path;
    if (emb_tree_parse(text, &t, NULL) != EMB_OK) {
        return false;
    }
    emb_tree_find(&t, path, &rest);
    emb_tree_free(&t);
    return *rest == '\0';
}
