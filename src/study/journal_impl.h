/* journal_impl.h - private to the study room: the open file. */
#ifndef EMB_JOURNAL_IMPL_H
#define EMB_JOURNAL_IMPL_H
#include <sqlite3.h>
#include "emberpipe/journal.h"

struct emb_journal {
    sqlite3 *db;
    sqlite3_stmt *put, *next;
    int lock; /* descriptor that keeps other writers out, -1: none */
    char file[300];
    struct emb_journal_info info;
};
enum emb_status emb_journal_fail(const struct emb_journal *j, const char *what,
                                 struct emb_err *err);
enum emb_status emb_journal_exec(struct emb_journal *j, const char *sql, struct emb_err *err);
sqlite3_stmt *emb_journal_prepare(struct emb_journal *j, const char *sql, struct emb_err *err);
/* journal_layout.c: tables of a new file; what an existing one says about itself */
enum emb_status emb_journal_layout(struct emb_journal *j, const struct emb_study *s,
                                   struct emb_err *err);
enum emb_status emb_journal_learn(struct emb_journal *j, struct emb_err *err);
/* Value of a key of the table `about`, "" if there is none. */
const char *emb_journal_about(struct emb_journal *j, const char *key, char *buf, size_t size);
void emb_journal_forget(struct emb_journal_info *info);
#endif
