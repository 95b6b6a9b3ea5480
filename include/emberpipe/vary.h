/* vary.h - change a read case by the path of a key, fast: no YAML, no units, no locks.
 *
 * Two ways, because not every key is a number:
 *  - a place (struct emb_place) is found once by path ("ambient.temperature", "line.doc.blocked",
 *    "duty.warm up.load", "targets.clean.below") and then set in SI in any number of copies of the
 *    case. It fits every case with the same elements, phases and targets in the same order.
 *  - texts and choices, the order of the line ("line.injector.before") and whole case files are
 *    levels of a choice: every combination is read once, by the full reader with all its checks
 *    (struct emb_variants), and copied from then on.
 * Reading (emb_variants_load) uses the unit library and must happen in one thread; all else here is
 * pure and may run in many threads at once. */
#ifndef EMB_VARY_H
#define EMB_VARY_H
#include <stdbool.h>
#include "emberpipe/case.h"
#include "emberpipe/field.h"
#include "emberpipe/status.h"

enum emb_home { EMB_HOME_CASE, EMB_HOME_LINE, EMB_HOME_DUTY, EMB_HOME_TARGET };
struct emb_place {
    char path[160];                /* canonical: "line[3].oxidation_catalyst.blocked" */
    const struct emb_field *field; /* its row: help, default, source, spread */
    enum emb_home home;
    size_t index, offset; /* entry of the list, byte within the entry or the case */
    bool numeric;         /* false: a text or a choice; it has no SI value, use a choice */
    enum emb_dim dim;
    double min, max; /* [SI of dim] both allowed */
};

/* A misspelt key or name is refused with the nearest known ones, and so is a key that has no effect
 * in this case (the engine of a case without one, a phase of another kind). */
enum emb_status emb_place_find(const struct emb_case *c, const char *path, struct emb_place *out,
                               struct emb_err *err);
double emb_place_get(const struct emb_case *c, const struct emb_place *p); /* [SI]; NaN: unset */
/* Refuses what is out of range or not a number; whole numbers and yes/no (1/0) must be whole. What
 * follows (start temperatures that were not given, nitrogen as the rest) follows. */
enum emb_status emb_place_set(struct emb_case *c, const struct emb_place *p, double si,
                              struct emb_err *err);
/* One plausible standard deviation [SI] around the value the case has; 0: not known. */
double emb_place_spread(const struct emb_case *c, const struct emb_place *p);
/* "10 degC" to SI by the dimension and range of the place. */
enum emb_status emb_place_parse(const struct emb_place *p, const struct emb_units *u,
                                const char *text, double *si, struct emb_err *err);
/* Which of these places the case's own file gives (or a key of `sets`, "path=value"), as opposed to
 * its parts and the defaults. A case without a file: none but the sets. */
enum emb_status emb_case_stated(const struct emb_case *c, const char *const *sets, size_t n_set,
                                const struct emb_place *place, size_t n, bool *stated,
                                struct emb_err *err);
/* What no single range can tell (idle above rated speed, more than all cylinders dead ...): call it
 * when all values are set. */
enum emb_status emb_case_verify(const struct emb_case *c, struct emb_err *err);

/* One choice: a key with its texts, or path "" with case files. */
struct emb_choice {
    const char *path;
    size_t n;
    const char *const *text;
};
/* All combinations of the choices, the last one fastest. */
struct emb_variants {
    size_t n;
    struct emb_case *item;
};
enum { EMB_MAX_VARIANTS = 4096 };
/* file: the base case unless a choice has path "". sets: overrides for all of them. */
enum emb_status emb_variants_load(const char *file, const char *const *sets, size_t n_set,
                                  const struct emb_choice *choice, size_t n_choice,
                                  struct emb_variants *out, struct emb_err *err);
void emb_variants_free(struct emb_variants *v);
#endif
