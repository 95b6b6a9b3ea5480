/* limits.c - peaks with their place, and physical limits: past them the model means nothing, so the
 * run says so and stops or goes on as the case wants. */
#include <math.h>
#include <stdint.h>

#include "sim.h"

void emb_sim_limits_begin(struct emb_sim *s)
{
    for (size_t i = 0; i < s->line.n_slot; i++) {
        s->passed[i] = (struct emb_passed){NAN, NAN};
        s->peak_at[i] = NAN;
    }
}

static double melting_point(const struct emb_element_cfg *e)
{
    switch (e->kind) {
    case EMB_FILTER:
        return e->u.filter.body.melting_temperature;
    case EMB_OXICAT:
    case EMB_REDCAT:
        return e->u.brick.body.melting_temperature;
    default:
        return INFINITY;
    }
}

static enum emb_status stop_or_note(struct emb_sim *s, double t, struct emb_err *err,
                                    const char *name, const char *what)
{
    emb_sim_note(s, t, "limit passed: '%s' %s", name, what);
    if (s->c->limits == EMB_LIMITS_STOP) {
        return emb_fail(err, EMB_ERR_SOLVER, "",
                        "'%s' %s after %.0f s, and the case says limits: stop", name, what, t);
    }
    return EMB_OK;
}

static enum emb_status check_slot(struct emb_sim *s, size_t i, double t, struct emb_err *err)
{
    const struct emb_element_cfg *e = &s->c->line[i];
    if (s->t_peak[i] == t) {
        s->peak_at[i] = emb_sim_seen(s, i, EMB_SPOT_HOTTEST_AT);
    }
    if (isnan(s->passed[i].melted) && emb_sim_hottest(s, i) > melting_point(e)) {
        s->passed[i].melted = t;
        return stop_or_note(s, t, err, e->name, "is hotter than its substrate's melting point");
    }
    if (isnan(s->passed[i].full) && emb_sim_seen(s, i, EMB_SPOT_OPEN) <= 0.0) {
        s->passed[i].full = t;
        return stop_or_note(s, t, err, e->name, "holds more soot and ash than its channels");
    }
    return EMB_OK;
}

enum emb_status emb_sim_limits(struct emb_sim *s, double t, struct emb_err *err)
{
    enum emb_status st = EMB_OK;
    for (size_t i = 0; st == EMB_OK && i < s->line.n_slot; i++) {
        st = check_slot(s, i, t, err);
    }
    return st;
}
