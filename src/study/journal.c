/* journal.c - opening, putting, reading back. */
#include "emberpipe/journal.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#include "journal_impl.h"

enum emb_status emb_record_make(size_t n_axis, size_t n_output, size_t n_traced,
                                struct emb_record *out, struct emb_err *err)
{
    *out = (struct emb_record){0};
    out->values = calloc(n_axis + 1, sizeof *out->values);
    out->outputs = calloc(n_output + 1, sizeof *out->outputs);
    out->traces = n_traced > 0 ? calloc(n_traced, sizeof *out->traces) : NULL;
    if (out->values == NULL || out->outputs == NULL || (n_traced > 0 && out->traces == NULL)) {
        emb_record_drop(out);
        return emb_fail(err, EMB_ERR_NOMEM, "record", "out of memory");
    }
    return EMB_OK;
}

void emb_record_drop(struct emb_record *r)
{
    free(r->values);
    free(r->outputs);
    free(r->traces);
    *r = (struct emb_record){0};
}

void emb_record_take(const struct emb_study *s, size_t id, enum emb_status status,
                     const struct emb_err *why, const struct emb_result *r, struct emb_record *out)
{
    static const struct emb_result nothing = {0};
    out->id = id;
    out->status = (int)status;
    out->seconds = r->wall_seconds;
    snprintf(out->reason, sizeof out->reason, "%.60s%s%.180s", status != EMB_OK ? why->where : "",
             status != EMB_OK && why->where[0] != '\0' ? ": " : "",
             status != EMB_OK ? why->msg : "");
    emb_study_values(s, id, out->values);
    /* half a run is no answer: its numbers would look like results */
    emb_study_keep(s, status == EMB_OK ? r : &nothing, out->outputs, out->traces);
}

enum emb_status emb_journal_fail(const struct emb_journal *j, const char *what, struct emb_err *err)
{
    const int code = j->db != NULL ? sqlite3_errcode(j->db) : SQLITE_NOMEM;
    const bool full = code == SQLITE_FULL || code == SQLITE_IOERR;
    return emb_fail(err, EMB_ERR_IO, j->file, "%s: %s%s", what,
                    j->db != NULL ? sqlite3_errmsg(j->db) : "out of memory",
                    full ? " (disk full?); what was recorded is safe: make room and run again"
                         : "");
}

enum emb_status emb_journal_exec(struct emb_journal *j, const char *sql, struct emb_err *err)
{
    return sqlite3_exec(j->db, sql, NULL, NULL, NULL) == SQLITE_OK
               ? EMB_OK
               : emb_journal_fail(j, "cannot be written", err);
}

sqlite3_stmt *emb_journal_prepare(struct emb_journal *j, const char *sql, struct emb_err *err)
{
    sqlite3_stmt *q = NULL;
    if (sqlite3_prepare_v2(j->db, sql, -1, &q, NULL) != SQLITE_OK) {
        emb_journal_fail(j, "cannot be read", err);
    }
    return q;
}

void emb_journal_close(struct emb_journal *j)
{
    if (j == NULL) {
        return;
    }
    sqlite3_finalize(j->put);
    sqlite3_finalize(j->next);
    sqlite3_close(j->db);
    if (j->lock >= 0) {
        close(j->lock); /* last: closing it earlier would drop SQLite's own locks on the file */
    }
    emb_journal_forget(&j->info);
    free(j);
}

const struct emb_journal_info *emb_journal_info(const struct emb_journal *j)
{
    return &j->info;
}

static struct emb_journal *journal_new(const char *file, struct emb_err *err)
{
    struct emb_journal *j = calloc(1, sizeof *j);
    if (j == NULL) {
        emb_fail(err, EMB_ERR_NOMEM, file, "out of memory");
        return NULL;
    }
    j->lock = -1;
    snprintf(j->file, sizeof j->file, "%s", file);
    return j;
}

static enum emb_status lock_take(struct emb_journal *j, struct emb_err *err)
{
    j->lock = open(j->file, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (j->lock < 0) {
        return emb_fail(err, EMB_ERR_IO, j->file, "cannot be written: %s", strerror(errno));
    }
    if (flock(j->lock, LOCK_EX | LOCK_NB) != 0) {
        return emb_fail(err, EMB_ERR_IO, j->file,
                        errno == EWOULDBLOCK ? "another run is writing it; wait for that, or name "
                                               "another one with --journal"
                                             : "cannot be locked");
    }
    return EMB_OK;
}

/* -1: empty file, 0: of another study, 1: of this one, 2: no journal at all */
static int whose(struct emb_journal *j, const struct emb_study *s, struct emb_err *err)
{
    char have[32], want[32];
    sqlite3_stmt *q = NULL;
    if (sqlite3_prepare_v2(j->db, "SELECT count(*) FROM sqlite_master", -1, &q, NULL) !=
        SQLITE_OK) {
        return 2;
    }
    const int n = sqlite3_step(q) == SQLITE_ROW ? sqlite3_column_int(q, 0) : -1;
    sqlite3_finalize(q);
    if (n <= 0) {
        return n == 0 ? -1 : 2;
    }
    (void)err;
    snprintf(want, sizeof want, "%016llx", s->digest);
    emb_journal_about(j, "digest", have, sizeof have);
    return have[0] == '\0' ? 2 : strcmp(have, want) == 0;
}

static enum emb_status claim(struct emb_journal *j, const struct emb_study *s, bool fresh,
                             struct emb_err *err)
{
    const int mine = whose(j, s, err);
    if (mine == 2) {
        return emb_fail(err, EMB_ERR_IO, j->file, "exists and is no journal of a study");
    }
    if (mine == 0 && !fresh) {
        return emb_fail(err, EMB_ERR_CONFIG, j->file,
                        "holds another study: the study file, a case "
                        "file or the program has changed since; --fresh starts over, --journal "
                        "names another file");
    }
    if (mine >= 0 && fresh) {
        enum emb_status st = emb_journal_exec(
            j,
            "BEGIN; DROP VIEW IF EXISTS cases; DROP TABLE IF EXISTS result; DROP TABLE IF EXISTS "
            "trace; DROP TABLE IF EXISTS output; DROP TABLE IF EXISTS level; DROP TABLE IF EXISTS "
            "axis; DROP TABLE about; COMMIT; VACUUM",
            err);
        return st == EMB_OK ? emb_journal_layout(j, s, err) : st;
    }
    return mine == 1 ? EMB_OK : emb_journal_layout(j, s, err);
}

static enum emb_status put_prepare(struct emb_journal *j, struct emb_err *err)
{
    sqlite3_str *sql = sqlite3_str_new(j->db);
    sqlite3_str_appendall(sql, "INSERT OR REPLACE INTO result VALUES (?, ?, ?, ?, ?");
    for (size_t i = 0; i < j->info.n_axis + j->info.n_output; i++) {
        sqlite3_str_appendall(sql, ", ?");
    }
    sqlite3_str_appendall(sql, ")");
    char *text = sqlite3_str_finish(sql);
    j->put = text != NULL ? emb_journal_prepare(j, text, err) : NULL;
    sqlite3_free(text);
    return j->put != NULL ? EMB_OK : EMB_ERR_IO;
}

enum emb_status emb_journal_open(const char *file, const struct emb_study *s, bool fresh,
                                 bool retry, struct emb_journal **out, struct emb_err *err)
{
    struct emb_journal *j = journal_new(file, err);
    if (j == NULL) {
        return EMB_ERR_NOMEM;
    }
    enum emb_status st = lock_take(j, err);
    if (st == EMB_OK && sqlite3_open_v2(file, &j->db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_FULLMUTEX,
                                        NULL) != SQLITE_OK) {
        st = emb_journal_fail(j, "cannot be opened", err);
    }
    if (st == EMB_OK) {
        sqlite3_busy_timeout(j->db, 20000); /* [ms] a reader may be about */
        st = claim(j, s, fresh, err);
    }
    if (st == EMB_OK) {
        st = emb_journal_exec(j, "PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL", err);
    }
    if (st == EMB_OK && retry) {
        st = emb_journal_exec(j, "DELETE FROM result WHERE status <> 0", err);
    }
    st = st == EMB_OK ? emb_journal_learn(j, err) : st;
    st = st == EMB_OK ? put_prepare(j, err) : st;
    if (st != EMB_OK) {
        emb_journal_close(j);
        return st;
    }
    *out = j;
    return EMB_OK;
}

enum emb_status emb_journal_read(const char *file, struct emb_journal **out, struct emb_err *err)
{
    struct emb_journal *j = journal_new(file, err);
    char format[16];
    if (j == NULL) {
        return EMB_ERR_NOMEM;
    }
    enum emb_status st = EMB_OK;
    if (access(file, R_OK) != 0) {
        st = emb_fail(err, EMB_ERR_IO, file, "cannot be read: %s; emberpipe study run makes it",
                      strerror(errno));
    } else if (sqlite3_open_v2(file, &j->db, SQLITE_OPEN_READWRITE, NULL) != SQLITE_OK) {
        st = emb_journal_fail(j, "cannot be opened", err);
    } else {
        sqlite3_busy_timeout(j->db, 20000); /* [ms] */
        emb_journal_about(j, "format", format, sizeof format);
        st = strcmp(format, "1") == 0 ? emb_journal_learn(j, err)
                                      : emb_fail(err, EMB_ERR_IO, file, "is no journal of a study");
    }
    if (st != EMB_OK) {
        emb_journal_close(j);
        return st;
    }
    *out = j;
    return EMB_OK;
}

enum emb_status emb_journal_done(struct emb_journal *j, unsigned char **map, struct emb_err *err)
{
    sqlite3_stmt *q = emb_journal_prepare(j, "SELECT id FROM result", err);
    *map = calloc(j->info.n / 8 + 1, 1);
    if (q == NULL || *map == NULL) {
        sqlite3_finalize(q);
        free(*map);
        return q == NULL ? EMB_ERR_IO : emb_fail(err, EMB_ERR_NOMEM, j->file, "out of memory");
    }
    while (sqlite3_step(q) == SQLITE_ROW) {
        const size_t i = (size_t)sqlite3_column_int64(q, 0);
        if (i < j->info.n) {
            (*map)[i / 8] = (unsigned char)((*map)[i / 8] | 1U << i % 8);
        }
    }
    sqlite3_finalize(q);
    return EMB_OK;
}

enum emb_status emb_journal_put(struct emb_journal *j, const struct emb_record *r,
                                struct emb_err *err)
{
    sqlite3_stmt *q = j->put;
    const struct emb_journal_info *info = &j->info;
    int at = 1;
    sqlite3_bind_int64(q, at++, (sqlite3_int64)r->id);
    sqlite3_bind_int(q, at++, r->status);
    sqlite3_bind_double(q, at++, r->seconds);
    sqlite3_bind_text(q, at++, r->reason, -1, SQLITE_STATIC);
    for (size_t i = 0; i < info->n_axis; i++) {
        sqlite3_bind_double(q, at++, r->values[i]);
    }
    for (size_t i = 0; i < info->n_output; i++) {
        sqlite3_bind_double(q, at++, r->outputs[i]); /* NaN becomes NULL */
    }
    if (r->traces != NULL && r->status == EMB_OK) {
        sqlite3_bind_blob64(q, at, r->traces, info->n_trace * info->n_time * sizeof *r->traces,
                            SQLITE_STATIC);
    } else {
        sqlite3_bind_null(q, at);
    }
    const int rc = sqlite3_step(q);
    const enum emb_status st =
        rc == SQLITE_DONE ? EMB_OK : emb_journal_fail(j, "cannot be written", err);
    sqlite3_reset(q);
    if (st == EMB_OK) {
        j->info.done++;
        j->info.failed += r->status != EMB_OK;
        j->info.seconds += r->seconds;
    }
    return st;
}

/* Commits in WAL mode are written, but flushed to the disk only here. */
enum emb_status emb_journal_sync(struct emb_journal *j, struct emb_err *err)
{
    const int rc = sqlite3_wal_checkpoint_v2(j->db, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
    return rc == SQLITE_OK || rc == SQLITE_BUSY ? EMB_OK
                                                : emb_journal_fail(j, "cannot be flushed", err);
}

static double column_value(sqlite3_stmt *q, int i)
{
    return sqlite3_column_type(q, i) == SQLITE_NULL ? NAN : sqlite3_column_double(q, i);
}

enum emb_status emb_journal_column(struct emb_journal *j, enum emb_journal_column of, size_t i,
                                   double *out, struct emb_err *err)
{
    char sql[80];
    if (of == EMB_JOURNAL_STATUS) {
        snprintf(sql, sizeof sql, "SELECT id, status FROM result");
    } else {
        snprintf(sql, sizeof sql, "SELECT id, %c%zu FROM result",
                 of == EMB_JOURNAL_VALUE ? 'a' : 'o', i);
    }
    for (size_t k = 0; k < j->info.n; k++) {
        out[k] = NAN;
    }
    sqlite3_stmt *q = emb_journal_prepare(j, sql, err);
    int rc = q != NULL ? SQLITE_ROW : SQLITE_ERROR;
    while (rc == SQLITE_ROW && (rc = sqlite3_step(q)) == SQLITE_ROW) {
        const size_t id = (size_t)sqlite3_column_int64(q, 0);
        if (id < j->info.n) {
            out[id] = column_value(q, 1);
        }
    }
    sqlite3_finalize(q);
    return rc == SQLITE_DONE ? EMB_OK : emb_journal_fail(j, "cannot be read", err);
}

enum emb_status emb_journal_next(struct emb_journal *j, struct emb_record *r, bool *more,
                                 struct emb_err *err)
{
    const struct emb_journal_info *info = &j->info;
    if (j->next == NULL) {
        j->next = emb_journal_prepare(j, "SELECT * FROM result ORDER BY id", err);
    }
    const int rc = j->next != NULL ? sqlite3_step(j->next) : SQLITE_ERROR;
    *more = rc == SQLITE_ROW;
    if (!*more) {
        sqlite3_finalize(j->next);
        j->next = NULL;
        return rc == SQLITE_DONE ? EMB_OK : emb_journal_fail(j, "cannot be read", err);
    }
    const char *reason = (const char *)sqlite3_column_text(j->next, 3);
    int at = 4;
    r->id = (size_t)sqlite3_column_int64(j->next, 0);
    r->status = sqlite3_column_int(j->next, 1);
    r->seconds = sqlite3_column_double(j->next, 2);
    snprintf(r->reason, sizeof r->reason, "%s", reason != NULL ? reason : "");
    for (size_t i = 0; i < info->n_axis; i++) {
        r->values[i] = column_value(j->next, at++);
    }
    for (size_t i = 0; i < info->n_output; i++) {
        r->outputs[i] = column_value(j->next, at++);
    }
    const size_t n = info->n_trace * info->n_time;
    const float *blob = sqlite3_column_blob(j->next, at);
    const bool whole = (size_t)sqlite3_column_bytes(j->next, at) == n * sizeof *blob;
    for (size_t i = 0; r->traces != NULL && i < n; i++) {
        r->traces[i] = whole && blob != NULL ? blob[i] : NAN;
    }
    return EMB_OK;
}
