/* field.h - the one table of configuration keys.
 *
 * A row says everything about one key: how it is read, checked, defaulted, explained, overridden
 * and put into the schema. A new key is a new row and a member of the struct in case.h, nothing
 * else. */
#ifndef EMB_FIELD_H
#define EMB_FIELD_H
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include "emberpipe/status.h"
#include "emberpipe/units.h"

enum emb_field_kind {
    EMB_FIELD_QUANTITY, /* double, SI */
    EMB_FIELD_INT,      /* int */
    EMB_FIELD_BOOL,     /* bool */
    EMB_FIELD_CHOICE,   /* enum, by index into choices */
    EMB_FIELD_TEXT,     /* char *, owned */
    EMB_FIELD_BLOCK,    /* nested keys; decoded at the offset */
    EMB_FIELD_LIST,     /* list of blocks; decoded by hand */
    EMB_FIELD_TEXTS     /* list of single values, kept as text: struct emb_texts, owned */
};
struct emb_texts {
    size_t n;
    char **item;
};
#define EMB_UNSET   "-"          /* default: nothing (NaN, NULL) */
#define EMB_BY_HAND ((size_t)-1) /* offset: decoded by code, not by the table */

struct emb_block;
struct emb_field {
    const char *key;
    enum emb_field_kind kind;
    enum emb_dim dim;
    const char
        *def; /* default as a user would write it; EMB_UNSET: none; NULL: the key is required */
    double min, max;    /* SI, both allowed; for INT too */
    size_t offset;      /* into the struct of the block */
    const char *help;   /* what it means, one sentence */
    const char *source; /* where the default comes from */
    /* one sigma from truck to truck: [K] for temperatures, else relative [-], or in SI where the
     * default is zero; 0: not known, or known to whoever writes the case */
    double spread;
    const struct emb_block *block; /* BLOCK, LIST */
    const char *const *choices;    /* CHOICE: NULL-terminated */
    bool override; /* BLOCK: keys left out stay unset instead of taking their default */
    const char *measure; /* how a person with the truck finds it out; NULL: not in a workshop */
};
/* The spread is in SI (or K), not relative to the value. */
bool emb_field_spread_absolute(const struct emb_field *f);
struct emb_block {
    const char *name; /* "engine" */
    const char *help;
    size_t n;
    const struct emb_field *field;
};

extern const struct emb_block emb_block_case, emb_block_ambient, emb_block_stream, emb_block_engine,
    emb_block_recorded, emb_block_vehicle, emb_block_element, emb_block_duty, emb_block_phase,
    emb_block_levers, emb_block_regeneration, emb_block_target, emb_block_solver, emb_block_output;
extern const struct emb_block emb_block_study, emb_block_search,
    emb_block_axis; /* of a study file, see study_file.h */
extern const struct emb_block emb_block_log, emb_block_log_entry; /* of a mapping file, see log.h */
extern const struct emb_block emb_block_pipe, emb_block_turbine, emb_block_oxicat, emb_block_filter,
    emb_block_soot, emb_block_reactions, emb_block_step, emb_block_addend, emb_block_redcat,
    emb_block_doser, emb_block_def, emb_block_sensor, emb_block_leak;

/* "; did you mean A or B?" with the words of `among` nearest to `word`, or "". */
void emb_suggest(const char *word, const char *const *among, size_t n, char *buf, size_t size);
int emb_field_find(const struct emb_block *b, const char *key); /* index, or -1 */
/* Meaning, unit, range, default, source and spread of one key ("engine.egr_idle"), of a block, or
 * of all (NULL). */
enum emb_status emb_explain(FILE *out, const char *key, struct emb_err *err);
/* JSON Schema (draft 2020-12) of a case file. */
enum emb_status emb_schema_write(FILE *out, struct emb_err *err);
#endif
