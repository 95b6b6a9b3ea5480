/* journal_layout.c - the tables of a journal: about, axis, level, output, trace, result, and the
 * view `cases` for people. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "journal_impl.h"

static const char *design_name(enum emb_design d)
{
    return emb_block_study.field[emb_field_find(&emb_block_study, "design")].choices[d];
}

static const char tables[] =
    "CREATE TABLE about (key TEXT PRIMARY KEY, value);"
    "CREATE TABLE axis (i INTEGER PRIMARY KEY, name TEXT, unit TEXT, meaning TEXT);"
    "CREATE TABLE level (axis INTEGER, i INTEGER, text TEXT, value REAL, PRIMARY KEY (axis, i));"
    "CREATE TABLE output (i INTEGER PRIMARY KEY, name TEXT, unit TEXT, meaning TEXT);"
    "CREATE TABLE trace (i INTEGER PRIMARY KEY, name TEXT, unit TEXT, meaning TEXT);";

static enum emb_status run(struct emb_journal *j, char *sql, struct emb_err *err)
{
    const enum emb_status st = sql != NULL ? emb_journal_exec(j, sql, err)
                                           : emb_fail(err, EMB_ERR_NOMEM, j->file, "out of memory");
    sqlite3_free(sql);
    return st;
}

static enum emb_status name_add(struct emb_journal *j, const char *table, size_t i,
                                const char *name, const char *unit, const char *meaning,
                                struct emb_err *err)
{
    return run(j,
               sqlite3_mprintf("INSERT INTO %s VALUES (%d, %Q, %Q, %Q)", table, (int)i, name, unit,
                               meaning),
               err);
}

static enum emb_status names_add(struct emb_journal *j, const struct emb_study *s,
                                 struct emb_err *err)
{
    const bool grid = s->cfg.design == EMB_DESIGN_GRID;
    enum emb_status st = EMB_OK;
    for (size_t i = 0; st == EMB_OK && i < s->n_axis; i++) {
        const struct emb_axis *a = &s->axis[i];
        st = name_add(j, "axis", i, a->key, strcmp(a->unit, "-") == 0 ? "1" : a->unit, a->meaning,
                      err);
        for (size_t k = 0; st == EMB_OK && (a->choice || grid) && k < a->n_level; k++) {
            st = run(j,
                     sqlite3_mprintf("INSERT INTO level VALUES (%d, %d, %Q, %!.17g)", (int)i,
                                     (int)k, a->choice ? a->text[k] : NULL,
                                     a->choice ? (double)k : a->level[k]),
                     err);
        }
    }
    for (size_t i = 0; st == EMB_OK && i < s->n_output; i++) {
        const struct emb_study_output *o = &s->output[i];
        st = name_add(j, "output", i, o->measure.text, o->unit, o->meaning, err);
    }
    for (size_t i = 0; st == EMB_OK && i < s->n_trace; i++) {
        const struct emb_study_trace *t = &s->trace[i];
        st = name_add(j, "trace", i, t->name, t->unit, t->meaning, err);
    }
    return st;
}

static enum emb_status about_add(struct emb_journal *j, const struct emb_study *s,
                                 struct emb_err *err)
{
    return run(
        j,
        sqlite3_mprintf(
            "INSERT INTO about VALUES ('format', 1), ('digest', '%016llx'), ('version', %Q), "
            "('title', %Q), ('design', %Q), ('study_file', %Q), ('cases', %lld), "
            "('trace_interval', %!.17g), ('trace_values', %lld)",
            s->digest, EMB_VERSION, s->cfg.title != NULL ? s->cfg.title : "",
            design_name(s->cfg.design), s->cfg.text, (long long)s->n, s->cfg.trace_interval,
            (long long)s->n_time),
        err);
}

/* Columns a0, a1 ... o0, o1 ...: real names may hold anything, they are for the view. */
static enum emb_status result_table(struct emb_journal *j, const struct emb_study *s,
                                    struct emb_err *err)
{
    sqlite3_str *table = sqlite3_str_new(j->db), *view = sqlite3_str_new(j->db);
    sqlite3_str_appendall(table, "CREATE TABLE result (id INTEGER PRIMARY KEY, status INTEGER NOT "
                                 "NULL, seconds REAL, reason TEXT");
    sqlite3_str_appendall(view, "CREATE VIEW cases AS SELECT id, status, seconds, reason");
    for (size_t i = 0; i < s->n_axis; i++) {
        sqlite3_str_appendf(table, ", a%d REAL", (int)i);
        if (s->axis[i].choice) {
            sqlite3_str_appendf(view,
                                ", (SELECT text FROM level WHERE axis = %d AND i = a%d) AS \"%w\"",
                                (int)i, (int)i, s->axis[i].key);
        } else {
            sqlite3_str_appendf(view, ", a%d AS \"%w\"", (int)i, s->axis[i].key);
        }
    }
    for (size_t i = 0; i < s->n_output; i++) {
        sqlite3_str_appendf(table, ", o%d REAL", (int)i);
        sqlite3_str_appendf(view, ", o%d AS \"%w\"", (int)i, s->output[i].measure.text);
    }
    sqlite3_str_appendall(table, ", traces BLOB)");
    sqlite3_str_appendall(view, " FROM result");
    const enum emb_status st = run(j, sqlite3_str_finish(table), err);
    char *sql = sqlite3_str_finish(view);
    if (st != EMB_OK) {
        sqlite3_free(sql);
        return st;
    }
    return run(j, sql, err);
}

enum emb_status emb_journal_layout(struct emb_journal *j, const struct emb_study *s,
                                   struct emb_err *err)
{
    enum emb_status st = emb_journal_exec(j, "BEGIN", err);
    st = st == EMB_OK ? emb_journal_exec(j, tables, err) : st;
    st = st == EMB_OK ? about_add(j, s, err) : st;
    st = st == EMB_OK ? names_add(j, s, err) : st;
    st = st == EMB_OK ? result_table(j, s, err) : st;
    return st == EMB_OK ? emb_journal_exec(j, "COMMIT", err) : st;
}

const char *emb_journal_about(struct emb_journal *j, const char *key, char *buf, size_t size)
{
    sqlite3_stmt *q = emb_journal_prepare(j, "SELECT value FROM about WHERE key = ?", NULL);
    buf[0] = '\0';
    if (q != NULL) {
        sqlite3_bind_text(q, 1, key, -1, SQLITE_STATIC);
        if (sqlite3_step(q) == SQLITE_ROW && sqlite3_column_text(q, 0) != NULL) {
            snprintf(buf, size, "%s", (const char *)sqlite3_column_text(q, 0));
        }
        sqlite3_finalize(q);
    }
    return buf;
}

static void column_copy(sqlite3_stmt *q, int i, char *buf, size_t size)
{
    const char *text = (const char *)sqlite3_column_text(q, i);
    snprintf(buf, size, "%s", text != NULL ? text : "");
}

static size_t count(struct emb_journal *j, const char *sql, double *also)
{
    sqlite3_stmt *q = emb_journal_prepare(j, sql, NULL);
    size_t n = 0;
    if (q != NULL && sqlite3_step(q) == SQLITE_ROW) {
        n = (size_t)sqlite3_column_int64(q, 0);
        if (also != NULL) {
            *also = sqlite3_column_double(q, 1);
        }
    }
    sqlite3_finalize(q);
    return n;
}

static enum emb_status names_learn(struct emb_journal *j, const char *table, size_t *n,
                                   struct emb_journal_name **out, struct emb_err *err)
{
    char sql[120];
    snprintf(sql, sizeof sql, "SELECT count(*) FROM %s", table);
    const size_t room = count(j, sql, NULL);
    *out = calloc(room + 1, sizeof **out);
    snprintf(sql, sizeof sql, "SELECT name, unit, meaning FROM %s ORDER BY i", table);
    sqlite3_stmt *q = *out != NULL ? emb_journal_prepare(j, sql, err) : NULL;
    if (q == NULL) {
        return *out != NULL ? EMB_ERR_IO : emb_fail(err, EMB_ERR_NOMEM, j->file, "out of memory");
    }
    for (; *n < room && sqlite3_step(q) == SQLITE_ROW; (*n)++) {
        column_copy(q, 0, (*out)[*n].name, sizeof(*out)[*n].name);
        column_copy(q, 1, (*out)[*n].unit, sizeof(*out)[*n].unit);
        column_copy(q, 2, (*out)[*n].meaning, sizeof(*out)[*n].meaning);
    }
    sqlite3_finalize(q);
    return EMB_OK;
}

static bool level_add(struct emb_journal_name *a, const char *text, double value)
{
    char **level = realloc(a->level, (a->n_level + 1) * sizeof *level);
    a->level = level != NULL ? level : a->level;
    double *number = realloc(a->value, (a->n_level + 1) * sizeof *number);
    a->value = number != NULL ? number : a->value;
    char *copy = text != NULL ? strdup(text) : NULL;
    if (level == NULL || number == NULL || (text != NULL && copy == NULL)) {
        free(copy);
        return false;
    }
    a->text = a->text || text != NULL;
    a->value[a->n_level] = value;
    a->level[a->n_level++] = copy;
    return true;
}

static enum emb_status levels_learn(struct emb_journal *j, struct emb_err *err)
{
    sqlite3_stmt *q =
        emb_journal_prepare(j, "SELECT axis, text, value FROM level ORDER BY axis, i", err);
    enum emb_status st = q != NULL ? EMB_OK : EMB_ERR_IO;
    while (st == EMB_OK && sqlite3_step(q) == SQLITE_ROW) {
        const size_t i = (size_t)sqlite3_column_int64(q, 0);
        if (i < j->info.n_axis &&
            !level_add(&j->info.axis[i], (const char *)sqlite3_column_text(q, 1),
                       sqlite3_column_double(q, 2))) {
            st = emb_fail(err, EMB_ERR_NOMEM, j->file, "out of memory");
        }
    }
    sqlite3_finalize(q);
    return st;
}

enum emb_status emb_journal_learn(struct emb_journal *j, struct emb_err *err)
{
    struct emb_journal_info *info = &j->info;
    char text[64];
    emb_journal_forget(info);
    emb_journal_about(j, "title", info->title, sizeof info->title);
    emb_journal_about(j, "version", info->version, sizeof info->version);
    emb_journal_about(j, "design", info->design, sizeof info->design);
    info->digest = strtoull(emb_journal_about(j, "digest", text, sizeof text), NULL, 16);
    info->n = (size_t)strtoull(emb_journal_about(j, "cases", text, sizeof text), NULL, 10);
    info->n_time =
        (size_t)strtoull(emb_journal_about(j, "trace_values", text, sizeof text), NULL, 10);
    count(j, "SELECT 0, value FROM about WHERE key = 'trace_interval'", &info->trace_interval);
    info->study_text = calloc(1, 4 * 1024 * 1024 + 1);
    if (info->study_text == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, j->file, "out of memory");
    }
    emb_journal_about(j, "study_file", info->study_text, 4 * 1024 * 1024 + 1);
    info->done = count(j, "SELECT count(*), total(seconds) FROM result", &info->seconds);
    info->failed = count(j, "SELECT count(*) FROM result WHERE status <> 0", NULL);
    enum emb_status st = names_learn(j, "axis", &info->n_axis, &info->axis, err);
    st = st == EMB_OK ? names_learn(j, "output", &info->n_output, &info->output, err) : st;
    st = st == EMB_OK ? names_learn(j, "trace", &info->n_trace, &info->trace, err) : st;
    return st == EMB_OK ? levels_learn(j, err) : st;
}

void emb_journal_forget(struct emb_journal_info *info)
{
    for (size_t i = 0; i < info->n_axis; i++) {
        for (size_t k = 0; k < info->axis[i].n_level; k++) {
            free(info->axis[i].level[k]);
        }
        free(info->axis[i].level);
        free(info->axis[i].value);
    }
    free(info->axis);
    free(info->output);
    free(info->trace);
    free(info->study_text);
    *info = (struct emb_journal_info){0};
}
