/* csv.c - strict reader of tables over time. */
#include "emberpipe/csv.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MAX_COLUMNS = 256, MAX_WANTED = 8 };

struct reader {
    const char *file;
    const struct emb_units *units;
    const struct emb_csv_column *want;
    size_t n;
    size_t at[MAX_WANTED];        /* column in the file; MAX_COLUMNS: absent, zeros */
    char unit[MAX_WANTED][32];    /* of the header; "": by scale */
    double slope[MAX_WANTED], origin[MAX_WANTED]; /* SI = slope x + origin */
    size_t row, capacity, n_header;
    struct emb_trace *out;
    struct emb_err *err;
};

/* Cuts the line at commas in place; quotes around a cell and blanks are dropped. */
static size_t cells_split(char *line, char **cell)
{
    size_t n = 0;
    for (char *p = line; p != NULL && n < MAX_COLUMNS;) {
        char *comma = strchr(p, ',');
        if (comma != NULL) {
            *comma = '\0';
        }
        p += strspn(p, " \t\"");
        size_t len = strlen(p);
        while (len > 0 && strchr(" \t\"", p[len - 1]) != NULL) {
            p[--len] = '\0';
        }
        cell[n++] = p;
        p = comma != NULL ? comma + 1 : NULL;
    }
    return n;
}

/* "name [unit]" -> true if the name fits; the unit is copied. */
static bool header_fits(const char *cell, const struct emb_csv_column *want, char unit[32])
{
    const char *open = strchr(cell, '[');
    size_t len = open != NULL ? (size_t)(open - cell) : strlen(cell);
    while (len > 0 && cell[len - 1] == ' ') {
        len--;
    }
    for (size_t i = 0; i < 4 && want->names[i] != NULL; i++) {
        if (strlen(want->names[i]) == len && strncmp(want->names[i], cell, len) == 0) {
            const size_t u = open != NULL ? strcspn(open + 1, "]") : 0;
            snprintf(unit, 32, "%.*s", (int)(u < 31 ? u : 31), open != NULL ? open + 1 : "");
            return true;
        }
    }
    return false;
}

/* The line through two converted points, so that each cell costs one multiplication. */
static enum emb_status header_scale(struct reader *r, size_t k)
{
    const struct emb_csv_column *w = &r->want[k];
    double zero = 0.0, one = 0.0;
    char msg[EMB_UNIT_MSG], text[48];
    if (r->unit[k][0] == '\0' || strcmp(r->unit[k], "-") == 0) {
        if (w->scale == 0.0 && w->dim != EMB_DIM_FRACTION) {
            return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "column '%s' needs a unit in its header: '%s [unit]', accepted: %s",
                            w->names[0], w->names[0], emb_dim_units(w->dim));
        }
        r->slope[k] = w->scale == 0.0 ? 1.0 : w->scale;
        return EMB_OK;
    }
    snprintf(text, sizeof text, "0 %s", r->unit[k]);
    if (emb_quantity_parse(r->units, text, w->dim, &zero, msg) != 0) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "header of column '%s': %s", w->names[0], msg);
    }
    text[0] = '1';
    if (emb_quantity_parse(r->units, text, w->dim, &one, msg) != 0) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "header of column '%s': %s", w->names[0], msg);
    }
    r->slope[k] = one - zero;
    r->origin[k] = zero;
    return EMB_OK;
}

static enum emb_status header_read(struct reader *r, char *line)
{
    char *cell[MAX_COLUMNS];
    if (strncmp(line, "\xEF\xBB\xBF", 3) == 0) {
        line += 3;
    }
    r->n_header = cells_split(line, cell);
    for (size_t k = 0; k < r->n; k++) {
        r->at[k] = MAX_COLUMNS;
        for (size_t i = 0; i < r->n_header; i++) {
            char unit[32];
            if (header_fits(cell[i], &r->want[k], unit)) {
                if (r->at[k] != MAX_COLUMNS) {
                    return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "two columns could be '%s'", r->want[k].names[0]);
                }
                r->at[k] = i;
                memcpy(r->unit[k], unit, sizeof unit);
            }
        }
        if (r->at[k] == MAX_COLUMNS && !r->want[k].optional) {
            return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "line 1: no column '%s' in the header", r->want[k].names[0]);
        }
        if (r->at[k] != MAX_COLUMNS && header_scale(r, k) != EMB_OK) {
            return EMB_ERR_CONFIG;
        }
    }
    return EMB_OK;
}

static enum emb_status row_room(struct reader *r)
{
    if (r->row >= EMB_CSV_MAX_ROWS) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "more than %d rows", (int)EMB_CSV_MAX_ROWS);
    }
    if (r->row == r->capacity) {
        const size_t grown = r->capacity == 0 ? 1024 : 2 * r->capacity;
        double *t = realloc(r->out->t, grown * sizeof *t);
        r->out->t = t != NULL ? t : r->out->t;
        double *v = realloc(r->out->v, grown * (r->n - 1) * sizeof *v);
        r->out->v = v != NULL ? v : r->out->v;
        if (t == NULL || v == NULL) {
            return emb_fail(r->err, EMB_ERR_NOMEM, r->file, "out of memory");
        }
        r->capacity = grown;
    }
    return EMB_OK;
}

static enum emb_status row_read(struct reader *r, char *line, size_t number)
{
    char *cell[MAX_COLUMNS];
    const size_t n = cells_split(line, cell);
    if (n != r->n_header) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "line %zu: %zu cells, the header has %zu%s", number, n, r->n_header,
                        n > r->n_header ? " (decimal commas?)" : "");
    }
    if (row_room(r) != EMB_OK) {
        return r->err != NULL ? r->err->status : EMB_ERR_NOMEM;
    }
    for (size_t k = 0; k < r->n; k++) {
        double raw = 0.0;
        if (r->at[k] != MAX_COLUMNS && emb_number_parse(cell[r->at[k]], &raw, NULL) != 0) {
            return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "line %zu, column %zu ('%s'): '%.40s' is not a finite number",
                            number, r->at[k] + 1, r->want[k].names[0], cell[r->at[k]]);
        }
        const bool flag = r->want[k].keep_minus_one && raw == -1.0;
        const double si = r->at[k] == MAX_COLUMNS ? 0.0 : flag ? -1.0 : r->slope[k] * raw + r->origin[k];
        if (k == 0) {
            r->out->t[r->row] = si;
        } else {
            r->out->v[r->row * (r->n - 1) + k - 1] = si;
        }
    }
    if (r->row > 0 && !(r->out->t[r->row] > r->out->t[r->row - 1])) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "line %zu: time does not rise", number);
    }
    r->row++;
    return EMB_OK;
}

static enum emb_status lines_read(struct reader *r, FILE *f)
{
    char *line = NULL;
    size_t size = 0, number = 0;
    ssize_t len = 0;
    enum emb_status status = EMB_OK;
    while (status == EMB_OK && (len = getline(&line, &size, f)) >= 0) {
        number++;
        if (memchr(line, 0, (size_t)len) != NULL || len > 65536) {
            status = emb_fail(r->err, EMB_ERR_CONFIG, r->file, "line %zu: not a text table", number);
            break;
        }
        line[strcspn(line, "\r\n")] = '\0';
        if (number == 1) {
            status = header_read(r, line);
        } else if (line[0] != '\0') {
            status = row_read(r, line, number);
        }
    }
    free(line);
    if (status == EMB_OK && ferror(f)) {
        status = emb_fail(r->err, EMB_ERR_IO, r->file, "cannot be read");
    } else if (status == EMB_OK && r->row < 2) {
        status = emb_fail(r->err, EMB_ERR_CONFIG, r->file, "needs a header and at least two rows");
    }
    return status;
}

enum emb_status emb_csv_read(const char *file, const struct emb_units *u, const struct emb_csv_column *columns, size_t n,
                             struct emb_trace *out, struct emb_err *err)
{
    struct emb_err own = {0};
    struct reader r = {.file = file, .units = u, .want = columns, .n = n, .out = out, .err = err != NULL ? err : &own};
    *out = (struct emb_trace){0};
    FILE *f = n >= 2 && n <= MAX_WANTED ? fopen(file, "rb") : NULL;
    if (f == NULL) {
        return emb_fail(err, EMB_ERR_IO, file, "cannot be opened: %s", strerror(errno));
    }
    const enum emb_status status = lines_read(&r, f);
    fclose(f);
    if (status != EMB_OK) {
        free(out->t);
        free(out->v);
        *out = (struct emb_trace){0};
        return status;
    }
    out->n = r.row;
    out->n_col = n - 1;
    for (size_t i = out->n; i-- > 0;) {
        out->t[i] -= out->t[0];
    }
    return EMB_OK;
}

static enum emb_status range_check(const char *file, struct emb_trace *t, size_t col, double lo, double hi,
                                   const char *what, struct emb_err *err)
{
    for (size_t i = 0; i < t->n; i++) {
        const double v = t->v[i * t->n_col + col];
        if (!(v >= lo && v <= hi)) {
            free(t->t);
            free(t->v);
            *t = (struct emb_trace){0};
            return emb_fail(err, EMB_ERR_CONFIG, file, "row %zu: %s %g is outside %g .. %g (SI)", i + 1, what, v, lo, hi);
        }
    }
    return EMB_OK;
}

enum emb_status emb_csv_road_cycle(const char *file, const struct emb_units *u, struct emb_trace *out,
                                   struct emb_err *err)
{
    static const struct emb_csv_column columns[] = {
        {{"cycSecs", "time", "t", NULL}, EMB_DIM_TIME, 1.0, false, false},
        {{"cycMps", "speed", "road_speed", NULL}, EMB_DIM_SPEED, 1.0, false, false},
        {{"cycGrade", "grade", NULL}, EMB_DIM_FRACTION, 1.0, false, true},
    };
    enum emb_status s = emb_csv_read(file, u, columns, 3, out, err);
    s = s == EMB_OK ? range_check(file, out, 0, 0, 60, "speed [m/s]", err) : s;
    return s == EMB_OK ? range_check(file, out, 1, -0.5, 0.5, "grade [-]", err) : s;
}

enum emb_status emb_csv_engine_cycle(const char *file, const struct emb_units *u, struct emb_trace *out,
                                     struct emb_err *err)
{
    static const struct emb_csv_column columns[] = {
        {{"time", "t", NULL}, EMB_DIM_TIME, 1.0, false, false},
        {{"n_norm", NULL}, EMB_DIM_FRACTION, 0.01, false, false},
        {{"T_norm", NULL}, EMB_DIM_FRACTION, 0.01, true, false},
    };
    enum emb_status s = emb_csv_read(file, u, columns, 3, out, err);
    s = s == EMB_OK ? range_check(file, out, 0, -0.2, 1.3, "n_norm", err) : s;
    return s == EMB_OK ? range_check(file, out, 1, -1.0, 1.3, "T_norm", err) : s;
}

enum emb_status emb_csv_recorded(const char *file, const struct emb_units *u, const struct emb_recorded_cfg *cfg,
                                 struct emb_trace *out, struct emb_err *err)
{
    const struct emb_csv_column columns[] = {
        {{cfg->time_column, NULL}, EMB_DIM_TIME, 0.0, false, false},
        {{cfg->flow_column, NULL}, EMB_DIM_MASS_FLOW, 0.0, false, false},
        {{cfg->temperature_column, NULL}, EMB_DIM_TEMPERATURE, 0.0, false, false},
    };
    enum emb_status s = emb_csv_read(file, u, columns, 3, out, err);
    s = s == EMB_OK ? range_check(file, out, 0, 1e-6, 20, "flow [kg/s]", err) : s;
    return s == EMB_OK ? range_check(file, out, 1, 200, 1500, "temperature [K]", err) : s;
}
