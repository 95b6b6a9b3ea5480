/* export_csv.c - a journal as a table. Numbers with 17 digits: they read back bit for bit. */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "emberpipe/study_export.h"
#include "export.h"

static void cell_text(FILE *f, const char *text)
{
    const bool quote = strpbrk(text, ",\"\n") != NULL;
    fputs(quote ? "\"" : "", f);
    for (const char *p = text; *p != '\0'; p++) {
        fputs(*p == '"' ? "\"\"" : "", f);
        fputc(*p, f);
    }
    fputs(quote ? "\"" : "", f);
}

static void header(FILE *f, const struct emb_journal_name *n)
{
    char text[220];
    if (n->text) {
        cell_text(f, n->name);
    } else {
        snprintf(text, sizeof text, "%s [%s]", n->name, n->unit);
        cell_text(f, text);
    }
    fputc(',', f);
}

static void row(FILE *f, const struct emb_journal_info *info, const struct emb_record *r)
{
    fprintf(f, "%zu,", r->id);
    for (size_t i = 0; i < info->n_axis; i++) {
        const struct emb_journal_name *a = &info->axis[i];
        const size_t level = a->text ? (size_t)r->values[i] : 0;
        if (!a->text) {
            fprintf(f, "%.17g", r->values[i]);
        } else if (level < a->n_level) {
            cell_text(f, a->level[level]);
        }
        fputc(',', f);
    }
    for (size_t i = 0; i < info->n_output; i++) {
        if (!isnan(r->outputs[i])) {
            fprintf(f, "%.17g", r->outputs[i]);
        }
        fputc(',', f);
    }
    fprintf(f, "%d,", r->status);
    cell_text(f, r->reason);
    fputc('\n', f);
}

static enum emb_status table(struct emb_journal *j, FILE *f, struct emb_err *err)
{
    const struct emb_journal_info *info = emb_journal_info(j);
    struct emb_record r;
    bool more = true;
    enum emb_status st = emb_record_make(info->n_axis, info->n_output, 0, &r, err);
    fputs("case,", f);
    for (size_t i = 0; i < info->n_axis; i++) {
        header(f, &info->axis[i]);
    }
    for (size_t i = 0; i < info->n_output; i++) {
        header(f, &info->output[i]);
    }
    fputs("status,reason\n", f);
    while (st == EMB_OK && (st = emb_journal_next(j, &r, &more, err)) == EMB_OK && more) {
        row(f, info, &r);
    }
    emb_record_drop(&r);
    return st;
}

enum emb_status emb_export_begin(const char *file, char *beside, size_t size, struct emb_err *err)
{
    if ((size_t)snprintf(beside, size, "%s.part", file) >= size) {
        return emb_fail(err, EMB_ERR_IO, file, "the name is too long");
    }
    return EMB_OK;
}

enum emb_status emb_export_end(const char *file, const char *beside, enum emb_status st,
                               struct emb_err *err)
{
    if (st == EMB_OK && rename(beside, file) != 0) {
        st = emb_fail(err, EMB_ERR_IO, file, "cannot be written: %s", strerror(errno));
    }
    if (st != EMB_OK) {
        unlink(beside);
    }
    return st;
}

enum emb_status emb_study_export_csv(struct emb_journal *j, const char *file, struct emb_err *err)
{
    char beside[400];
    enum emb_status st = emb_export_begin(file, beside, sizeof beside, err);
    FILE *f = st == EMB_OK ? fopen(beside, "wb") : NULL;
    if (f == NULL) {
        return st != EMB_OK
                   ? st
                   : emb_fail(err, EMB_ERR_IO, file, "cannot be written: %s", strerror(errno));
    }
    st = table(j, f, err);
    bool bad = ferror(f) != 0 || fflush(f) != 0 || fsync(fileno(f)) != 0;
    bad = fclose(f) != 0 || bad;
    if (st == EMB_OK && bad) {
        st = emb_fail(err, EMB_ERR_IO, file, "cannot be written: %s", strerror(errno));
    }
    return emb_export_end(file, beside, st, err);
}
