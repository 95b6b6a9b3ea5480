/* decode_case.c - the lists of a case, and every value that more than one key decides. */
#include "input.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static char *copy_text(struct emb_loader *l, const char *text)
{
    const size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    if (copy == NULL) {
        l->no_memory = true;
        return NULL;
    }
    return memcpy(copy, text, size);
}

/* A list of the root or of the duty: its first record and length. */
static void **list_of(const struct emb_block *b, void **rec, const char *key, size_t *n)
{
    const int i = emb_field_find(b, key);
    *n = rec != NULL && rec[i] != NULL ? *emb_slot_count(b, rec, (size_t)i) : 0;
    return *n > 0 ? rec[i] : NULL;
}

static char *decode_name(struct emb_loader *l, const char *text, const char *path)
{
    char at[EMB_PATH + 32];
    snprintf(at, sizeof at, "%s.name", path);
    bool ok = text != NULL && *text != '\0' && strlen(text) <= 47;
    for (const char *p = text; ok && *p != '\0'; p++) {
        ok = isalnum((unsigned char)*p) || strchr("_-", *p) != NULL;
    }
    if (text == NULL) {
        emb_problem_add(l, at, "needs a name");
    } else if (!ok) {
        emb_problem_add(l, at, "name '%.60s' must be 1 to 47 letters, digits, _ or -", text);
    }
    return copy_text(l, text != NULL ? text : "");
}

static const struct { const char *key; enum emb_kind kind; } kinds[] = {
    {"pipe", EMB_PIPE}, {"turbine", EMB_MASS}, {"oxidation_catalyst", EMB_OXICAT}, {"filter", EMB_FILTER},
    {"reduction_catalyst", EMB_REDCAT}, {"fuel_doser", EMB_DOSER}, {"def_doser", EMB_DEF}, {"sensor", EMB_SENSOR},
    {"leak", EMB_LEAK}};

const char *emb_kind_key(enum emb_kind kind)
{
    for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
        if (kinds[k].kind == kind) {
            return kinds[k].key;
        }
    }
    return "";
}

static void decode_own_set(struct emb_loader *l, struct emb_case *c, const struct emb_block *b, void **rec,
                           struct emb_element_cfg *out, const char *path)
{
    const int i = emb_field_find(b, "reactions");
    char at[EMB_PATH + 64];
    if (i >= 0 && rec[i] != NULL) {
        snprintf(at, sizeof at, "%s.reactions", path);
        emb_decode_reactions(l, c, rec[i], out->kind == EMB_FILTER ? &out->u.filter.reactions : &out->u.brick.reactions,
                             at);
    }
}

static void decode_element(struct emb_loader *l, struct emb_case *c, void **rec, struct emb_element_cfg *out,
                           const char *path)
{
    const struct emb_block *b = &emb_block_element;
    size_t given = 0;
    out->name = decode_name(l, emb_record_text(b, rec, "name"), path);
    for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
        const int i = emb_field_find(b, kinds[k].key);
        if (rec[i] == NULL) {
            continue;
        }
        if (given++ == 0) {
            char at[EMB_PATH + 32];
            out->kind = kinds[k].kind;
            snprintf(at, sizeof at, "%s.%s", path, kinds[k].key);
            emb_decode_block(l, b->field[i].block, rec[i], &out->u, at, false);
            decode_own_set(l, c, b->field[i].block, rec[i], out, at);
        }
    }
    if (given != 1) {
        emb_problem_add(l, path, "element '%.47s' needs exactly one kind, has %zu: pipe, turbine, oxidation_catalyst, "
                        "filter, reduction_catalyst, fuel_doser, def_doser, sensor or leak ({} for all defaults)",
                        out->name != NULL ? out->name : "", given);
    }
}

/* Takes element `from` out and puts it back directly in front of element `to`; l->order follows. */
static void element_move(struct emb_loader *l, struct emb_case *c, size_t from, size_t to)
{
    const struct emb_element_cfg moved = c->line[from];
    const size_t was = l->order[from], at = to > from ? to - 1 : to;
    for (size_t i = from; i < at; i++) {
        c->line[i] = c->line[i + 1];
        l->order[i] = l->order[i + 1];
    }
    for (size_t i = from; i > at; i--) {
        c->line[i] = c->line[i - 1];
        l->order[i] = l->order[i - 1];
    }
    c->line[at] = moved;
    l->order[at] = was;
}

/* Elements with `before` move, in the order of the file. */
static void decode_order(struct emb_loader *l, void **list, struct emb_case *c)
{
    l->order = malloc((c->n_line + 1) * sizeof *l->order);
    l->no_memory = l->no_memory || l->order == NULL;
    for (size_t i = 0; l->order != NULL && i < c->n_line; i++) {
        l->order[i] = i;
    }
    for (size_t i = 0; !l->no_memory && i < c->n_line; i++) {
        const char *before = emb_record_text(&emb_block_element, list + i * 2 * emb_block_element.n, "before");
        size_t from = 0;
        while (l->order[from] != i) {
            from++;
        }
        const int to = before != NULL ? emb_case_find(c, before) : (int)from;
        if (to < 0) {
            char path[EMB_PATH], near[200];
            snprintf(path, sizeof path, "line[%zu].before", i);
            emb_suggest_element(c, before, near, sizeof near);
            emb_problem_add(l, path, "'%.47s' is not in the line%s", before, near);
        } else if ((size_t)to != from) {
            element_move(l, c, from, (size_t)to);
        }
    }
}

static void decode_line(struct emb_loader *l, void **root, struct emb_case *c)
{
    size_t n = 0;
    void **list = list_of(&emb_block_case, root, "line", &n);
    c->line = n > 0 ? calloc(n, sizeof *c->line) : NULL;
    c->n_line = c->line != NULL ? n : 0;
    l->no_memory = l->no_memory || (n > 0 && c->line == NULL);
    for (size_t i = 0; i < c->n_line; i++) {
        char path[EMB_PATH];
        snprintf(path, sizeof path, "line[%zu]", i);
        decode_element(l, c, list + i * 2 * emb_block_element.n, &c->line[i], path);
    }
    decode_order(l, list, c);
}

/* The keys given decide the mode; keys of two modes clash. Without an engine a road speed only says how fast the air
 * passes the line. */
static void decode_mode(struct emb_loader *l, void **rec, const struct emb_case *c, struct emb_phase *out,
                        const char *path)
{
    static const struct { const char *key; enum emb_phase_mode mode; } keys[] = {
        {"speed", EMB_PHASE_ENGINE}, {"load", EMB_PHASE_ENGINE}, {"road_speed", EMB_PHASE_ROAD},
        {"grade", EMB_PHASE_ROAD}, {"road_cycle", EMB_PHASE_ROAD_CYCLE}, {"engine_cycle", EMB_PHASE_ENGINE_CYCLE},
        {"recorded", EMB_PHASE_RECORDED}, {"stream", EMB_PHASE_STREAM}};
    const char *first = NULL;
    out->mode = c->source == EMB_SOURCE_ENGINE   ? EMB_PHASE_ENGINE
                : c->source == EMB_SOURCE_STREAM ? EMB_PHASE_STREAM : EMB_PHASE_RECORDED;
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        const bool air = c->source != EMB_SOURCE_ENGINE && strcmp(keys[i].key, "road_speed") == 0;
        if (air || rec[emb_field_find(&emb_block_phase, keys[i].key)] == NULL) {
            continue;
        }
        if (first != NULL && out->mode != keys[i].mode) {
            emb_problem_add(l, path, "keys '%s' and '%s' ask for two kinds of phase; keep one", first, keys[i].key);
        } else {
            first = keys[i].key;
            out->mode = keys[i].mode;
        }
    }
}

/* Relative to the folder of the case file. */
static char *file_beside(struct emb_loader *l, const char *file)
{
    const char *slash = strrchr(l->file, '/');
    const size_t dir = slash != NULL && file[0] != '/' ? (size_t)(slash - l->file) + 1 : 0;
    char *full = malloc(dir + strlen(file) + 1);
    if (full == NULL) {
        l->no_memory = true;
        return NULL;
    }
    memcpy(full, l->file, dir);
    memcpy(full + dir, file, strlen(file) + 1);
    return full;
}

static void decode_trace(struct emb_loader *l, void **rec, struct emb_phase *out, const char *path)
{
    const bool road = out->mode == EMB_PHASE_ROAD_CYCLE;
    const char *key = road ? "road_cycle" : "engine_cycle";
    const char *file = emb_record_text(&emb_block_phase, rec, key);
    struct emb_err err = {0};
    char at[EMB_PATH + 32];
    if ((!road && out->mode != EMB_PHASE_ENGINE_CYCLE) || file == NULL) {
        return;
    }
    out->cycle = file_beside(l, file);
    if (out->cycle == NULL) {
        return;
    }
    const enum emb_status s = road ? emb_csv_road_cycle(out->cycle, l->units, &out->trace, &err)
                                   : emb_csv_engine_cycle(out->cycle, l->units, &out->trace, &err);
    if (s != EMB_OK) {
        snprintf(at, sizeof at, "%s.%s", path, key);
        emb_problem_add(l, at, "%s: %s", err.where, err.msg);
    }
}

/* A phase that changes one mole fraction gets all of them, so that nitrogen is the rest of the mixture as changed. */
static void decode_mixture(struct emb_loader *l, const struct emb_case *c, struct emb_phase *out, const char *path)
{
    double sum = 0.0;
    bool any = false;
    for (int k = 0; k < EMB_NGAS; k++) {
        any = any || (k != EMB_N2 && k != EMB_HNCO && !isnan(out->stream.x[k]));
    }
    for (int k = 0; k < EMB_NGAS; k++) {
        if (!any) {
            out->stream.x[k] = NAN;
        } else if (k != EMB_N2) {
            out->stream.x[k] = k == EMB_HNCO ? 0.0 : isnan(out->stream.x[k]) ? c->stream.x[k] : out->stream.x[k];
            sum += out->stream.x[k];
        }
    }
    if (any) {
        out->stream.x[EMB_N2] = 1.0 - sum;
    }
    if (sum > 1.0 + 1e-12) {
        char at[EMB_PATH + 32];
        snprintf(at, sizeof at, "%s.stream", path);
        emb_problem_add(l, at, "mole fractions sum to %.4g, more than 1", sum);
    }
}

static void decode_phase(struct emb_loader *l, void **rec, const struct emb_case *c, struct emb_phase *out, size_t i)
{
    const struct emb_block *b = &emb_block_phase;
    char path[EMB_PATH], text[64], at[EMB_PATH + 16];
    snprintf(path, sizeof path, "duty.phases[%zu]", i);
    emb_decode_block(l, b, rec, out, path, false);
    if (out->name == NULL || out->name[0] == '\0') {
        free(out->name);
        snprintf(text, sizeof text, "phase %zu", i + 1);
        out->name = copy_text(l, text);
    } else if (strlen(out->name) > 63) {
        snprintf(at, sizeof at, "%s.name", path);
        emb_problem_add(l, at, "is longer than 63 bytes");
    }
    decode_mode(l, rec, c, out, path);
    out->load = isnan(out->load) ? 0.0 : out->load;
    out->road_speed = isnan(out->road_speed) ? 0.0 : out->road_speed;
    out->grade = isnan(out->grade) ? 0.0 : out->grade;
    decode_trace(l, rec, out, path);
    decode_mixture(l, c, out, path);
    const bool own = out->mode == EMB_PHASE_ROAD_CYCLE || out->mode == EMB_PHASE_ENGINE_CYCLE ||
                     out->mode == EMB_PHASE_RECORDED;
    if (isnan(out->duration) && !own && emb_record_text(b, rec, "for") == NULL) {
        emb_problem_add(l, path, "phase '%.60s' needs a duration, for example  for: 10 min", out->name);
    }
}

static void decode_duty(struct emb_loader *l, void **root, struct emb_case *c)
{
    size_t n = 0;
    const int i = emb_field_find(&emb_block_case, "duty");
    void **list = list_of(&emb_block_duty, root[i], "phases", &n);
    c->duty = n > 0 ? calloc(n, sizeof *c->duty) : NULL;
    c->n_duty = c->duty != NULL ? n : 0;
    l->no_memory = l->no_memory || (n > 0 && c->duty == NULL);
    for (size_t k = 0; k < c->n_duty; k++) {
        decode_phase(l, list + k * 2 * emb_block_phase.n, c, &c->duty[k], k);
    }
}

static void decode_target(struct emb_loader *l, void **rec, const struct emb_case *c, struct emb_target *out, size_t i)
{
    const struct emb_block *b = &emb_block_target;
    char path[EMB_PATH], at[EMB_PATH + 16], msg[EMB_UNIT_MSG];
    snprintf(path, sizeof path, "targets[%zu]", i);
    emb_decode_block(l, b, rec, out, path, false);
    const char *above = emb_record_text(b, rec, "above"), *below = emb_record_text(b, rec, "below");
    const char *where = emb_record_text(b, rec, "at"), *name = emb_record_text(b, rec, "name");
    out->name = copy_text(l, name != NULL ? name : "");
    if (name == NULL || *name == '\0' || strlen(name) > 63) {
        snprintf(at, sizeof at, "%s.name", path);
        emb_problem_add(l, at, "needs a name of 1 to 63 bytes");
    }
    out->at = where != NULL ? emb_case_find(c, where) : -1;
    out->below = below != NULL;
    if ((above == NULL) == (below == NULL)) {
        emb_problem_add(l, path, "needs exactly one of above and below");
        return;
    }
    if (out->quantity == EMB_Q_NOX_CHECK && below != NULL) {
        snprintf(at, sizeof at, "%s.below", path);
        emb_problem_add(l, at, "a nox_check asks for a conversion above something: use above");
    } else if (out->quantity != EMB_Q_NOX_CHECK && emb_record_text(b, rec, "while_above") != NULL) {
        snprintf(at, sizeof at, "%s.while_above", path);
        emb_problem_add(l, at, "belongs to quantity: nox_check only");
    }
    const bool flow = out->quantity == EMB_Q_DOSING || out->quantity == EMB_Q_DEF_DOSING;
    const enum emb_dim dim = out->quantity == EMB_Q_TEMPERATURE ? EMB_DIM_TEMPERATURE
                             : flow                              ? EMB_DIM_MASS_FLOW
                                                                 : EMB_DIM_FRACTION;
    if (emb_quantity_parse(l->units, above != NULL ? above : below, dim, &out->value, msg) != 0) {
        snprintf(at, sizeof at, "%s.%s", path, above != NULL ? "above" : "below");
        emb_problem_add(l, at, "%s", msg);
    } else if (out->value < 0.0) {
        snprintf(at, sizeof at, "%s.%s", path, above != NULL ? "above" : "below");
        emb_problem_add(l, at, "cannot be below zero%s", dim == EMB_DIM_TEMPERATURE ? " kelvin" : "");
    }
}

static void decode_targets(struct emb_loader *l, void **root, struct emb_case *c)
{
    size_t n = 0;
    void **list = list_of(&emb_block_case, root, "targets", &n);
    c->target = n > 0 ? calloc(n, sizeof *c->target) : NULL;
    c->n_target = c->target != NULL ? n : 0;
    l->no_memory = l->no_memory || (n > 0 && c->target == NULL);
    for (size_t k = 0; k < c->n_target; k++) {
        decode_target(l, list + k * 2 * emb_block_target.n, c, &c->target[k], k);
    }
}

static void decode_source(struct emb_loader *l, void **root, struct emb_case *c)
{
    double sum = 0.0;
    const bool engine = root[emb_field_find(&emb_block_case, "engine")] != NULL;
    const bool recorded = root[emb_field_find(&emb_block_case, "recorded")] != NULL;
    c->source = engine ? EMB_SOURCE_ENGINE : recorded ? EMB_SOURCE_RECORDED : EMB_SOURCE_STREAM;
    c->start_follows = isnan(c->start_temperature);
    if (c->start_follows) {
        c->start_temperature = c->ambient.temperature;
    }
    c->engine.start_follows = isnan(c->engine.start_temperature);
    if (c->engine.start_follows) {
        c->engine.start_temperature = c->start_temperature;
    }
    for (int k = 0; k < EMB_NGAS; k++) {
        sum += k == EMB_N2 ? 0.0 : c->stream.x[k];
    }
    c->stream.x[EMB_N2] = 1.0 - sum;
    if (sum > 1.0 + 1e-12) {
        emb_problem_add(l, "stream", "mole fractions sum to %.4g, more than 1", sum);
    }
    if (c->source == EMB_SOURCE_RECORDED && c->recorded.file != NULL) {
        struct emb_err err = {0};
        char *full = file_beside(l, c->recorded.file);
        free(c->recorded.file);
        c->recorded.file = full;
        if (full != NULL && emb_csv_recorded(full, l->units, &c->recorded, &c->recording, &err) != EMB_OK) {
            emb_problem_add(l, "recorded.file", "%s: %s", err.where, err.msg);
        }
    }
}

void emb_decode_case(struct emb_loader *l, void **root, struct emb_case *c)
{
    emb_decode_block(l, &emb_block_case, root, c, "", false);
    c->file = copy_text(l, l->file);
    c->regen.present = root[emb_field_find(&emb_block_case, "regeneration")] != NULL;
    decode_source(l, root, c);
    decode_line(l, root, c);
    decode_duty(l, root, c);
    decode_targets(l, root, c);
}
