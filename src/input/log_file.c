/* log_file.c - from the file to the log: lines in, gaps of the driving signals bridged, what cannot
 * be true refused. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "log.h"

enum { MAX_ROWS = 20000000, MAX_LINE = 65536 };

/* What a file that is no text looks like from its first bytes, and how to get a table out of it. */
static const char *other_format(const char *bytes, size_t n)
{
    if (n > 3 && memcmp(bytes, "PK\x03\x04", 4) == 0) {
        return " but a spreadsheet or another packed file; export it as CSV";
    }
    return n > 1 && (memcmp(bytes, "\xFF\xFE", 2) == 0 || memcmp(bytes, "\xFE\xFF", 2) == 0 ||
                     bytes[0] == '\0' || bytes[1] == '\0')
               ? " in UTF-8 but UTF-16; save it as 'CSV UTF-8', or use iconv -f UTF-16 -t UTF-8"
               : "";
}

/* '\n', or '\r' of a file that has no other line ends. A pipe cannot be looked at twice. */
static int line_end(FILE *f)
{
    int c = 0;
    if (fseek(f, 0, SEEK_SET) != 0) {
        return '\n';
    }
    while ((c = fgetc(f)) != EOF && c != '\n' && c != '\r') {
    }
    const bool lone = c == '\r' && fgetc(f) != '\n';
    rewind(f);
    return lone ? '\r' : '\n';
}

/* A header without any unit waits for the line below it, where some recorders write the units. */
static enum emb_status header_take(struct emb_log_reader *r, char *line)
{
    if (r->names == NULL && strpbrk(line, "[(") == NULL) {
        r->names = strdup(line);
        r->names_at = r->number;
        return r->names != NULL ? EMB_OK : emb_fail(r->err, EMB_ERR_NOMEM, r->file, "out of memory");
    }
    if (r->names == NULL) {
        return emb_log_header(r, line);
    }
    const size_t number = r->number;
    const bool units = emb_log_units_row(r->names, line);
    char *both = units ? emb_log_units_join(r->names, line) : NULL;
    r->number = r->names_at;
    enum emb_status st = units && both == NULL
                             ? emb_fail(r->err, EMB_ERR_NOMEM, r->file, "out of memory")
                             : emb_log_header(r, units ? both : r->names);
    free(both);
    r->number = number;
    return st != EMB_OK || units ? st : emb_log_row(r, line);
}

/* A file that ends with its header. */
static enum emb_status header_end(struct emb_log_reader *r)
{
    if (r->n_header > 0 || r->names == NULL) {
        return EMB_OK;
    }
    r->number = r->names_at;
    return emb_log_header(r, r->names);
}

static enum emb_status line_take(struct emb_log_reader *r, char *line, size_t len)
{
    if (memchr(line, 0, len) != NULL || len > MAX_LINE || strncmp(line, "PK\x03\x04", 4) == 0) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "line %zu: not a text table%s", r->number,
                        r->number == 1 ? other_format(line, len) : "");
    }
    line[strcspn(line, "\r\n")] = '\0';
    if (r->number == 1 && strncmp(line, "\xEF\xBB\xBF", 3) == 0) {
        line += 3;
    }
    if (line[0] == '\0' || (r->n_header == 0 && strncmp(line, "sep=", 4) == 0)) {
        return EMB_OK;
    }
    if (r->n_header == 0) {
        return header_take(r, line);
    }
    if (r->read >= MAX_ROWS) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "line %zu: more than %d rows", r->number,
                        (int)MAX_ROWS);
    }
    return emb_log_row(r, line);
}

static enum emb_status lines_take(struct emb_log_reader *r, FILE *f)
{
    char *line = NULL;
    size_t size = 0;
    ssize_t len = 0;
    enum emb_status st = EMB_OK;
    const int end = line_end(f);
    while (st == EMB_OK && (len = getdelim(&line, &size, end, f)) >= 0) {
        r->number++;
        st = line_take(r, line, (size_t)len);
    }
    free(line);
    if (st == EMB_OK && ferror(f)) {
        st = emb_fail(r->err, EMB_ERR_IO, r->file, "cannot be read");
    }
    st = st == EMB_OK ? header_end(r) : st;
    return st == EMB_OK ? emb_log_flush(r) : st;
}

/* Straight lines over missing values; the ends hold the nearest value. */
static void bridge(const struct emb_log *l, double *v)
{
    size_t last = l->n;
    for (size_t i = 0; i < l->n; i++) {
        if (isnan(v[i])) {
            continue;
        }
        for (size_t k = last < l->n ? last + 1 : 0; k < i; k++) {
            const double f = last < l->n ? (l->t[k] - l->t[last]) / (l->t[i] - l->t[last]) : 1.0;
            v[k] = last < l->n ? v[last] + f * (v[i] - v[last]) : v[i];
        }
        last = i;
    }
    for (size_t k = last + 1; last < l->n && k < l->n; k++) {
        v[k] = v[last];
    }
}

/* A temperature that stays the same to the last digit for minutes while the flow changes a lot has
 * stopped being measured. 300 s and 25 %: judgement. */
static enum emb_status stuck_check(struct emb_log_reader *r)
{
    const struct emb_log *l = r->log;
    const struct emb_log_column *T = emb_log_find(l, EMB_LOG_INLET),
                                *m = emb_log_find(l, EMB_LOG_FLOW);
    m = m != NULL ? m : emb_log_find(l, EMB_LOG_AIR);
    size_t from = 0;
    for (size_t i = 1; T != NULL && m != NULL && i <= l->n; i++) {
        if (i < l->n && T->v[i] == T->v[from]) {
            continue;
        }
        double lo = INFINITY, hi = 0.0;
        for (size_t k = from; k < i; k++) {
            lo = fmin(lo, m->v[k]);
            hi = fmax(hi, m->v[k]);
        }
        const double span = l->t[i - 1] - l->t[from];
        if (span >= 300.0 && hi - lo > 0.25 * hi) {
            return emb_fail(r->err, EMB_ERR_CONFIG, r->file,
                            "line %u, column %zu ('%s'): stays at %.1f °C (%.1f °F) for %.0f s "
                            "while the flow changes by %.0f %%: the sensor or its signal is stuck; "
                            "cut the log there",
                            l->line[from], T->at + 1, T->name, T->v[from] - 273.15,
                            1.8 * (T->v[from] - 273.15) + 32.0, span, 100.0 * (hi - lo) / hi);
        }
        from = i;
    }
    return EMB_OK;
}

static void notes_add(struct emb_log_reader *r)
{
    struct emb_log *l = r->log;
    if (r->repeated > 0) {
        emb_log_note(l, "rows with the same time as the row before them: %u, averaged with it",
                     r->repeated);
    }
    if (r->delimiter != ',') {
        emb_log_note(l, "cells are separated by %s%s", r->delimiter == ';' ? "semicolons" : "tabs",
                     r->decimal == '.' ? ", with decimal points" : "");
    }
    if (l->n < r->read && isnan(r->map->from) && isnan(r->map->to)) {
        emb_log_note(l, "%zu rows, averaged to %zu (rows closer than %g s)", r->read, l->n,
                     r->map->thin);
    }
    for (size_t k = 0; k < l->n_column; k++) {
        if (l->column[k].n_missing > 0) {
            emb_log_note(l, "'%.90s' has no value in %zu of %zu rows%s", l->column[k].name,
                         l->column[k].n_missing, l->n,
                         emb_log_kind(l->column[k].role)->drives ? ": bridged by straight lines"
                                                                 : ": left out there");
        }
    }
}

enum emb_status emb_log_finish(struct emb_log_reader *r)
{
    struct emb_log *l = r->log;
    if (l->n < 2) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "needs a header and at least two rows%s",
                        r->read > 1 ? " in the time asked for" : "");
    }
    notes_add(r);
    for (size_t k = 0; k < l->n_column; k++) {
        const struct emb_log_column *c = &l->column[k];
        if (c->role != EMB_LOG_TIME && c->n_missing == l->n) {
            return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "column %zu ('%s') holds no value",
                            c->at + 1, c->name);
        }
        if (emb_log_kind(c->role)->drives && c->role != EMB_LOG_TIME) {
            bridge(l, c->v);
        }
    }
    for (size_t i = l->n; i-- > 0;) {
        l->t[i] -= l->t[0];
    }
    return stuck_check(r);
}

enum emb_status emb_log_read(const char *file, const struct emb_case *c,
                             const struct emb_log_map *map, struct emb_log *out,
                             struct emb_err *err)
{
    struct emb_err own = {EMB_OK, "", ""};
    struct emb_log_reader *r = calloc(1, sizeof *r);
    *out = (struct emb_log){0};
    FILE *f = fopen(file, "rb");
    if (f == NULL || r == NULL || (r->units = emb_units_new()) == NULL) {
        const enum emb_status st =
            f == NULL ? emb_fail(err, EMB_ERR_IO, file, "cannot be read: %s", strerror(errno))
                      : emb_fail(err, EMB_ERR_NOMEM, file, "out of memory");
        if (f != NULL) {
            fclose(f);
        }
        free(r);
        return st;
    }
    r->file = file;
    r->c = c;
    r->map = map;
    r->log = out;
    r->err = err != NULL ? err : &own;
    enum emb_status st = lines_take(r, f);
    fclose(f);
    if (st == EMB_OK && r->n_header == 0) {
        st = emb_fail(r->err, EMB_ERR_CONFIG, file, "is empty");
    }
    st = st == EMB_OK ? emb_log_finish(r) : st;
    emb_units_free(r->units);
    free(r->names);
    free(r);
    if (st != EMB_OK) {
        emb_log_free(out);
    }
    return st;
}
