/* library.h - a shared library loaded when it is needed and not before: linked in, what only some
 * commands use would add tens of milliseconds to every start of the program. */
#ifndef EMB_LIBRARY_H
#define EMB_LIBRARY_H
#include <stddef.h>
#include "emberpipe/status.h"

struct emb_library {
    const char *what;   /* who needs it, as messages call it */
    const char *soname; /* file that the loader looks for */
    const char *advice; /* what to do when it is missing */
};
/* Fills `calls`, a struct of n pointers to functions and nothing else, in the order of `names`. The
 * library stays loaded until the process ends: some register exit handlers that must not lose
 * their code. */
enum emb_status emb_library_open(const struct emb_library *l, size_t n, const char *const *names,
                                 void *calls, struct emb_err *err);
#endif
