/* regen.h - the regeneration sequence as a sampled state machine. Pure: no hidden state, it sees
 * only signals. */
#ifndef EMB_REGEN_H
#define EMB_REGEN_H
#include "emberpipe/case.h"
enum emb_regen_stage {
    EMB_REGEN_OFF,
    EMB_REGEN_WARMUP,
    EMB_REGEN_DOSE,
    EMB_REGEN_COOLDOWN,
    EMB_REGEN_DONE,
    EMB_REGEN_ABORTED
};
struct emb_regen_signals {
    double t;        /* [s] now */
    double face;     /* [K] gas at the face of the enabling catalyst */
    double hold;     /* [K] gas at the inlet of the held element */
    double soot;     /* [-] of full load, largest filter */
    double hottest;  /* [K] hottest solid anywhere */
    double flow, cp; /* [kg/s] exhaust, [J/(kg K)] */
};
struct emb_regen_state {
    enum emb_regen_stage stage;
    double since;      /* [s] time at which this stage began */
    double integral;   /* [kg/s] */
    double rate;       /* [kg/s] fuel commanded */
    double cold_since; /* [s] when the face fell below enable; NaN if it is hot */
    char reason[160];  /* why it stopped or gave up; "" while running */
    double best_face;  /* [K] warmest face while warming up */
};
void emb_regen_begin(const struct emb_regen_cfg *c, struct emb_regen_state *s, double t);
void emb_regen_sample(const struct emb_regen_cfg *c, const struct emb_regen_signals *in,
                      struct emb_regen_state *s);
/* [kg/s] that heats the exhaust by dT [K], once burnt. */
double emb_regen_fuel(const struct emb_regen_signals *in, double dT);
const char *emb_regen_stage_name(enum emb_regen_stage stage);
#endif
