/* quick.h - from a handful of answers to a whole, commented case file.
 *
 * Layouts (configs/layouts) are ordinary case files without sizes; classes (configs/classes) hold
 * the sizes. A new file in either folder is a new choice, without any change of code. */
#ifndef EMB_QUICK_H
#define EMB_QUICK_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/status.h"
#include "emberpipe/units.h"

enum emb_answer {
    EMB_ASK_LAYOUT,
    EMB_ASK_CLASS,
    EMB_ASK_DISPLACEMENT,
    EMB_ASK_SOOT,
    EMB_ASK_AMBIENT,
    EMB_ASK_WIND,
    EMB_ASK_IDLE,
    EMB_N_ASK
};
struct emb_question {
    const char *name;   /* "soot": the option is --soot */
    const char *prompt; /* what the dialogue asks */
    const char *def;    /* default answer; "" : may be left out */
    const char *shelf;  /* answers are the names in this folder of configs; NULL: a quantity */
    enum emb_dim dim;
    double min, max; /* SI */
};
extern const struct emb_question emb_questions[EMB_N_ASK];

struct emb_fault { /* a known fault, and the key of the case that holds it */
    const char *name, *path, *example, *meaning;
};
extern const struct emb_fault emb_faults[];
extern const size_t emb_n_fault;

enum { EMB_MAX_FAULT = 16, EMB_ANSWER_MSG = 600 };
struct emb_quick {
    const char *answer[EMB_N_ASK]; /* NULL: the default */
    size_t n_fault;
    const char *fault[EMB_MAX_FAULT]; /* "face_blocked=60 %" */
};

/* Is this a sensible answer? If not, msg says what was got and what is accepted. */
bool emb_quick_answer_ok(enum emb_answer which, const char *text, char msg[EMB_ANSWER_MSG]);
bool emb_quick_fault_ok(const char *text, char msg[EMB_ANSWER_MSG]);
/* One line that says what a layout or class is, from its file. Returns buf. */
const char *emb_quick_about(const char *shelf, const char *name, char *buf, size_t size);
/* The text of the case; the caller frees it. */
enum emb_status emb_quick_text(const struct emb_quick *q, char **text, struct emb_err *err);
/* Checks that the text loads, then writes it. An existing file stays as it is unless `replace`. */
enum emb_status emb_quick_save(const char *file, const char *text, bool replace,
                               struct emb_err *err);
#endif
