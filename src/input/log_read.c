/* log_read.c - reads a log line by line; close rows become one, so that memory grows with the time
 * recorded, not with the rate of the recorder. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "log.h"

void emb_log_note(struct emb_log *l, const char *fmt, ...)
{
    va_list ap;
    if (l->n_note < EMB_LOG_MAX_NOTES) {
        va_start(ap, fmt);
        vsnprintf(l->note[l->n_note], sizeof l->note[0], fmt, ap);
        va_end(ap);
        l->n_note++;
    }
}

void emb_log_free(struct emb_log *l)
{
    for (size_t k = 0; k < l->n_column; k++) {
        free(l->column[k].v);
    }
    free(l->t);
    free(l->line);
    *l = (struct emb_log){0};
}

const struct emb_log_column *emb_log_find(const struct emb_log *l, enum emb_log_role role)
{
    for (size_t k = 0; k < l->n_column; k++) {
        if (l->column[k].role == role) {
            return &l->column[k];
        }
    }
    return NULL;
}

static enum emb_status grow(struct emb_log_reader *r)
{
    struct emb_log *l = r->log;
    const size_t n = r->capacity == 0 ? 1024 : r->capacity + r->capacity / 2;
    if (l->n < r->capacity) {
        return EMB_OK;
    }
    bool ok = true;
    double *t = realloc(l->t, n * sizeof *t);
    l->t = t != NULL ? t : l->t;
    unsigned *line = realloc(l->line, n * sizeof *line);
    l->line = line != NULL ? line : l->line;
    ok = t != NULL && line != NULL;
    for (size_t k = 0; k < l->n_column; k++) {
        double *v = l->column[k].role == EMB_LOG_TIME ? l->column[k].v
                                                      : realloc(l->column[k].v, n * sizeof *v);
        ok = ok && (v != NULL || l->column[k].role == EMB_LOG_TIME);
        l->column[k].v = v != NULL ? v : l->column[k].v;
    }
    r->capacity = ok ? n : r->capacity;
    return ok ? EMB_OK : emb_fail(r->err, EMB_ERR_NOMEM, r->file, "out of memory");
}

enum emb_status emb_log_flush(struct emb_log_reader *r)
{
    struct emb_log *l = r->log;
    if (r->in_bin == 0) {
        return EMB_OK;
    }
    if (grow(r) != EMB_OK) {
        return EMB_ERR_NOMEM;
    }
    l->t[l->n] = r->t_sum / r->in_bin;
    l->line[l->n] = r->bin_line;
    for (size_t k = 0; k < l->n_column; k++) {
        if (l->column[k].role != EMB_LOG_TIME) {
            l->column[k].v[l->n] = r->count[k] > 0 ? r->sum[k] / r->count[k] : NAN;
            l->column[k].n_missing += r->count[k] == 0;
        }
        r->sum[k] = 0.0;
        r->count[k] = 0;
    }
    l->n++;
    r->in_bin = 0;
    r->t_sum = 0.0;
    return EMB_OK;
}

enum emb_status emb_log_bad_cell(struct emb_log_reader *r, size_t at, const char *cell,
                                 const char *why)
{
    const char *name = "?";
    for (size_t k = 0; k < r->log->n_column; k++) {
        name = r->log->column[k].at == at ? r->log->column[k].name : name;
    }
    return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "line %zu, column %zu ('%s'): '%.40s' %s",
                    r->number, at + 1, name, cell, why);
}

/* "1 105", "1'105", with whatever blank a spreadsheet takes: digits in threes. */
static bool in_thousands(const char *cell)
{
    const char *p = cell + (*cell == '-'), *from = p;
    p += strspn(p, "0123456789");
    const size_t mark = strcspn(p, "0123456789");
    return p > from && p - from <= 3 && mark > 0 && mark <= 3 && strcspn(p, ",.") >= mark &&
           strspn(p + mark, "0123456789") == 3;
}

static enum emb_status bad_number(struct emb_log_reader *r, size_t at, const char *cell)
{
    return emb_log_bad_cell(r, at, cell,
                            in_thousands(cell) ? "has a thousands separator; write none"
                                               : "is not a finite number");
}

/* The first cell with a comma or a point in it decides for the whole file. */
enum emb_status emb_log_number(struct emb_log_reader *r, size_t at, char *cell, double *v)
{
    char *comma = strchr(cell, ',');
    const char *point = strchr(cell, '.');
    const char found = (char)(comma != NULL ? ',' : point != NULL ? '.' : 0);
    if (comma != NULL && point != NULL) {
        return emb_log_bad_cell(r, at, cell,
                                "has a comma and a point; write no thousands separators");
    }
    if (found != 0 && r->decimal == 0) {
        r->decimal = found;
        if (found == ',') {
            emb_log_note(r->log, "the file uses decimal commas");
        }
    }
    if (found != 0 && found != r->decimal) {
        return emb_log_bad_cell(
            r, at, cell,
            r->decimal == ','
                ? "has a decimal point, but the file uses decimal commas; write no thousands "
                  "separators"
                : "has a comma, but the file uses decimal points; write no thousands separators");
    }
    if (comma == NULL) {
        return emb_number_parse(cell, v, NULL) == 0 ? EMB_OK : bad_number(r, at, cell);
    }
    *comma = '.';
    const int rc = emb_number_parse(cell, v, NULL);
    *comma = ','; /* messages show the cell as it was */
    return rc == 0 ? EMB_OK : bad_number(r, at, cell);
}

bool emb_log_missing(const char *cell)
{
    static const char *const words[] = {"",    "-",   "--",   "NA",   "N/A", "n/a",
                                        "NaN", "nan", "null", "#N/A", "#NV"};
    if (*cell >= '0' && *cell <= '9') {
        return false; /* nearly all cells of millions of rows */
    }
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        if (strcmp(cell, words[i]) == 0) {
            return true;
        }
    }
    return false;
}

static enum emb_status implausible(struct emb_log_reader *r, size_t k, double si, const char *cell)
{
    const struct emb_log_column *c = &r->log->column[k];
    char lo[48], hi[48], got[48], why[240];
    const enum emb_dim dim = emb_log_dim(c);
    const char *unit = dim == EMB_DIM_TEMPERATURE ? "degC"
                       : dim == EMB_DIM_ROTATION  ? "rpm"
                       : dim == EMB_DIM_PRESSURE  ? "kPa"
                                                  : NULL;
    snprintf(why, sizeof why,
             "is %s, not plausible (%s .. %s): is the column's unit right? If it is an error code, "
             "empty such cells",
             emb_quantity_format(r->units, si, dim, unit, got, sizeof got),
             emb_quantity_format(r->units, r->lo[k], dim, unit, lo, sizeof lo),
             emb_quantity_format(r->units, r->hi[k], dim, unit, hi, sizeof hi));
    return emb_log_bad_cell(r, c->at, cell, why);
}

/* Driving signals may pause only as long as a straight line is an honest guess. */
static enum emb_status pause_check(struct emb_log_reader *r, size_t k, double t)
{
    const double gap = t - r->seen[k];
    if (gap <= r->map->longest_gap) {
        return EMB_OK;
    }
    return emb_fail(r->err, EMB_ERR_CONFIG, r->file,
                    "line %zu, column %zu ('%s'): no value for %.0f s (allowed: %.0f s), a pause or a "
                    "clock that jumps; cut the log there, or raise longest_gap in a mapping file",
                    r->number, r->log->column[k].at + 1, r->log->column[k].name, gap,
                    r->map->longest_gap);
}

static enum emb_status cell_read(struct emb_log_reader *r, size_t k, char *cell, double t)
{
    const struct emb_log_column *c = &r->log->column[k];
    const bool drives = emb_log_kind(c->role)->drives;
    if (emb_log_missing(cell)) {
        return drives ? pause_check(r, k, t) : EMB_OK;
    }
    double raw = 0.0;
    const enum emb_status st = emb_log_number(r, c->at, cell, &raw);
    if (st != EMB_OK) {
        return st;
    }
    const double si = r->slope[k] * raw + r->origin[k];
    if (!(si >= r->lo[k] && si <= r->hi[k])) {
        return implausible(r, k, si, cell);
    }
    if (drives && pause_check(r, k, t) != EMB_OK) {
        return EMB_ERR_CONFIG;
    }
    r->seen[k] = t;
    r->sum[k] += si;
    r->count[k]++;
    return EMB_OK;
}

/* Spreadsheets write rows of nothing but delimiters below a table. */
static bool all_empty(size_t n, char **cell)
{
    for (size_t i = 0; i < n; i++) {
        if (cell[i][0] != '\0') {
            return false;
        }
    }
    return true;
}

static enum emb_status cells_count(struct emb_log_reader *r, size_t n, char **cell)
{
    const bool trailing = n == r->n_header + 1 && cell[n - 1][0] == '\0';
    if (n == r->n_header || trailing) {
        return EMB_OK;
    }
    return emb_fail(r->err, EMB_ERR_CONFIG, r->file,
                    "line %zu, column %zu: %zu cells, the header has %zu%s", r->number,
                    (n < r->n_header ? n : r->n_header) + 1, n, r->n_header,
                    n > r->n_header && r->delimiter == ','
                        ? " (decimal commas? then the cells must be separated by semicolons)"
                        : "");
}

/* False: outside of what the mapping file wants. */
static bool wanted(const struct emb_log_reader *r, double t)
{
    const double since = t - r->t_first;
    return !(since < r->map->from) && !(since > r->map->to);
}

enum emb_status emb_log_row(struct emb_log_reader *r, char *line)
{
    char *cell[EMB_LOG_CELLS];
    double t = 0.0;
    const size_t n = emb_log_cells(line, r->delimiter, cell);
    if (cell[0][0] == '\0' && all_empty(n, cell)) {
        return EMB_OK;
    }
    enum emb_status st = cells_count(r, n, cell);
    st = st == EMB_OK ? emb_log_time(r, cell[r->time_at], &t) : st;
    if (st != EMB_OK) {
        return st;
    }
    r->t_first = r->read++ == 0 ? t : r->t_first;
    r->t_last = t;
    if (!wanted(r, t)) {
        return EMB_OK;
    }
    if (r->log->n == 0 && r->in_bin == 0) {
        for (size_t k = 0; k < r->log->n_column; k++) {
            r->seen[k] = t;
        }
    }
    if (r->in_bin > 0 && t > r->bin && t - r->bin >= r->map->thin * (1.0 - 1e-9)) {
        st = emb_log_flush(r);
    }
    if (r->in_bin == 0) {
        r->bin = t;
        r->bin_line = (unsigned)r->number;
    }
    r->in_bin++;
    r->t_sum += t;
    for (size_t k = 0; k < r->log->n_column && st == EMB_OK; k++) {
        if (r->log->column[k].role != EMB_LOG_TIME) {
            st = cell_read(r, k, cell[r->log->column[k].at], t);
        }
    }
    return st;
}
