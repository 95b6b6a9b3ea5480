/* check.c - what no single row can know: order of the line, names, sources, targets. All problems are collected. */
#include "input.h"
#include "emberpipe/vary.h"
#include "emberpipe/inputs.h"

#include <math.h>
#include <string.h>

static bool is_brick(enum emb_kind k) { return k == EMB_OXICAT || k == EMB_FILTER || k == EMB_REDCAT; }

/* First element from `from` on of this kind; any: every brick. */
static int find_behind(const struct emb_case *c, int from, enum emb_kind kind, bool any)
{
    for (size_t i = from < 0 ? 0 : (size_t)from; i < c->n_line; i++) {
        if (c->line[i].kind == kind || (any && is_brick(c->line[i].kind))) {
            return (int)i;
        }
    }
    return -1;
}

void emb_suggest_element(const struct emb_case *c, const char *word, char *buf, size_t size)
{
    const char *names[64] = {NULL};
    size_t n = 0;
    for (; n < c->n_line && n < 64; n++) {
        names[n] = c->line[n].name != NULL ? c->line[n].name : "";
    }
    emb_suggest(word, names, n, buf, size);
}

/* Where element i is found in the file, whatever `before` has moved. */
static void element_path(const struct emb_loader *l, size_t i, const char *key, char path[EMB_PATH])
{
    snprintf(path, EMB_PATH, "line[%zu]%s", l->order != NULL ? l->order[i] : i, key);
}

static void check_names(struct emb_loader *l, const struct emb_case *c)
{
    char path[EMB_PATH];
    for (size_t i = 0; i < c->n_line; i++) {
        const int first = c->line[i].name != NULL ? emb_case_find(c, c->line[i].name) : -1;
        if (first >= 0 && (size_t)first < i && c->line[i].name[0] != '\0') {
            element_path(l, i, ".name", path);
            emb_problem_add(l, path, "name '%.47s' is taken by element %d", c->line[i].name, first);
        }
    }
    for (size_t i = 0; i < c->n_target; i++) {
        for (size_t k = 0; k < i; k++) {
            if (strcmp(c->target[i].name, c->target[k].name) == 0 && c->target[i].name[0] != '\0') {
                snprintf(path, sizeof path, "targets[%zu].name", i);
                emb_problem_add(l, path, "name '%.60s' is taken by target %zu", c->target[i].name, k);
                break;
            }
        }
    }
}

static void check_line(struct emb_loader *l, const struct emb_case *c)
{
    size_t dosers = 0, defs = 0;
    char path[EMB_PATH];
    if (c->n_line == 0) {
        emb_problem_add(l, "line", "the line is empty: name at least one element");
    }
    if (c->n_line > 200) {
        emb_problem_add(l, "line", "more than 200 elements");
    }
    for (size_t i = 0; i < c->n_line; i++) {
        const struct emb_element_cfg *e = &c->line[i];
        element_path(l, i, "", path);
        defs += e->kind == EMB_DEF;
        if (e->kind == EMB_DEF && find_behind(c, (int)i, EMB_REDCAT, false) < 0) {
            emb_problem_add(l, path, "DEF doser '%.47s' has no reduction catalyst behind it", e->name);
        }
        if (e->kind == EMB_DOSER) {
            dosers++;
            if (find_behind(c, (int)i, EMB_OXICAT, true) < 0) {
                emb_problem_add(l, path, "fuel doser '%.47s' has no brick behind it", e->name);
            }
        }
        if (e->kind == EMB_OXICAT && (e->u.brick.kinetics != EMB_KIN_OXIDATION && e->u.brick.kinetics != EMB_KIN_NONE)) {
            emb_problem_add(l, path, "oxidation catalyst '%.47s': kinetics must be oxidation or none", e->name);
        }
        if (e->kind == EMB_REDCAT && e->u.brick.kinetics == EMB_KIN_OXIDATION) {
            emb_problem_add(l, path, "reduction catalyst '%.47s' cannot have oxidation kinetics", e->name);
        }
        if (e->kind == EMB_FILTER && e->u.filter.soot > 5.0 * e->u.filter.full_load) {
            emb_problem_add(l, path, "filter '%.47s' holds more than five times its full load", e->name);
        }
        if (is_brick(e->kind)) {
            const struct emb_body *b = e->kind == EMB_FILTER ? &e->u.filter.body : &e->u.brick.body;
            if (b->web * sqrt(b->cell_density) >= 0.95) {
                emb_problem_add(l, path, "brick '%.47s': the web leaves no open channel at this cell density", e->name);
            }
        }
    }
    if (dosers > EMB_MAX_DOSERS) {
        emb_problem_add(l, "line", "%zu fuel dosers; at most %d", dosers, (int)EMB_MAX_DOSERS);
    }
    if (defs > EMB_MAX_DOSERS) {
        emb_problem_add(l, "line", "%zu DEF dosers; at most %d", defs, (int)EMB_MAX_DOSERS);
    }
}

static void check_sources(struct emb_loader *l, void **root, const struct emb_case *c)
{
    const bool engine = root[emb_field_find(&emb_block_case, "engine")] != NULL;
    const bool stream = root[emb_field_find(&emb_block_case, "stream")] != NULL;
    const bool recorded = root[emb_field_find(&emb_block_case, "recorded")] != NULL;
    if (!engine && !stream && !recorded) {
        emb_problem_add(l, "", "no source: give one of stream, engine, recorded (engine: {} takes the generic engine)");
    }
    if (engine && (stream || recorded)) {
        emb_problem_add(l, "engine", "more than one source: keep one of stream, engine, recorded");
    }
    /* a recorded log may come with a stream block: it lends the composition */
    if (recorded && c->recorded.file == NULL) {
        emb_problem_add(l, "recorded", "needs file: the CSV log");
    }
}

/* What holds between numbers, and may break when one of them is varied. */
static void check_numbers(struct emb_loader *l, const struct emb_case *c)
{
    const bool engine = c->source == EMB_SOURCE_ENGINE;
    if (engine && c->engine.dead_cylinders >= c->engine.cylinders) {
        emb_problem_add(l, "engine.dead_cylinders", "%d of %d cylinders dead: at least one must fire",
                        c->engine.dead_cylinders, c->engine.cylinders);
    }
    if (engine && c->engine.rated_speed <= c->engine.idle_speed) {
        emb_problem_add(l, "engine.rated_speed", "must be above the idle speed");
    }
    if (c->vehicle.first_gear < c->vehicle.top_gear) {
        emb_problem_add(l, "vehicle.first_gear", "must not be below the top gear");
    }
}

static void check_duty(struct emb_loader *l, const struct emb_case *c)
{
    char path[EMB_PATH];
    if (c->n_duty == 0) {
        emb_problem_add(l, "duty", "no phases: say what the vehicle does under duty: phases:");
    }
    for (size_t i = 0; i < c->n_duty; i++) {
        const struct emb_phase *p = &c->duty[i];
        const bool engine = p->mode <= EMB_PHASE_ENGINE_CYCLE && p->mode != EMB_PHASE_STREAM;
        snprintf(path, sizeof path, "duty.phases[%zu]", i);
        if (engine && c->source != EMB_SOURCE_ENGINE) {
            emb_problem_add(l, path, "phase '%.60s' drives an engine, but the case has none", p->name);
        }
        if (p->mode == EMB_PHASE_STREAM && c->source == EMB_SOURCE_ENGINE) {
            emb_problem_add(l, path, "phase '%.60s' prescribes a stream, but the source is an engine", p->name);
        }
        if (p->mode == EMB_PHASE_RECORDED && c->source != EMB_SOURCE_RECORDED) {
            emb_problem_add(l, path, "phase '%.60s' plays a log, but the case has no recorded block", p->name);
        }
        if (p->regenerate && !c->regen.present) {
            emb_problem_add(l, path, "phase '%.60s' regenerates, but there is no regeneration block", p->name);
        }
        if (c->source == EMB_SOURCE_ENGINE && p->speed > 1.3 * c->engine.rated_speed) {
            emb_problem_add(l, path, "phase '%.60s': speed is far above the rated speed", p->name);
        }
    }
}

static void check_target(struct emb_loader *l, void **rec, const struct emb_case *c, const struct emb_target *t,
                         size_t i)
{
    char path[EMB_PATH], near[200];
    const char *at = emb_record_text(&emb_block_target, rec, "at");
    snprintf(path, sizeof path, "targets[%zu].at", i);
    if (t->at < 0) {
        emb_suggest_element(c, at != NULL ? at : "", near, sizeof near);
        emb_problem_add(l, path, "target '%.60s' watches '%.47s', which is not in the line%s", t->name,
                        at != NULL ? at : "", near);
        return;
    }
    const enum emb_kind k = c->line[t->at].kind;
    const bool fits = t->quantity == EMB_Q_SOOT         ? k == EMB_FILTER
                      : t->quantity == EMB_Q_DOSING     ? k == EMB_DOSER
                      : t->quantity == EMB_Q_DEF_DOSING ? k == EMB_DEF
                      : t->quantity == EMB_Q_NOX_CHECK  ? k == EMB_REDCAT
                      : t->quantity == EMB_Q_TEMPERATURE ? k != EMB_LEAK : is_brick(k);
    if (!fits) {
        emb_problem_add(l, path, "target '%.60s': this quantity does not exist at '%.47s'", t->name,
                        c->line[t->at].name);
    }
}

/* Index of an element the regeneration names; -2 and a problem when it is not there. */
static int regen_named(struct emb_loader *l, void **rec, const struct emb_case *c, const char *key)
{
    char path[EMB_PATH], near[200];
    const char *name = emb_record_text(&emb_block_regeneration, rec, key);
    const int i = emb_case_find(c, name);
    if (i < 0) {
        snprintf(path, sizeof path, "regeneration.%s", key);
        emb_suggest_element(c, name, near, sizeof near);
        emb_problem_add(l, path, "'%.47s' is not in the line%s", name, near);
        return -2;
    }
    return i;
}

static void check_regen(struct emb_loader *l, void **rec, struct emb_case *c)
{
    struct emb_regen_cfg *r = &c->regen;
    const struct emb_block *b = &emb_block_regeneration;
    const char *doser = emb_record_text(b, rec, "doser");
    r->doser = doser == NULL ? find_behind(c, 0, EMB_DOSER, false)
               : strcmp(doser, "late_post") == 0 ? -1 : regen_named(l, rec, c, "doser");
    if (r->doser >= 0 && c->line[r->doser].kind != EMB_DOSER) {
        emb_problem_add(l, "regeneration.doser", "'%.47s' is not a fuel doser", c->line[r->doser].name);
    }
    if (r->doser == -1 && c->source != EMB_SOURCE_ENGINE) {
        emb_problem_add(l, "regeneration.doser", "no fuel doser in the line, and late post-injection needs an engine");
    }
    r->enable_at = emb_record_text(b, rec, "enable_at") != NULL ? regen_named(l, rec, c, "enable_at")
                                                                : find_behind(c, r->doser, EMB_OXICAT, false);
    if (r->enable_at == -1) {
        emb_problem_add(l, "regeneration", "no oxidation catalyst behind the doser could burn the fuel");
    }
    if (r->enable_at < 0) {
        return;
    }
    if (!is_brick(c->line[r->enable_at].kind)) {
        emb_problem_add(l, "regeneration.enable_at", "'%.47s' is not a brick", c->line[r->enable_at].name);
    } else if (r->enable_at < r->doser) {
        emb_problem_add(l, "regeneration.enable_at", "'%.47s' is in front of the doser", c->line[r->enable_at].name);
    }
    if (emb_record_text(b, rec, "hold_at") != NULL) {
        r->hold_at = regen_named(l, rec, c, "hold_at");
    } else {
        r->hold_at = find_behind(c, r->enable_at + 1, EMB_FILTER, true);
    }
    if (r->hold_at == -1) {
        emb_problem_add(l, "regeneration.hold_at", "no filter or brick behind '%.47s'", c->line[r->enable_at].name);
    } else if (r->hold_at >= 0 && r->hold_at <= r->enable_at) {
        emb_problem_add(l, "regeneration.hold_at", "'%.47s' is not behind '%.47s'", c->line[r->hold_at].name,
                        c->line[r->enable_at].name);
    }
}

void emb_case_check(struct emb_loader *l, void **root, struct emb_case *c)
{
    const int targets = emb_field_find(&emb_block_case, "targets");
    check_sources(l, root, c);
    check_numbers(l, c);
    check_line(l, c);
    check_names(l, c);
    check_duty(l, c);
    if (c->regen.present) {
        check_regen(l, root[emb_field_find(&emb_block_case, "regeneration")], c);
    }
    for (size_t i = 0; i < c->n_target; i++) {
        check_target(l, (void **)root[targets] + i * 2 * emb_block_target.n, c, &c->target[i], i);
    }
}

static void check_mixture(struct emb_loader *l, const char *path, const double *x)
{
    if (x[EMB_N2] < -1e-12) {
        emb_problem_add(l, path, "mole fractions sum to %.4g, more than 1", 1.0 - x[EMB_N2]);
    }
}

enum emb_status emb_case_verify(const struct emb_case *c, struct emb_err *err)
{
    struct emb_problems problems = {0};
    struct emb_loader l = {.file = c->file != NULL ? c->file : "", .problems = &problems};
    enum emb_status st = EMB_OK;
    check_numbers(&l, c);
    check_line(&l, c);
    check_duty(&l, c);
    check_mixture(&l, "stream", c->stream.x);
    for (size_t i = 0; i < c->n_duty; i++) {
        check_mixture(&l, c->duty[i].name, c->duty[i].stream.x);
    }
    if (problems.n > 0) {
        st = emb_fail(err, EMB_ERR_CONFIG, problems.item[0].path, "%s", problems.item[0].text);
    } else if (l.no_memory) {
        st = emb_fail(err, EMB_ERR_NOMEM, "case", "out of memory");
    }
    emb_problems_free(&problems);
    return st;
}
