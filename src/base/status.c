#include "emberpipe/status.h"

#include <stdarg.h>
#include <stdio.h>

enum emb_status emb_fail(struct emb_err *err, enum emb_status status, const char *where,
                         const char *fmt, ...)
{
    if (err != NULL && err->status == EMB_OK) {
        va_list ap;
        va_start(ap, fmt);
        err->status = status;
        snprintf(err->where, sizeof err->where, "%s", where != NULL ? where : "");
        vsnprintf(err->msg, sizeof err->msg, fmt, ap);
        va_end(ap);
    }
    return status;
}

const char *emb_status_text(enum emb_status status)
{
#define EMB_STATUS_CASE(name, code, text)                                                          \
    case name:                                                                                     \
        return text;
    switch (status) {
        EMB_STATUS_LIST(EMB_STATUS_CASE)
    }
    return "unknown status";
}
