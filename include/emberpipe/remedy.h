/* remedy.h - what would make a target reachable: the smallest single change of each kind.
 *
 * A remedy is a list of overrides ("path=value") for the case file; what it is said to do was seen
 * in a run with exactly these overrides. */
#ifndef EMB_REMEDY_H
#define EMB_REMEDY_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/case.h"
#include "emberpipe/result.h"
#include "emberpipe/status.h"

enum emb_effort { /* what it takes, easiest first */
                  EMB_EFFORT_CONTROL,
                  EMB_EFFORT_PLACE,
                  EMB_EFFORT_TIME,
                  EMB_EFFORT_REPAIR,
                  EMB_EFFORT_REBUILD
};
struct emb_effect {
    struct emb_verdict verdict; /* of the target */
    double fuel;                /* [kg] engine and dosing, whole run */
    double peak;                /* [K] hottest solid */
    char peak_at[48];
    bool too_hot; /* above what the case says its parts or its control allow */
};
enum { EMB_REMEDY_SETS = 24, EMB_REMEDY_SET = 120 };
struct emb_remedy {
    char what[160];      /* "idle speed from 650 rpm to 980 rpm" */
    const char *caution; /* "" : none of its own */
    enum emb_effort effort;
    double share; /* [-] of its sensible range that is used, 0 .. 1 */
    bool works;   /* the target is reached, seen in the run of the overrides */
    bool failed;  /* the run failed; message says why */
    char message[200];
    size_t n_set;
    char set[EMB_REMEDY_SETS][EMB_REMEDY_SET];
    struct emb_effect effect;
};
struct emb_remedies { /* for one target */
    char target[80], what[96], at[48];
    struct emb_effect now; /* as the case stands */
    size_t n, n_pair;
    struct emb_remedy *item; /* singles: those that work first, easiest and smallest first */
    struct emb_remedy *pair; /* pairs, tried only when no single change works */
};
struct emb_remedy_report {
    char title[200];
    char faults[200]; /* of the case, in words; "": none */
    size_t n_reached, n; /* targets that need nothing; targets looked into */
    struct emb_remedies *target;
};
/* file: where the case comes from, read again with each change; sets: overrides of the user.
 * target: name, or NULL for all that fail. said: called now and then with what is being done; may
 * be NULL. Not to be called by two threads at once (it reads files). */
enum emb_status emb_remedy_find(const char *file, const char *const *sets, size_t n_set,
                                const char *target, void (*said)(const char *text, void *user),
                                void *user, struct emb_remedy_report *out, struct emb_err *err);
void emb_remedy_free(struct emb_remedy_report *r);
/* file: as the user gave it, for the lines to copy. */
void emb_remedy_text(const struct emb_remedy_report *r, const char *file, FILE *f);
#endif
