/* document.c - bytes of a YAML file, guarded, and the place of every node in it. */
#include "input.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

enum { FILE_LIMIT = 4 * 1024 * 1024 };

static int bytes_read(struct emb_loader *l, struct emb_doc *d)
{
    const yaml_mark_t top = {0};
    FILE *f = fopen(d->file, "rb");
    if (f == NULL) {
        emb_problem_add(l, d->prefix, "cannot open %s: %s", d->file, strerror(errno));
        return -1;
    }
    d->bytes = malloc(FILE_LIMIT + 1);
    if (d->bytes == NULL) {
        l->no_memory = true;
        fclose(f);
        return -1;
    }
    d->n = fread(d->bytes, 1, FILE_LIMIT + 1, f);
    const bool broken = ferror(f) != 0;
    fclose(f);
    if (broken) {
        emb_problem_at(l, d->file, top, d->prefix, "cannot be read (a folder?)");
        return -1;
    }
    if (d->n > FILE_LIMIT) {
        emb_problem_at(l, d->file, top, d->prefix, "file is larger than 4 MB; that is no configuration");
        return -1;
    }
    return 0;
}

/* Index of the first byte that is not UTF-8, or n. */
static size_t utf8_check(const unsigned char *s, size_t n)
{
    for (size_t i = 0; i < n;) {
        const size_t tail = s[i] < 0x80 ? 0 : s[i] >= 0xC2 && s[i] < 0xE0 ? 1 : s[i] >= 0xE0 && s[i] < 0xF0 ? 2
                            : s[i] >= 0xF0 && s[i] < 0xF5 ? 3 : 9;
        if (tail == 9 || i + tail >= n) {
            return i;
        }
        for (size_t k = 1; k <= tail; k++) {
            if ((s[i + k] & 0xC0) != 0x80) {
                return i;
            }
        }
        i += tail + 1;
    }
    return n;
}

static int bytes_check(struct emb_loader *l, const struct emb_doc *d)
{
    yaml_mark_t mark = {0};
    const unsigned char *nul = memchr(d->bytes, 0, d->n);
    const size_t bad = utf8_check(d->bytes, d->n);
    const size_t at = nul != NULL ? (size_t)(nul - d->bytes) : bad;
    if (at == d->n) {
        return 0;
    }
    for (size_t i = 0; i < at; i++) {
        mark.line += d->bytes[i] == '\n';
    }
    emb_problem_at(l, d->file, mark, d->prefix, nul != NULL ? "binary file: it holds a NUL byte"
                                                           : "not UTF-8 text: byte %zu cannot be read", at);
    return -1;
}

/* One pass over the events: syntax, depth, aliases and one single document, before any tree is built. */
static int events_check(struct emb_loader *l, const struct emb_doc *d)
{
    yaml_parser_t parser;
    yaml_event_t event;
    int depth = 0, documents = 0, status = 0;
    bool more = true;
    if (!yaml_parser_initialize(&parser)) {
        l->no_memory = true;
        return -1;
    }
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, d->bytes, d->n);
    while (more && status == 0) {
        if (!yaml_parser_parse(&parser, &event)) {
            emb_problem_at(l, d->file, parser.problem_mark, d->prefix, "not readable as YAML: %s",
                           parser.problem != NULL ? parser.problem : "out of memory");
            status = -1;
            break;
        }
        const yaml_event_type_t type = event.type;
        depth += type == YAML_MAPPING_START_EVENT || type == YAML_SEQUENCE_START_EVENT;
        depth -= type == YAML_MAPPING_END_EVENT || type == YAML_SEQUENCE_END_EVENT;
        documents += type == YAML_DOCUMENT_START_EVENT;
        const char *why = type == YAML_ALIAS_EVENT ? "aliases (*name) are not supported; use a part file" :
                          depth > EMB_MAX_DEPTH    ? "nested too deeply" :
                          documents > 1            ? "only one document per file" : NULL;
        if (why != NULL) {
            emb_problem_at(l, d->file, event.start_mark, d->prefix, "%s", why);
            status = -1;
        }
        more = type != YAML_STREAM_END_EVENT;
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
    return status;
}

static int tree_load(struct emb_loader *l, struct emb_doc *d)
{
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser)) {
        l->no_memory = true;
        return -1;
    }
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, d->bytes, d->n);
    d->has_tree = yaml_parser_load(&parser, &d->tree) != 0;
    yaml_parser_delete(&parser);
    const yaml_node_t *root = d->has_tree ? yaml_document_get_root_node(&d->tree) : NULL;
    if (root == NULL) {
        emb_problem_at(l, d->file, (yaml_mark_t){0}, d->prefix, "the file is empty");
        return -1;
    }
    return 0;
}

int emb_doc_load(struct emb_loader *l, const char *file, const char *prefix, const struct emb_block *b, size_t *index)
{
    struct emb_doc *grown = realloc(l->doc, (l->n_doc + 1) * sizeof *grown);
    if (grown == NULL) {
        l->no_memory = true;
        return -1;
    }
    l->doc = grown;
    struct emb_doc *d = &grown[l->n_doc];
    *d = (struct emb_doc){0};
    *index = l->n_doc++;
    snprintf(d->file, sizeof d->file, "%s", file);
    snprintf(d->prefix, sizeof d->prefix, "%s", prefix);
    if (strlen(file) >= sizeof d->file) {
        emb_problem_add(l, prefix, "the file name is too long");
        return -1;
    }
    if (bytes_read(l, d) != 0 || bytes_check(l, d) != 0 || events_check(l, d) != 0 || tree_load(l, d) != 0) {
        return -1;
    }
    return emb_doc_walk(l, d, b) == 0 ? 0 : -1;
}

static const yaml_node_t *node_child(struct emb_doc *d, const yaml_node_t *node, const char *key, size_t n)
{
    if (node->type == YAML_MAPPING_NODE) {
        for (yaml_node_pair_t *p = node->data.mapping.pairs.start; p < node->data.mapping.pairs.top; p++) {
            const yaml_node_t *k = yaml_document_get_node(&d->tree, p->key);
            if (k != NULL && k->type == YAML_SCALAR_NODE && k->data.scalar.length == n &&
                memcmp(k->data.scalar.value, key, n) == 0) {
                return yaml_document_get_node(&d->tree, p->value);
            }
        }
    }
    return NULL;
}

static const yaml_node_t *node_item(struct emb_doc *d, const yaml_node_t *node, size_t i)
{
    if (node->type == YAML_SEQUENCE_NODE) {
        const yaml_node_item_t *start = node->data.sequence.items.start, *top = node->data.sequence.items.top;
        if (i < (size_t)(top - start)) {
            return yaml_document_get_node(&d->tree, start[i]);
        }
    }
    return NULL;
}

const yaml_node_t *emb_doc_find(struct emb_doc *d, const char *path, bool *exact)
{
    const size_t skip = strlen(d->prefix);
    const yaml_node_t *node = d->has_tree ? yaml_document_get_root_node(&d->tree) : NULL;
    if (node == NULL || strncmp(path, d->prefix, skip) != 0) {
        return NULL;
    }
    const char *p = path + skip;
    while (*p != '\0') {
        const yaml_node_t *next = NULL;
        if (*p == '[') {
            next = node_item(d, node, strtoul(p + 1, NULL, 10));
            p += strcspn(p, "]");
            p += *p == ']';
        } else {
            p += *p == '.';
            const size_t n = strcspn(p, ".[");
            next = node_child(d, node, p, n);
            p += n;
        }
        if (next == NULL) {
            return node;
        }
        node = next;
    }
    *exact = true;
    return node;
}

void emb_doc_free(struct emb_doc *d)
{
    if (d->has_tree) {
        yaml_document_delete(&d->tree);
    }
    free(d->bytes);
    *d = (struct emb_doc){0};
}
