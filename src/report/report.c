/* report.c - the table of writers. A new format is a new row here and a file beside this one. */
#include "emberpipe/report.h"

#include <errno.h>
#include <string.h>

const struct emb_report_writer emb_report_writers[EMB_N_REPORT] = {
    {"text", "report.txt", emb_report_text},
    {"json", "result.json", emb_report_json},
    {"csv", "series.csv", emb_report_csv},
};

const struct emb_report_writer *emb_report_find(const char *name)
{
    for (int i = 0; i < EMB_N_REPORT; i++) {
        if (strcmp(emb_report_writers[i].name, name) == 0) {
            return &emb_report_writers[i];
        }
    }
    return NULL;
}

enum emb_status emb_report_flush(FILE *f, const char *where, struct emb_err *err)
{
    errno = 0;
    if (fflush(f) != 0 || ferror(f)) {
        return emb_fail(err, EMB_ERR_IO, where, "cannot write: %s",
                        errno != 0 ? strerror(errno) : "an earlier write failed");
    }
    return EMB_OK;
}
