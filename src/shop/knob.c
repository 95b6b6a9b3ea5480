/* knob.c - the conditions that a diagnosis may turn, and the next physical check for each. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "fit.h"

static const struct {
    const char *words, *unit, *check;
    double lo, hi; /* [value] limits of the fit */
    double step;   /* [scale] of the differences */
} kinds[EMB_N_KNOB_KIND] = {
    [EMB_KNOB_ACTIVITY] = {"active area left in", "%",
                           "with fuel dosing ruled out, compare the temperatures ahead of and "
                           "behind this catalyst while fuel is dosed; look at its face for soot, "
                           "oil ash or melting", 2.0, 100.0, 0.1},
    [EMB_KNOB_BLOCKED] = {"open share of the face of", "%",
                          "look at the inlet face (borescope); measure the pressure ahead of the "
                          "catalyst against the maker's limit", 5.0, 100.0, 0.05},
    [EMB_KNOB_DELIVERY] = {"fuel delivered, of that commanded, at", "%",
                           "measure the dosed quantity and the supply pressure by the maker's "
                           "procedure; look for carbon in the nozzle and for leaks", 2.0, 200.0,
                           0.02},
    [EMB_KNOB_FLOW] = {"flow through the line, of that recorded", "%",
                       "look for soot marks at joints ahead of the sensors (leak), for boost "
                       "leaks, and check the flow signal against engine size and speed", 30.0,
                       250.0, 0.02},
    [EMB_KNOB_LOSS] = {"heat loss, of that of the case", "%",
                       "look for missing or wet insulation, and for wind or a wet floor during "
                       "the log", 10.0, 1000.0, 0.05},
    [EMB_KNOB_INLET] = {"inlet temperature: reading minus true", "K",
                        "compare the sensor with the others on a soaked, cold line: all must read "
                        "ambient", -200.0, 200.0, 0.2},
    [EMB_KNOB_OFFSET] = {"sensor reading minus true:", "K",
                         "compare the sensor with the others on a soaked, cold line: all must read "
                         "ambient; check its connector, then swap it with a like one", -200.0,
                         200.0, 0.2},
};

const char *emb_knob_check(enum emb_knob_kind kind)
{
    return kinds[kind].check;
}

static bool is_step(const struct emb_knob *k)
{
    return k->kind == EMB_KNOB_INLET || k->kind == EMB_KNOB_OFFSET;
}

double emb_knob_scale(const struct emb_knob *k, double value)
{
    return is_step(k) ? 0.1 * value : log(0.01 * value);
}

double emb_knob_unscale(const struct emb_knob *k, double x)
{
    return is_step(k) ? 10.0 * x : 100.0 * exp(x);
}

void emb_knob_limits(const struct emb_knob *k, double *lo, double *hi)
{
    *lo = emb_knob_scale(k, kinds[k->kind].lo);
    *hi = emb_knob_scale(k, kinds[k->kind].hi);
}

double emb_knob_step(const struct emb_knob *k)
{
    return kinds[k->kind].step;
}

static void add(struct emb_knob *out, size_t *n, enum emb_knob_kind kind, int at, double healthy,
                const char *name)
{
    struct emb_knob *k = &out[*n];
    if (*n >= EMB_MAX_KNOBS) {
        return;
    }
    *k = (struct emb_knob){.kind = kind, .at = at, .healthy = healthy};
    snprintf(k->what, sizeof k->what, "%s%s%s%.50s%s", kinds[kind].words, name != NULL ? " " : "",
             name != NULL ? "'" : "", name != NULL ? name : "", name != NULL ? "'" : "");
    snprintf(k->unit, sizeof k->unit, "%s", kinds[kind].unit);
    (*n)++;
}

static void add_element(const struct emb_case *c, int i, bool dosed, struct emb_knob *out,
                        size_t *n)
{
    const struct emb_element_cfg *e = &c->line[i];
    if (e->kind == EMB_OXICAT && e->u.brick.activity > 0.0) {
        add(out, n, EMB_KNOB_ACTIVITY, i, 100.0 * e->u.brick.activity, e->name);
        add(out, n, EMB_KNOB_BLOCKED, i, 100.0 * (1.0 - e->u.brick.blocked), e->name);
    } else if (e->kind == EMB_DOSER && dosed && e->u.doser.delivery > 0.0) {
        add(out, n, EMB_KNOB_DELIVERY, i, 100.0 * e->u.doser.delivery, e->name);
    }
}

size_t emb_knob_list(const struct emb_case *driven, const struct emb_log *log,
                     const struct emb_replay *compared, struct emb_knob out[EMB_MAX_KNOBS])
{
    const struct emb_trace *t = &driven->recording;
    size_t n = 0;
    double most = 0.0;
    (void)log;
    for (size_t i = 0; t->n_col > 2 && i < t->n; i++) {
        most = fmax(most, t->v[i * t->n_col + 2]);
    }
    for (size_t i = 0; i < driven->n_line; i++) {
        add_element(driven, (int)i, most > 1e-6, out, &n);
        most = driven->line[i].kind == EMB_DOSER ? 0.0 : most; /* the log drives the first one */
    }
    add(out, &n, EMB_KNOB_FLOW, -1, 100.0, NULL);
    add(out, &n, EMB_KNOB_LOSS, -1, 100.0, NULL);
    add(out, &n, EMB_KNOB_INLET, -1, 0.0, NULL);
    for (size_t k = 0; k < compared->n_sensor; k++) {
        if (strcmp(compared->sensor[k].unit, "K") == 0) {
            add(out, &n, EMB_KNOB_OFFSET, (int)k, 0.0, compared->sensor[k].reads);
        }
    }
    return n;
}

/* Every path to the outside scaled alike: through mat and wrap, from the surface by radiation, and
 * by the air, whose Nusselt number goes with about the 0.6th power of its speed (Churchill &
 * Bernstein 1977, mid range). */
static void scale_loss(struct emb_case *c, double f)
{
    c->ambient.wind = fmin(fmax(c->ambient.wind, 0.2) * pow(f, 1.0 / 0.6), 60.0);
    for (size_t i = 0; i < c->n_line; i++) {
        struct emb_element_cfg *e = &c->line[i];
        struct emb_body *b = e->kind == EMB_FILTER ? &e->u.filter.body : &e->u.brick.body;
        if (e->kind == EMB_PIPE) {
            e->u.pipe.cover_conductivity *= f;
            e->u.pipe.emissivity = fmin(1.0, e->u.pipe.emissivity * f);
        } else if (e->kind == EMB_MASS) {
            e->u.mass.emissivity = fmin(1.0, e->u.mass.emissivity * f);
        } else if (e->kind == EMB_FILTER || e->kind == EMB_OXICAT || e->kind == EMB_REDCAT) {
            b->mat_conductance *= f;
            b->emissivity = fmin(1.0, b->emissivity * f);
        }
    }
}

static void scale_column(struct emb_trace *t, size_t col, double factor, double shift)
{
    for (size_t i = 0; i < t->n; i++) {
        t->v[i * t->n_col + col] = t->v[i * t->n_col + col] * factor + shift;
    }
}

void emb_knob_apply(const struct emb_knob *k, double value, struct emb_case *c)
{
    switch (k->kind) {
    case EMB_KNOB_ACTIVITY:
        c->line[k->at].u.brick.activity = 0.01 * value;
        break;
    case EMB_KNOB_BLOCKED:
        c->line[k->at].u.brick.blocked = 1.0 - 0.01 * value;
        break;
    case EMB_KNOB_DELIVERY:
        c->line[k->at].u.doser.delivery = 0.01 * value;
        break;
    case EMB_KNOB_FLOW:
        scale_column(&c->recording, 0, 0.01 * value, 0.0);
        break;
    case EMB_KNOB_LOSS:
        scale_loss(c, 0.01 * value);
        break;
    case EMB_KNOB_INLET:
        scale_column(&c->recording, 1, 1.0, -value);
        break;
    case EMB_KNOB_OFFSET: /* no matter of the line */
    case EMB_N_KNOB_KIND:
        break;
    }
}
