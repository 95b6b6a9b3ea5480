/* record.c - records: loaded through libcyaml with schemas generated from the field table, all values as text. */
#include "input.h"

#include <cyaml/cyaml.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

_Static_assert(sizeof(size_t) == sizeof(void *), "a slot holds a pointer or a count");

void **emb_record_new(const struct emb_block *b) { return calloc(2 * b->n, sizeof(void *)); }

static void record_clear(const struct emb_block *b, void **rec)
{
    for (size_t i = 0; i < b->n; i++) {
        const struct emb_field *f = &b->field[i];
        if (f->kind == EMB_FIELD_BLOCK) {
            emb_record_free(f->block, rec[i]);
        } else {
            for (size_t k = 0; f->kind == EMB_FIELD_LIST && rec[i] != NULL && k < *emb_slot_count(b, rec, i); k++) {
                record_clear(f->block, (void **)rec[i] + k * 2 * f->block->n);
            }
            for (size_t k = 0; f->kind == EMB_FIELD_TEXTS && rec[i] != NULL && k < *emb_slot_count(b, rec, i); k++) {
                free(((char **)rec[i])[k]);
            }
            free(rec[i]);
        }
    }
}

void emb_record_free(const struct emb_block *b, void **rec)
{
    if (rec != NULL) {
        record_clear(b, rec);
        free(rec);
    }
}

void emb_record_merge(const struct emb_block *b, void **into, void **from)
{
    for (size_t i = 0; i < b->n; i++) {
        if (into[i] == NULL) {
            into[i] = from[i];
            into[b->n + i] = from[b->n + i];
            from[i] = NULL;
        } else if (b->field[i].kind == EMB_FIELD_BLOCK && from[i] != NULL) {
            emb_record_merge(b->field[i].block, into[i], from[i]);
        }
    }
}

/* Generated schemas live in an arena until the load is over. */
struct arena { void *item[256]; size_t n; bool full; };

static void *arena_new(struct arena *a, size_t n, size_t size)
{
    void *p = a->n < sizeof a->item / sizeof a->item[0] ? calloc(n, size) : NULL;
    if (p == NULL) {
        a->full = true;
        return NULL;
    }
    return a->item[a->n++] = p;
}

static cyaml_schema_field_t *schema_fields(struct arena *a, const struct emb_block *b);

static void schema_texts(struct arena *a, const struct emb_block *b, size_t i, cyaml_schema_field_t *out)
{
    cyaml_schema_value_t *entry = arena_new(a, 1, sizeof *entry);
    if (entry == NULL) {
        return;
    }
    entry->type = CYAML_STRING;
    entry->flags = CYAML_FLAG_POINTER;
    entry->data_size = sizeof(char);
    entry->string.max = CYAML_UNLIMITED;
    out->value.type = CYAML_SEQUENCE;
    out->value.data_size = sizeof(char *);
    out->value.sequence.entry = entry;
    out->value.sequence.max = 100000;
    out->count_offset = (uint32_t)((b->n + i) * sizeof(void *));
    out->count_size = sizeof(size_t);
}

static void schema_field(struct arena *a, const struct emb_block *b, size_t i, cyaml_schema_field_t *out)
{
    const struct emb_field *f = &b->field[i];
    out->key = f->key;
    out->data_offset = (uint32_t)(i * sizeof(void *));
    out->value.flags = (enum cyaml_flag)((unsigned)CYAML_FLAG_POINTER | (unsigned)CYAML_FLAG_OPTIONAL);
    if (f->kind == EMB_FIELD_TEXTS) {
        schema_texts(a, b, i, out);
    } else if (f->kind == EMB_FIELD_BLOCK) {
        out->value.type = CYAML_MAPPING;
        out->value.data_size = (uint32_t)(2 * f->block->n * sizeof(void *));
        out->value.mapping.fields = schema_fields(a, f->block);
    } else if (f->kind == EMB_FIELD_LIST) {
        cyaml_schema_value_t *entry = arena_new(a, 1, sizeof *entry);
        if (entry == NULL) {
            return;
        }
        entry->type = CYAML_MAPPING;
        entry->flags = CYAML_FLAG_DEFAULT;
        entry->data_size = (uint32_t)(2 * f->block->n * sizeof(void *));
        entry->mapping.fields = schema_fields(a, f->block);
        out->value.type = CYAML_SEQUENCE;
        out->value.data_size = entry->data_size;
        out->value.sequence.entry = entry;
        out->value.sequence.max = 100000;
        out->count_offset = (uint32_t)((b->n + i) * sizeof(void *));
        out->count_size = sizeof(size_t);
    } else {
        out->value.type = CYAML_STRING;
        out->value.data_size = sizeof(char);
        out->value.string.max = CYAML_UNLIMITED;
    }
}

static cyaml_schema_field_t *schema_fields(struct arena *a, const struct emb_block *b)
{
    cyaml_schema_field_t *fields = arena_new(a, b->n + 1, sizeof *fields);
    for (size_t i = 0; fields != NULL && i < b->n; i++) {
        schema_field(a, b, i, &fields[i]);
    }
    return fields;
}

void **emb_record_read(struct emb_loader *l, const struct emb_doc *d, const struct emb_block *b)
{
    struct arena arena = {{0}, 0, false};
    void **rec = NULL;
    const cyaml_schema_value_t top = {
        .type = CYAML_MAPPING,
        .flags = CYAML_FLAG_POINTER,
        .data_size = (uint32_t)(2 * b->n * sizeof(void *)),
        .mapping.fields = schema_fields(&arena, b),
    };
    /* unknown keys have been reported already; reading on finds the other problems too */
    const cyaml_config_t config = {
        .log_fn = NULL, .mem_fn = cyaml_mem, .log_level = CYAML_LOG_ERROR, .flags = CYAML_CFG_IGNORE_UNKNOWN_KEYS};
    if (arena.full) {
        l->no_memory = true;
    } else {
        const cyaml_err_t e = cyaml_load_data(d->bytes, d->n, &config, &top, (cyaml_data_t **)(void *)&rec, NULL);
        if (e != CYAML_OK) {
            emb_problem_add(l, d->prefix, "cannot be loaded: %s", cyaml_strerror(e));
            rec = NULL;
        }
    }
    for (size_t i = 0; i < arena.n; i++) {
        free(arena.item[i]);
    }
    return rec;
}
