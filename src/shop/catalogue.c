/* catalogue.c - which levers a case has, and how far each may sensibly go. The ranges are judgement
 * unless something else is said; the maker's limits come first. */
#include "lever.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/duty.h"

#define RPM (6.283185307179586 / 60.0)

static const double most_throttle = 0.6;  /* [-] judgement: more starves the engine of air */
static const double most_load = 0.3;      /* [-] judgement: of a parked engine, by pumps and fans */
static const double warm_air = 308.15;    /* [K] judgement: a hot summer day */
static const double room = 293.15;        /* [K] judgement: a heated hall */
static const double longest = 2.5 * 3600.0; /* [s] judgement: nobody waits longer */

struct catalogue {
    const struct emb_case *c;
    struct lever_set *out;
    bool no_memory;
};

static struct lever *lever_new(struct catalogue *k, enum emb_effort effort, const char *caution,
                               const char *fmt, ...) __attribute__((format(printf, 4, 5)));
static struct lever *lever_new(struct catalogue *k, enum emb_effort effort, const char *caution,
                               const char *fmt, ...)
{
    struct lever *p = realloc(k->out->item, (k->out->n + 1) * sizeof *p);
    va_list ap;
    if (p == NULL) {
        k->no_memory = true;
        return NULL;
    }
    k->out->item = p;
    p += k->out->n++;
    *p = (struct lever){.effort = effort, .caution = caution};
    va_start(ap, fmt);
    vsnprintf(p->what, sizeof p->what, fmt, ap);
    va_end(ap);
    return p;
}

static void text_add(struct lever *l, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
static void text_add(struct lever *l, const char *fmt, ...)
{
    va_list ap;
    if (l == NULL || l->n_text == LEVER_TEXTS) {
        return;
    }
    va_start(ap, fmt);
    vsnprintf(l->text[l->n_text++], EMB_REMEDY_SET, fmt, ap);
    va_end(ap);
}

static void part_add(struct lever *l, const char *unit, double now, double limit, const char *fmt,
                     ...) __attribute__((format(printf, 5, 6)));
static void part_add(struct lever *l, const char *unit, double now, double limit, const char *fmt,
                     ...)
{
    static const struct {
        const char *unit;
        double si, zero;
    } units[] = {
        {"rpm", RPM, 0}, {"%", 0.01, 0}, {"degC", 1, 273.15}, {"min", 60, 0}, {"m/s", 1, 0}};
    va_list ap;
    if (l == NULL || l->n_part == LEVER_PARTS) {
        return;
    }
    struct lever_part *p = &l->part[l->n_part++];
    *p = (struct lever_part){.now = now, .limit = limit, .unit = unit, .unit_si = 1.0};
    p->follows = l->n_part > 1;
    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        if (strcmp(units[i].unit, unit) == 0) {
            p->unit_si = units[i].si;
            p->unit_zero = units[i].zero;
        }
    }
    va_start(ap, fmt);
    vsnprintf(p->path, sizeof p->path, fmt, ap);
    va_end(ap);
}

/* Standing, with little or no load: the phases in which idle speed and pumps are a choice. */
static bool parked(const struct emb_phase *p)
{
    return p->mode == EMB_PHASE_ENGINE && p->load <= most_load && isnan(p->levers.brake);
}

static bool any_regeneration(const struct emb_case *c)
{
    bool any = false;
    for (size_t i = 0; i < c->n_duty; i++) {
        any = any || c->duty[i].regenerate;
    }
    return any && c->regen.present;
}

static void idle_speed(struct catalogue *k)
{
    const struct emb_case *c = k->c;
    const struct emb_levers *l = &c->regen.levers;
    /* judgement: twice the idle speed, but not above 70 % of rated speed */
    const double limit = fmin(2.0 * c->engine.idle_speed, 0.7 * c->engine.rated_speed);
    const bool regen = any_regeneration(c);
    double now = regen && !isnan(l->idle_speed) ? l->idle_speed : 0.0;
    for (size_t i = 0; i < c->n_duty; i++) {
        const struct emb_phase *p = &c->duty[i];
        if (parked(p)) {
            const double own = !isnan(p->speed)               ? p->speed
                               : !isnan(p->levers.idle_speed) ? p->levers.idle_speed
                                                              : c->engine.idle_speed;
            now = fmax(now, own);
        }
    }
    if (now <= 0.0 || now >= 0.99 * limit) {
        return;
    }
    struct lever *v = lever_new(k, EMB_EFFORT_CONTROL,
                                "only as far as the maker allows a parked "
                                "engine to idle",
                                "idle speed");
    for (size_t i = 0; i < c->n_duty; i++) {
        if (parked(&c->duty[i])) {
            part_add(v, "rpm", now, limit, "duty.phases[%zu].speed", i);
        }
    }
    if (regen) {
        part_add(v, "rpm", now, limit, "regeneration.levers.idle_speed");
    }
}

static void throttle(struct catalogue *k)
{
    const double own = k->c->regen.levers.throttle, now = isnan(own) ? 0.0 : own;
    if (any_regeneration(k->c) && now < most_throttle - 0.01) {
        struct lever *v = lever_new(k, EMB_EFFORT_CONTROL,
                                    "intake throttle needs the maker's "
                                    "control; watch for smoke",
                                    "intake throttle");
        part_add(v, "%", now, most_throttle, "regeneration.levers.throttle");
    }
}

static void load(struct catalogue *k)
{
    struct lever *v = NULL;
    double least = most_load;
    for (size_t i = 0; i < k->c->n_duty; i++) {
        least = parked(&k->c->duty[i]) ? fmin(least, k->c->duty[i].load) : least;
    }
    for (size_t i = 0; least < most_load - 0.01 && i < k->c->n_duty; i++) {
        if (parked(&k->c->duty[i])) {
            v = v != NULL ? v
                          : lever_new(k, EMB_EFFORT_CONTROL, "",
                                      "load on the parked engine (fan, "
                                      "pump, air conditioning)");
            part_add(v, "%", k->c->duty[i].load, most_load, "duty.phases[%zu].load", i);
        }
    }
}

static void surroundings(struct catalogue *k)
{
    static const char vented[] = "indoors only with exhaust extraction made for regeneration heat, "
                                 "nothing that burns near the outlet, and carbon monoxide alarm";
    const struct emb_ambient *a = &k->c->ambient;
    struct lever *v;
    if (a->temperature < warm_air - 1.0) {
        v = lever_new(k, EMB_EFFORT_PLACE, "", "wait for warmer air");
        part_add(v, "degC", a->temperature, warm_air, "ambient.temperature");
    }
    if (a->wind > 0.2) {
        v = lever_new(k, EMB_EFFORT_PLACE, "screens must not burn and must not trap exhaust",
                      "park out of the wind");
        part_add(v, "m/s", a->wind, 0.0, "ambient.wind");
    }
    if (a->temperature < room - 1.0) {
        v = lever_new(k, EMB_EFFORT_PLACE, vented, "indoors, still air at 20 °C (68 °F)");
        text_add(v, "ambient.temperature=20 degC");
        text_add(v, "ambient.wind=0 m/s");
    }
}

static void longer(struct catalogue *k)
{
    const struct emb_case *c = k->c;
    size_t last = c->n_duty - 1;
    double from = 0.0;
    for (size_t i = 0; i < c->n_duty; i++) {
        last = c->duty[i].regenerate ? i : last;
    }
    const struct emb_phase *p = &c->duty[last];
    if (c->duty_repeat != 1 || p->repeat != 1 || isnan(p->duration) || p->duration >= longest) {
        return;
    }
    for (size_t i = 0; i < last; i++) {
        from += c->duty[i].repeat * (isnan(c->duty[i].duration) ? 0.0 : c->duty[i].duration);
    }
    struct lever *v = lever_new(k, EMB_EFFORT_TIME, "stay with the vehicle all the time",
                                "more time%s", p->regenerate ? " for the regeneration" : "");
    if (v != NULL) {
        v->timed = true;
        v->from = from;
    }
    part_add(v, "min", p->duration, longest, "duty.phases[%zu].for", last);
    if (p->regenerate && c->regen.present) { /* the control must not stop before */
        text_add(v, "regeneration.time_limit=%.4g min", longest / 60.0);
        text_add(v, "regeneration.warmup_limit=%.4g min", longest / 60.0);
    }
}

/* The regeneration asked for while driving: a steady engine in a wind of its own. */
static void drive(struct catalogue *k, double share, const char *words)
{
    const struct emb_case *c = k->c;
    const size_t last = c->n_duty - 1;
    double from = 0.0;
    bool standing = true;
    for (size_t i = 0; i < c->n_duty; i++) {
        standing = standing && parked(&c->duty[i]) && c->duty[i].repeat == 1;
        from += i < last ? c->duty[i].duration : 0.0;
    }
    if (!standing || c->duty_repeat != 1) {
        return;
    }
    struct lever *v = lever_new(k, EMB_EFFORT_TIME,
                                "where traffic and surface allow; the outlet "
                                "stays hot when you stop",
                                "drive instead, %s", words);
    if (v == NULL) {
        return;
    }
    v->timed = v->fresh = true;
    v->from = from;
    part_add(v, "min", 60.0, longest, "duty.phases[%zu].for", last);
    text_add(v, "duty.phases[%zu].speed=%.4g rpm", last, 0.65 * c->engine.rated_speed / RPM);
    text_add(v, "duty.phases[%zu].load=%.4g %%", last, 100.0 * share);
    text_add(v, "ambient.wind=%.3g m/s", fmax(c->ambient.wind, 22.0 * c->ambient.underbody));
    if (c->regen.present) { /* what is done for heat when parked is not done on the road */
        text_add(v, "regeneration.levers.throttle=0 %%");
        text_add(v, "regeneration.levers.close_post=0 g/s");
        if (!isnan(k->c->regen.levers.egr)) { /* pulling, it recirculates as it always does */
            text_add(v, "regeneration.levers.egr=1");
        }
        text_add(v, "regeneration.time_limit=%.4g min", longest / 60.0);
        text_add(v, "regeneration.warmup_limit=%.4g min", longest / 60.0);
    }
}

static void wrap(struct catalogue *k)
{
    struct lever *v = NULL;
    for (size_t i = 0; i + 1 < k->c->n_line; i++) { /* behind the last brick it warms nothing */
        const struct emb_element_cfg *e = &k->c->line[i];
        if (e->kind == EMB_PIPE && e->u.pipe.cover == EMB_COVER_BARE) {
            v = v != NULL ? v
                          : lever_new(k, EMB_EFFORT_REPAIR,
                                      "only as the maker allows; soaked wrap "
                                      "burns",
                                      "wrap the bare pipes");
            text_add(v, "line.%s.cover=wrapped", e->name);
        }
    }
}

static void repair_brick(struct catalogue *k, const struct emb_element_cfg *e)
{
    const struct emb_brick_cfg *b = &e->u.brick;
    struct lever *v;
    if (b->blocked > 0.0) {
        v = lever_new(k, EMB_EFFORT_REPAIR, "find out why it blocked, or it will again",
                      "clean the face of '%s', share closed", e->name);
        part_add(v, "%", b->blocked, 0.0, "line.%s.blocked", e->name);
    }
    if (b->blocked > 0.0 || b->activity < 1.0) {
        v = lever_new(k, EMB_EFFORT_REPAIR, "rule out delivery, sensors and engine first",
                      "a sound '%s' in its place", e->name);
        text_add(v, "line.%s.blocked=0 %%", e->name);
        text_add(v, "line.%s.activity=100 %%", e->name);
    }
}

static void repairs(struct catalogue *k)
{
    const struct emb_case *c = k->c;
    struct lever *v;
    for (size_t i = 0; i < c->n_line; i++) {
        const struct emb_element_cfg *e = &c->line[i];
        if (e->kind == EMB_OXICAT || e->kind == EMB_REDCAT) {
            repair_brick(k, e);
        } else if (e->kind == EMB_DOSER && e->u.doser.delivery < 1.0) {
            v = lever_new(k, EMB_EFFORT_REPAIR, "measure the delivery by the maker's procedure",
                          "restore the delivery of '%s'", e->name);
            part_add(v, "%", e->u.doser.delivery, 1.0, "line.%s.delivery", e->name);
        } else if (e->kind == EMB_DEF && e->u.def.delivery < 1.0) {
            v = lever_new(k, EMB_EFFORT_REPAIR, "measure the delivery by the maker's procedure",
                          "restore the delivery of '%s'", e->name);
            part_add(v, "%", e->u.def.delivery, 1.0, "line.%s.delivery", e->name);
        } else if (e->kind == EMB_LEAK && e->u.leak.share > 0.0) {
            v = lever_new(k, EMB_EFFORT_REPAIR, "", "close the leak '%s'", e->name);
            part_add(v, "%", e->u.leak.share, 0.0, "line.%s.share", e->name);
        }
    }
    if (c->source == EMB_SOURCE_ENGINE && c->engine.dead_cylinders > 0) {
        v = lever_new(k, EMB_EFFORT_REPAIR, "", "make all cylinders fire");
        text_add(v, "engine.dead_cylinders=0");
    }
    if (c->source == EMB_SOURCE_ENGINE && c->engine.boost_leak > 0.0) {
        v = lever_new(k, EMB_EFFORT_REPAIR, "", "close the boost leak");
        part_add(v, "%", c->engine.boost_leak, 0.0, "engine.boost_leak");
    }
}

/* The doser in front of each other oxidation catalyst. */
static void dosing_place(struct catalogue *k)
{
    const struct emb_case *c = k->c;
    if (!any_regeneration(c) || c->regen.doser < 0) {
        return;
    }
    const size_t doser = (size_t)c->regen.doser;
    for (size_t i = 0; i < c->n_line; i++) {
        bool next = i > doser; /* the first oxidation catalyst behind the doser: it is there now */
        for (size_t j = doser; j < i; j++) {
            next = next && c->line[j].kind != EMB_OXICAT;
        }
        if (c->line[i].kind == EMB_OXICAT && !next) {
            struct lever *v =
                lever_new(k, EMB_EFFORT_REBUILD,
                          "a thought experiment: the maker decides where fuel may be dosed",
                          "dose ahead of '%s' instead", c->line[i].name);
            text_add(v, "line.%s.before=%s", c->line[doser].name, c->line[i].name);
        }
    }
}

enum emb_status emb_levers_propose(const struct emb_case *c, struct lever_set *out,
                                   struct emb_err *err)
{
    struct catalogue k = {c, out, false};
    *out = (struct lever_set){0, NULL};
    if (c->source == EMB_SOURCE_ENGINE) {
        idle_speed(&k);
        throttle(&k);
        load(&k);
        drive(&k, 0.3, "light load (30 % at 65 % of rated speed)");
        drive(&k, 0.6, "pulling (60 % at 65 % of rated speed)");
    }
    surroundings(&k);
    longer(&k);
    wrap(&k);
    repairs(&k);
    dosing_place(&k);
    return k.no_memory ? emb_fail(err, EMB_ERR_NOMEM, "", "out of memory") : EMB_OK;
}
