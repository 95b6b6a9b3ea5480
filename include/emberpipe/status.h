/* status.h - how every call says that something went wrong.
 *
 * The last parameter of a call that can fail is `struct emb_err *err`: untouched on success, filled
 * by the first failure. The text is complete enough to print as it is. Only main() prints and
 * exits. */
#ifndef EMB_STATUS_H
#define EMB_STATUS_H

#define EMB_STATUS_LIST(X)                                                                         \
    X(EMB_OK, 0, "the run is done, whatever the verdict")                                          \
    X(EMB_VERDICT_NO, 1, "run done, a target asked for by --require was not met")                  \
    X(EMB_ERR_USAGE, 2, "command line not understood")                                             \
    X(EMB_ERR_CONFIG, 3, "configuration rejected")                                                 \
    X(EMB_ERR_SOLVER, 4,                                                                           \
      "integration failed or stopped at a limit; results so far are kept and marked incomplete")   \
    X(EMB_ERR_IO, 5, "a file could not be read or written")                                        \
    X(EMB_ERR_NOMEM, 6, "out of memory")                                                           \
    X(EMB_STOPPED, 8, "a study was stopped before its end; run it again to go on")                 \
    X(EMB_ERR_BUG, 70, "internal error, please report")

#define EMB_STATUS_ENUM(name, code, text) name = code,
enum emb_status { EMB_STATUS_LIST(EMB_STATUS_ENUM) };

struct emb_err {
    enum emb_status status; /* EMB_OK until the first failure */
    char where[160];        /* config path, file or element; "" if none */
    char msg[512];          /* what, what was got, what is allowed, what to try */
};

/* Records a failure (the first one wins) and returns `status`. err may be NULL. */
enum emb_status emb_fail(struct emb_err *err, enum emb_status status, const char *where,
                         const char *fmt, ...) __attribute__((format(printf, 4, 5)));

/* One line that describes the status; never NULL. */
const char *emb_status_text(enum emb_status status);

#endif
