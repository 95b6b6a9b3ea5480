/* diagnose.h - which condition of the line would explain a log: each explanation alone, then pairs,
 * with intervals, and what these sensors cannot tell apart.
 *
 * A least-squares fit finds what fits, not what is broken: other causes that are not in the list
 * may fit as well, and the engine has to run right first. */
#ifndef EMB_DIAGNOSE_H
#define EMB_DIAGNOSE_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/case.h"
#include "emberpipe/log.h"
#include "emberpipe/replay.h"
#include "emberpipe/status.h"

enum emb_knob_kind {
    EMB_KNOB_ACTIVITY, /* active area left, over that of the case */
    EMB_KNOB_BLOCKED,  /* share of the face open, over that of the case */
    EMB_KNOB_DELIVERY, /* fuel delivered over commanded */
    EMB_KNOB_FLOW,     /* flow through the line over flow recorded */
    EMB_KNOB_LOSS,     /* heat loss over that of the case */
    EMB_KNOB_INLET,    /* inlet temperature: reading minus true */
    EMB_KNOB_OFFSET,   /* a sensor: reading minus true */
    EMB_N_KNOB_KIND
};
enum { EMB_MAX_KNOBS = 40 };
struct emb_knob {
    enum emb_knob_kind kind;
    int at;         /* element of the line, or sensor of the comparison; -1: none */
    char what[120]; /* "active area left in 'doc'" */
    double healthy; /* [unit] as the case has it */
    char unit[8];   /* "%", "K" or "x" */
};
struct emb_fitted {
    size_t knob;
    double value, lo, hi; /* [unit of the knob] and its 95 % interval */
    bool edge;            /* the fit ran to the end of what is possible */
};
struct emb_explanation {
    size_t n; /* knobs: 0, 1 or 2 */
    struct emb_fitted part[2];
    double rms;         /* [K] what is left unexplained */
    double score;       /* [-] Akaike's, over effective observations; smaller is better */
    double correlation; /* [-] between the two knobs */
    bool as_good;       /* cannot be told from the best */
};
struct emb_diagnosis {
    char title[200];
    size_t n_knob, n_explanation, n_observation;
    struct emb_knob knob[EMB_MAX_KNOBS];
    struct emb_explanation *explanation; /* best first */
    double effective; /* [-] independent observations among all, by the autocorrelation of what is
                         left */
    size_t n_alike;
    struct {
        size_t a, b;
        double cosine; /* [-] */
    } alike[8];        /* knobs that move these sensors nearly the same way */
    size_t runs;
    struct emb_replay compared; /* the case as it is, against the log */
};

struct emb_diagnose_options {
    int threads;                                /* 0: one a core */
    bool (*progress)(double share, void *user); /* false cancels; NULL */
    void *user;
};
enum emb_status emb_diagnose(const struct emb_case *c, const struct emb_log *log,
                             const struct emb_diagnose_options *o, struct emb_diagnosis *out,
                             struct emb_err *err);
void emb_diagnosis_free(struct emb_diagnosis *d);
void emb_diagnosis_text(const struct emb_diagnosis *d, FILE *f);
void emb_diagnosis_csv(const struct emb_diagnosis *d, FILE *f);
/* One knob set on a copy of a driven case: what the recovery tests put in. Offsets of sensors leave
 * the case as it is. */
void emb_knob_apply(const struct emb_knob *k, double value, struct emb_case *c);
/* The knobs of a driven case and its comparison, in a fixed order. */
size_t emb_knob_list(const struct emb_case *driven, const struct emb_log *log,
                     const struct emb_replay *compared, struct emb_knob out[EMB_MAX_KNOBS]);
const char *emb_knob_check(enum emb_knob_kind kind); /* the next physical check, a sentence */
#endif
