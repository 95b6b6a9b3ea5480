/* table.c - a CSV of cases: one column a key ("ambient.temperature [degC]"), one row a case. Plain
 * cells between commas, no quotes. */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study_impl.h"

/* The next cell of a line, without blanks around it; *p moves behind its comma. */
static char *cell_next(char **p, size_t *n)
{
    char *at = *p + strspn(*p, " ");
    const size_t whole = strcspn(at, ",\r\n");
    *p = at + whole + (at[whole] == ',' ? 1 : 0);
    for (*n = whole; *n > 0 && at[*n - 1] == ' ';) {
        (*n)--;
    }
    return at;
}

static char *text_new(const char *text, size_t n)
{
    char *copy = malloc(n + 1);
    if (copy != NULL) {
        memcpy(copy, text, n);
        copy[n] = '\0';
    }
    return copy;
}

static enum emb_status no_memory(const struct emb_study *s, struct emb_err *err)
{
    return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory for the table of cases");
}

/* "key [unit]" becomes the key of an axis; the unit waits in `from`. */
static enum emb_status header_read(struct emb_study *s, char *line, struct emb_err *err)
{
    size_t n = 1, len = 0;
    for (const char *c = line; *c != '\0'; c++) {
        n += *c == ',';
    }
    s->cfg.axis = calloc(n, sizeof *s->cfg.axis);
    for (char *p = line; s->cfg.axis != NULL && s->cfg.n_axis < n; s->cfg.n_axis++) {
        struct emb_axis_cfg *a = &s->cfg.axis[s->cfg.n_axis];
        const char *cell = cell_next(&p, &len), *open = memchr(cell, '[', len);
        const bool unit = open != NULL && open > cell && open[-1] == ' ' && cell[len - 1] == ']';
        size_t key = unit ? (size_t)(open - cell) : len;
        while (key > 0 && cell[key - 1] == ' ') {
            key--;
        }
        a->key = text_new(cell, key);
        a->from = unit ? text_new(open + 1, len - (size_t)(open - cell) - 2) : text_new("", 0);
        if (a->key == NULL || a->from == NULL) {
            return no_memory(s, err);
        }
    }
    return s->cfg.axis != NULL ? EMB_OK : no_memory(s, err);
}

static enum emb_status row_read(struct emb_study *s, char *line, size_t number, size_t *room,
                                struct emb_err *err)
{
    const bool grow = s->n == *room;
    char *p = line;
    *room = grow ? 2 * *room + 64 : *room;
    for (size_t i = 0; i < s->cfg.n_axis; i++) {
        struct emb_texts *t = &s->cfg.axis[i].values;
        size_t len = 0;
        const char *cell = cell_next(&p, &len);
        char **more = grow ? realloc(t->item, *room * sizeof *more) : t->item;
        if (more == NULL) {
            return no_memory(s, err);
        }
        t->item = more;
        if (len == 0) {
            return emb_fail(err, EMB_ERR_CONFIG, s->cfg.table, "line %zu: cell %zu is empty",
                            number, i + 1);
        }
        if ((t->item[t->n] = text_new(cell, len)) == NULL) {
            return no_memory(s, err);
        }
        t->n++;
    }
    if (*p != '\0' && *p != '\r' && *p != '\n') {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.table, "line %zu: more cells than headers",
                        number);
    }
    s->n++;
    return EMB_OK;
}

enum emb_status emb_table_keys(struct emb_study *s, struct emb_err *err)
{
    char *name = emb_study_file_beside(&s->cfg, s->cfg.table), *line = NULL;
    FILE *f = name != NULL ? fopen(name, "rb") : NULL;
    size_t size = 0, number = 0, room = 0;
    enum emb_status st = EMB_OK;
    free(name);
    if (f == NULL) {
        return emb_fail(err, EMB_ERR_IO, s->cfg.table, "cannot be read: %s", strerror(errno));
    }
    while (st == EMB_OK && getline(&line, &size, f) > 0) {
        number++;
        if (line[strspn(line, " \r\n")] == '\0') {
            continue;
        }
        st =
            s->cfg.axis == NULL ? header_read(s, line, err) : row_read(s, line, number, &room, err);
    }
    free(line);
    fclose(f);
    if (st == EMB_OK && s->n == 0) {
        st = emb_fail(err, EMB_ERR_CONFIG, s->cfg.table,
                      "holds no cases: a line of headers "
                      "\"key [unit]\", then a line for each case");
    }
    return st;
}

/* Distinct texts become the levels; cells become indices. */
static void choice_read(struct emb_study *s, size_t i)
{
    struct emb_texts *t = &s->cfg.axis[i].values;
    size_t n = 0;
    for (size_t row = 0; row < s->n; row++) {
        size_t k = 0;
        while (k < n && strcmp(t->item[k], t->item[row]) != 0) {
            k++;
        }
        s->table[row * s->n_axis + i] = (double)k;
        if (k < n) {
            free(t->item[row]);
        } else {
            t->item[n++] = t->item[row];
        }
    }
    t->n = n;
    s->axis[i].n_level = n;
    s->axis[i].text = t->item;
}

static enum emb_status numbers_read(struct emb_study *s, size_t i, const struct emb_case *base,
                                    const struct emb_units *u, struct emb_err *err)
{
    const struct emb_axis_cfg *c = &s->cfg.axis[i];
    struct emb_axis *a = &s->axis[i];
    struct emb_place p;
    enum emb_status st = emb_place_find(base, c->key, &p, err);
    a->dim = p.dim;
    a->unit = emb_dim_si(p.dim);
    a->meaning = p.field != NULL ? p.field->help : "";
    for (size_t row = 0; st == EMB_OK && row < s->n; row++) {
        struct emb_err own = {EMB_OK, "", ""};
        char text[120];
        snprintf(text, sizeof text, "%.60s%s%.40s", c->values.item[row],
                 c->from[0] != '\0' ? " " : "", c->from);
        st = emb_place_parse(&p, u, text, &s->table[row * s->n_axis + i], &own);
        if (st != EMB_OK) {
            emb_fail(err, st, s->cfg.table, "case %zu, %.80s: %s", row, c->key, own.msg);
        }
    }
    return st;
}

enum emb_status emb_table_read(struct emb_study *s, const struct emb_case *base,
                               const struct emb_units *u, struct emb_err *err)
{
    enum emb_status st = EMB_OK;
    s->table = calloc(s->n * s->n_axis, sizeof *s->table);
    if (s->table == NULL) {
        return no_memory(s, err);
    }
    for (size_t i = 0; st == EMB_OK && i < s->n_axis; i++) {
        if (s->axis[i].choice) {
            choice_read(s, i);
        } else {
            st = numbers_read(s, i, base, u, err);
        }
    }
    return st;
}
