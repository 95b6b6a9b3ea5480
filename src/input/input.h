/* input.h - private to the input room: documents, records and the loader that ties them together.
 *
 * A record is the text of one block as it was given: slot i holds the text, the nested record or the list of field i
 * (NULL: absent), slot n + i the length of the list. Every record is laid out by its block, so that one generated
 * schema, one merge and one free serve all blocks. */
#ifndef EMB_INPUT_H
#define EMB_INPUT_H
#include <yaml.h>
#include "emberpipe/config.h"
#include "emberpipe/csv.h"
#include "emberpipe/field.h"

enum { EMB_PATH = 160, EMB_MAX_PROBLEMS = 200, EMB_MAX_DEPTH = 16, EMB_MAX_PART = 8 };

struct emb_doc { /* one YAML file, kept for the places of its nodes */
    char file[200], prefix[EMB_PATH];
    unsigned char *bytes;
    size_t n;
    yaml_document_t tree;
    bool has_tree;
};
struct emb_loader {
    const char *file;
    struct emb_units *units;
    struct emb_problems *problems;
    struct emb_doc *doc;
    size_t n_doc, n_set;
    char (*set)[EMB_PATH]; /* canonical paths given by --set */
    size_t *order;         /* where element i of the line stands in the file, after moves; NULL: there */
    bool no_memory;
};
typedef void **emb_slots; /* a record, laid out by its block */

static inline size_t *emb_slot_count(const struct emb_block *b, void **rec, size_t i)
{
    return (size_t *)(void *)&rec[b->n + i];
}
/* config.c */
/* problems.c */
void emb_problem_add(struct emb_loader *l, const char *path, const char *fmt, ...) __attribute__((format(printf, 3, 4)));
/* Is anything wrong at this path or below it already? */
bool emb_problem_below(const struct emb_loader *l, const char *path);
void emb_problem_at(struct emb_loader *l, const char *file, yaml_mark_t mark, const char *path, const char *fmt, ...)
    __attribute__((format(printf, 5, 6)));
void emb_suggest_key(const struct emb_block *b, const char *word, char *buf, size_t size);
/* document.c: reads, checks and keeps a file. 0, or -1 with the problem added. *index gets the document. */
int emb_doc_load(struct emb_loader *l, const char *file, const char *prefix, const struct emb_block *b, size_t *index);
const yaml_node_t *emb_doc_find(struct emb_doc *d, const char *path, bool *exact);
void emb_doc_free(struct emb_doc *d);
/* walk.c: shape of a document against its block; the number of problems that make its values unreadable */
size_t emb_doc_walk(struct emb_loader *l, struct emb_doc *d, const struct emb_block *b);
/* record.c */
void **emb_record_new(const struct emb_block *b);
void emb_record_free(const struct emb_block *b, void **rec);
void **emb_record_read(struct emb_loader *l, const struct emb_doc *d, const struct emb_block *b); /* through libcyaml */
void emb_record_merge(const struct emb_block *b, void **into, void **from); /* moves what is absent in `into` */
/* set.c: "path=value" into the record */
void emb_record_set(struct emb_loader *l, const struct emb_block *b, void **rec, const char *assignment);
/* parts.c: follows every `use` */
void emb_parts_apply(struct emb_loader *l, const struct emb_block *b, void **rec, const char *path);
/* decode.c */
void emb_decode_block(struct emb_loader *l, const struct emb_block *b, void **rec, void *base, const char *path,
                      bool unset);
const char *emb_record_text(const struct emb_block *b, void **rec, const char *key); /* NULL: absent */
const char *emb_kind_key(enum emb_kind kind); /* "pipe" */
/* decode_case.c: lists and whatever depends on more than one key */
void emb_decode_case(struct emb_loader *l, void **root, struct emb_case *c);
/* config.c */
void emb_loader_free(struct emb_loader *l);
enum emb_status emb_loader_verdict(const struct emb_loader *l, struct emb_err *err);
/* reactions.c: a user's own reaction set (block emb_block_reactions) of the element at `path` */
struct emb_reactions_keys {
    double area; /* [1/m] catalytic area per brick volume */
    int temperature_power;
};
struct emb_step_keys {
    double E, alpha; /* [J/mol], [-] */
    int coverage;    /* none, stored, free */
    bool equilibrium;
};
struct emb_addend_keys {
    double K, E, power; /* [-], [J/mol], [-] */
    int factor;
};
void emb_decode_reactions(struct emb_loader *l, struct emb_case *c, void **rec, int *number, const char *path);
/* check.c */
void emb_suggest_element(const struct emb_case *c, const char *word, char *buf, size_t size);
void emb_case_check(struct emb_loader *l, void **root, struct emb_case *c);
#endif
