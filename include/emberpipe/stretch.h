/* stretch.h - samples of a control that change next to nothing, taken in one go. Pure.
 *
 * A control law is sampled at its own interval; its actuator goes straight to each new command
 * within one sample. Were every sample a stop, an integrator that could go on for half a minute
 * would take two seconds. So the law is run ahead, on signals carried on in straight lines; where
 * its commands stay on a line, too, the actuator is led along that over several samples: a stretch.
 * At its end the signals are looked at and the law is run through every sample of the stretch, the
 * signals in between on straight lines. How far its commands were from the line says how long the
 * next stretch may be. A stretch of one sample is the law to the letter.
 *
 * Decisions stay in time: none may be in sight for twice the length of a stretch. Where one falls
 * inside all the same it is taken at the end, as by a control whose sample is late; to find it soon
 * is up to the caller, see emb_stretch_shorten. */
#ifndef EMB_STRETCH_H
#define EMB_STRETCH_H
#include <stdbool.h>

struct emb_sampled_law { /* a sampled control, and how closely a line must follow its commands */
    double interval;     /* [s] from sample to sample */
    double longest;      /* [s] stretch; 0: every sample is one */
    double bound;        /* [unit of the command] */
    /* Takes the next sample and says the command; *decides: it is not just another command (a stage
     * begins), which the law's state may only take on at share 1. The signals are those at `share`
     * of the way from the last look to this one, see emb_stretch_at. */
    double (*sample)(void *state, double share, bool *decides);
    void *state;
};

struct emb_stretch {
    double t0, t1;  /* [s] from one look at the signals to the next */
    double a, b;    /* [unit of the command] led straight from a at t0 to b at t1 */
    double command; /* [unit of the command] the newest, to be reached a sample after the look */
    int n;          /* samples, the last one at t1; 0: that one only, across a jump */
    int most;       /* samples that the next one may have, going by this one */
};

/* A signal at a share of the way between two looks; beyond 1 it is carried on. [its unit] */
double emb_stretch_at(double from, double to, double share);
/* At rest at zero, the first sample due at t [s]. */
void emb_stretch_begin(struct emb_stretch *x, double t);
double emb_stretch_value(const struct emb_stretch *x, double t); /* [unit of the command] */
/* The signals jump within this sample (a stretch of several ends before that): what was seen before
 * says nothing of what comes. */
void emb_stretch_break(struct emb_stretch *x);
/* Ends at the first sample from t [s] on: something was seen that the law would decide on. */
void emb_stretch_shorten(struct emb_stretch *x, double t);
/* At t1, the signals just looked at: takes the samples of the stretch. */
void emb_stretch_close(struct emb_stretch *x, const struct emb_sampled_law *law);
/* From t1 on: lays out the next stretch, of several samples only if it ends before `until` [s],
 * where signals may jump. Runs the law ahead: its state is of no use afterwards. */
void emb_stretch_open(struct emb_stretch *x, double until, const struct emb_sampled_law *law);
#endif
