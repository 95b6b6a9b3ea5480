/* decode.c - one record to one struct, row by row: text to SI, ranges, defaults. */
#include "input.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const char *emb_record_text(const struct emb_block *b, void **rec, const char *key)
{
    const int i = emb_field_find(b, key);
    return rec != NULL && i >= 0 ? rec[i] : NULL;
}

/* The unit the default is written in, for messages in the user's words. */
static const char *field_unit(const struct emb_field *f)
{
    const char *rest = NULL;
    double v = 0.0;
    if (f->def != NULL && emb_number_parse(f->def, &v, &rest) == 0) {
        return rest + strspn(rest, " ");
    }
    return f->dim == EMB_DIM_TEMPERATURE ? "degC" : f->dim == EMB_DIM_ROTATION ? "rpm" : "";
}

static double decode_quantity(struct emb_loader *l, const struct emb_field *f, const char *text, const char *path)
{
    char msg[EMB_UNIT_MSG], lo[48], hi[48];
    double si = NAN;
    if (emb_quantity_parse(l->units, text, f->dim, &si, msg) != 0) {
        emb_problem_add(l, path, "%s", msg);
        return NAN;
    }
    const double slack = 1e-12; /* [-] round-off of units: of each end, or 0 would give way to a wide range */
    if (si < f->min - slack * fabs(f->min) || si > f->max + slack * fabs(f->max)) {
        const char *unit = field_unit(f);
        emb_problem_add(l, path, "'%.60s' is out of range; allowed is %s .. %s", text,
                        emb_quantity_format(l->units, f->min, f->dim, unit, lo, sizeof lo),
                        emb_quantity_format(l->units, f->max, f->dim, unit, hi, sizeof hi));
    }
    return si;
}

static int decode_int(struct emb_loader *l, const struct emb_field *f, const char *text, const char *path)
{
    double v = 0.0;
    if (strspn(text, "+-0123456789") != strlen(text) || emb_number_parse(text, &v, NULL) != 0) {
        emb_problem_add(l, path, "'%.60s' is not a whole number", text);
        return (int)f->min;
    }
    if (v < f->min || v > f->max) {
        emb_problem_add(l, path, "'%.60s' is out of range; allowed is %.0f .. %.0f", text, f->min, f->max);
        return (int)f->min;
    }
    return (int)v;
}

static bool decode_bool(struct emb_loader *l, const char *text, const char *path)
{
    if (strcmp(text, "yes") == 0 || strcmp(text, "true") == 0 || strcmp(text, "on") == 0) {
        return true;
    }
    if (strcmp(text, "no") != 0 && strcmp(text, "false") != 0 && strcmp(text, "off") != 0) {
        emb_problem_add(l, path, "'%.60s' is neither yes nor no", text);
    }
    return false;
}

static int decode_choice(struct emb_loader *l, const struct emb_field *f, const char *text, const char *path)
{
    size_t n = 0;
    char near[200], all[200] = "";
    for (; f->choices[n] != NULL; n++) {
        if (strcmp(f->choices[n], text) == 0) {
            return (int)n;
        }
        const size_t used = strlen(all);
        snprintf(all + used, sizeof all - used, "%s%s", n > 0 ? ", " : "", f->choices[n]);
    }
    emb_suggest(text, f->choices, n, near, sizeof near);
    emb_problem_add(l, path, "'%.40s' is not known; one of: %s%s", text, all, near);
    return 0;
}

static char *decode_text(struct emb_loader *l, const char *text, const char *path)
{
    const size_t n = strlen(text);
    char *copy = malloc(n + 1);
    if (copy == NULL) {
        l->no_memory = true;
        return NULL;
    }
    memcpy(copy, text, n + 1);
    for (size_t i = 0; i < n; i++) {
        if ((unsigned char)text[i] < 0x20 || text[i] == 0x7F) {
            emb_problem_add(l, path, "must be one line without control characters");
            break;
        }
    }
    if (n > 190) {
        emb_problem_add(l, path, "is longer than 190 bytes");
    }
    return copy;
}

/* Nothing given and no default: NaN for a quantity, as calloc left it for the rest. */
static void decode_value(struct emb_loader *l, const struct emb_field *f, const char *text, void *at, const char *path)
{
    if (text == NULL) {
        const double nothing = NAN;
        if (f->kind == EMB_FIELD_QUANTITY) {
            memcpy(at, &nothing, sizeof nothing);
        }
    } else if (*text == '\0' && f->kind != EMB_FIELD_TEXT) {
        emb_problem_add(l, path, "is empty");
    } else if (f->kind == EMB_FIELD_QUANTITY) {
        const double v = decode_quantity(l, f, text, path);
        memcpy(at, &v, sizeof v);
    } else if (f->kind == EMB_FIELD_INT) {
        const int v = decode_int(l, f, text, path);
        memcpy(at, &v, sizeof v);
    } else if (f->kind == EMB_FIELD_BOOL) {
        const bool v = decode_bool(l, text, path);
        memcpy(at, &v, sizeof v);
    } else if (f->kind == EMB_FIELD_CHOICE) {
        const int v = decode_choice(l, f, text, path);
        memcpy(at, &v, sizeof v);
    } else {
        char *v = decode_text(l, text, path);
        memcpy(at, &v, sizeof v);
    }
}

static void decode_texts(struct emb_loader *l, const struct emb_block *b, void **rec, size_t i, void *at,
                         const char *path)
{
    char **from = rec != NULL ? rec[i] : NULL;
    const size_t n = from != NULL ? *emb_slot_count(b, rec, i) : 0;
    struct emb_texts to = {0, n > 0 ? calloc(n, sizeof *to.item) : NULL};
    l->no_memory = l->no_memory || (n > 0 && to.item == NULL);
    for (; to.item != NULL && to.n < n; to.n++) {
        to.item[to.n] = decode_text(l, from[to.n], path);
    }
    memcpy(at, &to, sizeof to);
}

void emb_decode_block(struct emb_loader *l, const struct emb_block *b, void **rec, void *base, const char *path,
                      bool unset)
{
    for (size_t i = 0; i < b->n; i++) {
        const struct emb_field *f = &b->field[i];
        char at[EMB_PATH + 64];
        if (f->offset == EMB_BY_HAND) {
            continue;
        }
        snprintf(at, sizeof at, "%s%s%s", path, *path != '\0' ? "." : "", f->key);
        void *value = (char *)base + f->offset;
        if (f->kind == EMB_FIELD_BLOCK) {
            emb_decode_block(l, f->block, rec != NULL ? rec[i] : NULL, value, at, unset || f->override);
            continue;
        }
        if (f->kind == EMB_FIELD_TEXTS) {
            decode_texts(l, b, rec, i, value, at);
            continue;
        }
        const char *text = rec != NULL ? rec[i] : NULL;
        if (text == NULL && !unset && f->def != NULL && strcmp(f->def, EMB_UNSET) != 0) {
            text = f->def;
        }
        decode_value(l, f, text, value, at);
    }
}
