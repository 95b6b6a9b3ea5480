/* report.h - a result, told as text, JSON or CSV, to a stream or into a folder.
 *
 * Writers read the result and nothing else; the same result gives the same bytes. None of them
 * keeps or frees anything of the caller's. A stream that cannot take the bytes (full disk, closed)
 * gives EMB_ERR_IO. */
#ifndef EMB_REPORT_H
#define EMB_REPORT_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/result.h"
#include "emberpipe/status.h"

struct emb_report_options {
    bool stats;            /* solver counters, and the wall time (which differs from run to run) */
    const char *case_file; /* folder only: copied beside the results; NULL: no copy */
    const char *const *sets; /* folder only: overrides, noted at the end of the copy */
    size_t n_set;
};

struct emb_report_writer {
    const char *name; /* "text" */
    const char *file; /* its name in a folder: "report.txt" */
    void (*write)(const struct emb_result *r, const struct emb_report_options *o, FILE *f);
};

enum { EMB_N_REPORT = 3 };
extern const struct emb_report_writer emb_report_writers[EMB_N_REPORT];

void emb_report_text(const struct emb_result *r, const struct emb_report_options *o, FILE *f);
void emb_report_json(const struct emb_result *r, const struct emb_report_options *o, FILE *f);
void emb_report_csv(const struct emb_result *r, const struct emb_report_options *o, FILE *f);
/* The short answer: verdicts, warnings, cautions. */
void emb_report_answer(const struct emb_result *r, FILE *f);
const struct emb_report_writer *emb_report_find(const char *name); /* NULL: no such writer */
/* Flushes and tells whether everything written to f so far has arrived. `where` names the stream in
 * the message. */
enum emb_status emb_report_flush(FILE *f, const char *where, struct emb_err *err);

/* Can `dir` be made? Tries, and leaves nothing behind. An existing folder must be empty; with
 * `force` it may also hold an earlier result, but nothing else. */
enum emb_status emb_folder_check(const char *dir, bool force, struct emb_err *err);
/* All writers into `dir`: first beside it, then renamed, so `dir` holds either everything or what
 * it held before. */
enum emb_status emb_folder_write(const char *dir, bool force, const struct emb_result *r,
                                 const struct emb_report_options *o, struct emb_err *err);
#endif
