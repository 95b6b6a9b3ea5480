/* journal.h - results of a study on disk, one SQLite file (write-ahead log), one transaction a
 * case: what has been put is still there after kill -9 at any moment, and what a power cut can take
 * is what came after the last emb_journal_sync. Everything needed to read it is inside: the study
 * file, the names, units and levels, the program's version. The view "cases" has the real names as
 * columns, for the sqlite3 shell and for any other language.
 *
 * A journal that is open for writing locks out other writers, not readers. */
#ifndef EMB_JOURNAL_H
#define EMB_JOURNAL_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/status.h"
#include "emberpipe/study.h"

struct emb_record { /* one case */
    size_t id;
    int status;               /* enum emb_status */
    double seconds;           /* [s] of computing; differs from run to run */
    char reason[256];         /* why it failed; "" */
    double *values, *outputs; /* [SI] n_axis, n_output */
    float *traces;            /* [SI] n_trace x n_time, or NULL */
};
/* Buffers for records of this shape. */
enum emb_status emb_record_make(size_t n_axis, size_t n_output, size_t n_traced,
                                struct emb_record *out, struct emb_err *err);
void emb_record_drop(struct emb_record *r);
/* Fills a record from what became of case `id`. */
void emb_record_take(const struct emb_study *s, size_t id, enum emb_status status,
                     const struct emb_err *why, const struct emb_result *r, struct emb_record *out);

struct emb_journal_name { /* an axis, an output or a trace */
    char name[176], unit[32], meaning[200];
    bool text;      /* values are indices into level */
    size_t n_level; /* of an axis with texts, or of a grid; else 0 */
    char **level;   /* texts, NULL for numbers */
    double *value;  /* [SI] numbers, else the index */
};
struct emb_journal_info {
    char title[200], version[32], design[32];
    unsigned long long digest; /* of the study it belongs to */
    char *study_text;       /* the study file as it was */
    size_t n, done, failed; /* cases planned, recorded (failed ones too), failed */
    size_t n_axis, n_output, n_trace, n_time;
    double trace_interval; /* [s] */
    double seconds;        /* [s] of computing so far, all cores */
    struct emb_journal_name *axis, *output, *trace;
};

struct emb_journal;
/* Makes the file, or goes on with it if it belongs to the same study and version. `fresh`: throws
 * away what it holds; `retry`: failed cases count as not done. */
enum emb_status emb_journal_open(const char *file, const struct emb_study *s, bool fresh,
                                 bool retry, struct emb_journal **out, struct emb_err *err);
enum emb_status emb_journal_read(const char *file, struct emb_journal **out, struct emb_err *err);
void emb_journal_close(struct emb_journal *j); /* NULL is fine */
const struct emb_journal_info *emb_journal_info(const struct emb_journal *j);
/* Bit i of the map (malloc'ed, n bits) is set if case i is done. */
enum emb_status emb_journal_done(struct emb_journal *j, unsigned char **map, struct emb_err *err);
/* One number of every case: n of them, NaN where a case is not done or has none. */
enum emb_journal_column { EMB_JOURNAL_VALUE, EMB_JOURNAL_OUTPUT, EMB_JOURNAL_STATUS };
enum emb_status emb_journal_column(struct emb_journal *j, enum emb_journal_column of, size_t i,
                                   double *out, struct emb_err *err);
enum emb_status emb_journal_put(struct emb_journal *j, const struct emb_record *r,
                                struct emb_err *err);
enum emb_status emb_journal_sync(struct emb_journal *j, struct emb_err *err); /* safe on disk */
/* Records one after the other, by number; *more is false behind the last one. */
enum emb_status emb_journal_next(struct emb_journal *j, struct emb_record *r, bool *more,
                                 struct emb_err *err);
#endif
