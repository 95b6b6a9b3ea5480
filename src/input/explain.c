/* explain.c - the field table in words. */
#include "input.h"

#include <string.h>

static void explain_range(FILE *out, const struct emb_units *u, const struct emb_field *f)
{
    char lo[48], hi[48];
    const char *rest = NULL;
    double v = 0.0;
    if (f->kind == EMB_FIELD_INT) {
        fprintf(out, "    range    %.0f .. %.0f\n", f->min, f->max);
    } else if (f->kind == EMB_FIELD_QUANTITY) {
        const bool number = f->def != NULL && emb_number_parse(f->def, &v, &rest) == 0;
        const char *unit = number ? rest + strspn(rest, " ") : f->dim == EMB_DIM_TEMPERATURE ? "degC" : "";
        fprintf(out, "    unit     %s (%s)\n", emb_dim_units(f->dim), emb_dim_name(f->dim));
        fprintf(out, "    range    %s .. %s\n", emb_quantity_format(u, f->min, f->dim, unit, lo, sizeof lo),
                emb_quantity_format(u, f->max, f->dim, unit, hi, sizeof hi));
    }
}

/* In the unit of the default, which is zero. */
static void explain_spread(FILE *out, const struct emb_units *u, const struct emb_field *f)
{
    char text[48];
    const char *rest = "";
    double zero = 0.0;
    emb_number_parse(f->def, &zero, &rest);
    fprintf(out, "    spread   +/- %s (one sigma, nothing below the range)\n",
            emb_quantity_format(u, f->spread, f->dim, rest + strspn(rest, " "), text, sizeof text));
}

static void explain_field(FILE *out, const struct emb_units *u, const char *path, const struct emb_field *f)
{
    fprintf(out, "%s%s%s\n    meaning  %s\n", path, *path != '\0' ? "." : "", f->key, f->help);
    explain_range(out, u, f);
    if (f->kind == EMB_FIELD_CHOICE) {
        fprintf(out, "    one of   ");
        for (size_t i = 0; f->choices[i] != NULL; i++) {
            fprintf(out, "%s%s", i > 0 ? ", " : "", f->choices[i]);
        }
        fprintf(out, "\n");
    } else if (f->kind == EMB_FIELD_BOOL) {
        fprintf(out, "    one of   yes, no\n");
    }
    if (f->kind == EMB_FIELD_BLOCK || f->kind == EMB_FIELD_LIST) {
        fprintf(out, "    holds    %s\n", f->kind == EMB_FIELD_LIST ? "a list of blocks" : "a block of keys");
        return;
    }
    if (f->kind == EMB_FIELD_TEXTS) {
        fprintf(out, "    holds    a list of values\n");
        return;
    }
    fprintf(out, "    default  %s\n", f->def == NULL ? "none: must be given" : strcmp(f->def, EMB_UNSET) == 0 ? "unset"
                                      : *f->def == '\0' ? "empty" : f->def);
    if (f->source != NULL) {
        fprintf(out, "    source   %s\n", f->source);
    }
    if (f->spread > 0.0 && (f->dim == EMB_DIM_TEMPERATURE || f->dim == EMB_DIM_DELTA)) {
        fprintf(out, "    spread   +/- %g K (one sigma)\n", f->spread);
    } else if (f->spread > 0.0 && emb_field_spread_absolute(f)) {
        explain_spread(out, u, f);
    } else if (f->spread > 0.0) {
        fprintf(out, "    spread   +/- %g %% of the value (one sigma)\n", 100.0 * f->spread);
    }
    if (f->measure != NULL) {
        fprintf(out, "    measure  %s\n", f->measure);
    }
}

/* The `use` key is the same everywhere and is told once, in the head. */
static void explain_block(FILE *out, const struct emb_units *u, const char *path, const struct emb_block *b, bool deep)
{
    for (size_t i = 0; i < b->n; i++) {
        const struct emb_field *f = &b->field[i];
        if (strcmp(f->key, "use") == 0) {
            continue;
        }
        explain_field(out, u, path, f);
        if (deep && f->block != NULL) {
            char at[EMB_PATH];
            snprintf(at, sizeof at, "%s%s%s%s", path, *path != '\0' ? "." : "", f->key,
                     f->kind == EMB_FIELD_LIST ? "[]" : "");
            explain_block(out, u, at, f->block, true);
        }
    }
}

/* A bare key ("storage") is looked for in the whole table. */
static size_t explain_search(FILE *out, const struct emb_units *u, const char *path, const struct emb_block *b,
                             const char *key)
{
    size_t found = 0;
    for (size_t i = 0; i < b->n; i++) {
        const struct emb_field *f = &b->field[i];
        char at[EMB_PATH];
        if (strcmp(f->key, key) == 0) {
            explain_field(out, u, path, f);
            if (f->block != NULL) {
                explain_block(out, u, f->key, f->block, false);
            }
            found++;
        }
        if (f->block != NULL) {
            snprintf(at, sizeof at, "%s%s%s%s", path, *path != '\0' ? "." : "", f->key,
                     f->kind == EMB_FIELD_LIST ? "[]" : "");
            found += explain_search(out, u, at, f->block, key);
        }
    }
    return found;
}

/* "line.doc.blocked", as --set would say it: 'doc' is an element of some case, so its kind is not known here and every
 * kind that has the key answers. */
static enum emb_status explain_element(FILE *out, const struct emb_units *u, const char *name, const char *key,
                                       struct emb_err *err)
{
    const struct emb_block *e = &emb_block_element;
    const char *keys[256] = {NULL};
    char near[200] = "", at[EMB_PATH];
    size_t n = 0, found = 0;
    for (size_t i = 0; i < e->n; i++) {
        const struct emb_block *kind = e->field[i].block;
        for (size_t k = 0; kind != NULL && k < kind->n && n < sizeof keys / sizeof keys[0]; k++) {
            keys[n++] = kind->field[k].key;
            if (strcmp(kind->field[k].key, key) == 0) {
                snprintf(at, sizeof at, "line[].%s", e->field[i].key);
                explain_field(out, u, at, &kind->field[k]);
                found++;
            }
        }
    }
    if (found > 0) {
        return EMB_OK;
    }
    if (*key == '\0') {
        return emb_fail(err, EMB_ERR_USAGE, "line",
                        "'%.40s' is no kind of element; name a key of it (line.%.40s.cells), or a kind ('explain line' "
                        "lists them)", name, name);
    }
    emb_suggest(key, keys, n, near, sizeof near);
    return emb_fail(err, EMB_ERR_USAGE, "line",
                    "'%.40s' is no kind of element, and no kind has a key '%.40s'%s; 'explain line' lists the kinds, "
                    "'explain line.filter' the keys of one", name, key, near);
}

/* "engine.egr_idle", "line.filter.soot", "line[0].pipe.length" */
static enum emb_status explain_path(FILE *out, const struct emb_units *u, const struct emb_block *b, const char *key,
                                    struct emb_err *err)
{
    const char *p = key;
    char at[EMB_PATH] = "", word[64], near[200];
    while (*p != '\0') {
        const size_t n = strcspn(p, ".[");
        snprintf(word, sizeof word, "%.*s", (int)(n < sizeof word ? n : sizeof word - 1), p);
        p += n;
        p += *p == '[' ? strcspn(p, "]") : 0;
        p += *p == ']';
        p += *p == '.';
        const int i = emb_field_find(b, word);
        if (i < 0 && b == &emb_block_element) {
            return explain_element(out, u, word, p, err);
        }
        if (i < 0) {
            emb_suggest_key(b, word, near, sizeof near);
            return emb_fail(err, EMB_ERR_USAGE, key, "no key '%.40s'%s", word, near);
        }
        if (*p == '\0') {
            explain_field(out, u, at, &b->field[i]);
        }
        const size_t used = strlen(at);
        snprintf(at + used, sizeof at - used, "%s%s", used > 0 ? "." : "", word);
        const struct emb_block *inner = b->field[i].block;
        if (*p == '\0' && inner != NULL) {
            explain_block(out, u, at, inner, false);
        } else if (*p != '\0' && inner == NULL) {
            return emb_fail(err, EMB_ERR_USAGE, key, "'%.40s' is a single value and holds no keys", word);
        }
        b = inner != NULL ? inner : b;
    }
    return EMB_OK;
}

enum emb_status emb_explain(FILE *out, const char *key, struct emb_err *err)
{
    enum emb_status status = EMB_OK;
    struct emb_units *u = emb_units_new();
    if (u == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "explain", "out of memory");
    }
    if (key == NULL || *key == '\0') {
        fprintf(out, "Every block may start with  use: NAME  to take the keys of parts/NAME.yaml that it does not give.\n");
        explain_block(out, u, "", &emb_block_case, true);
    } else if (strcmp(key, "study") == 0) { /* a file of its own, told in the same words */
        explain_block(out, u, "", &emb_block_study, true);
    } else if (strncmp(key, "study.", 6) == 0) {
        status = explain_path(out, u, &emb_block_study, key + 6, err);
    } else if (strpbrk(key, ".[") != NULL || emb_field_find(&emb_block_case, key) >= 0) {
        status = explain_path(out, u, &emb_block_case, key, err);
    } else if (explain_search(out, u, "", &emb_block_case, key) == 0) {
        char near[200];
        emb_suggest_key(&emb_block_case, key, near, sizeof near);
        status = emb_fail(err, EMB_ERR_USAGE, key, "no such key%s", near);
    }
    emb_units_free(u);
    if (status == EMB_OK && ferror(out)) {
        status = emb_fail(err, EMB_ERR_IO, "explain", "cannot be written");
    }
    return status;
}
