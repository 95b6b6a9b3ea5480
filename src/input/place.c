/* place.c - from the path of a key to its place in a read case, along the one field table. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/vary.h"
#include "input.h"

/* Where a path has led so far. */
struct walk {
    const struct emb_case *c;
    const char *path;
    const struct emb_block *b; /* keys that may follow */
    struct emb_place *out;
    struct emb_err *err;
};

static const char *word_next(const char *p, char *word, size_t size)
{
    p += strspn(p, ".[]");
    const size_t n = strcspn(p, ".[]");
    snprintf(word, size, "%.*s", (int)(n < size ? n : size - 1), p);
    p += n;
    return p + strspn(p, ".[]");
}

static void path_key(struct walk *w, const char *key)
{
    char *path = w->out->path;
    const size_t used = strlen(path);
    snprintf(path + used, sizeof w->out->path - used, "%s%s", used > 0 ? "." : "", key);
}

static enum emb_status unknown_key(const struct walk *w, const char *word)
{
    char near[200];
    emb_suggest_key(w->b, word, near, sizeof near);
    return emb_fail(w->err, EMB_ERR_CONFIG, w->path, "no key '%.40s' in %s%s", word,
                    w->out->path[0] != '\0' ? w->out->path : "the case", near);
}

static const char *entry_name(const struct emb_case *c, enum emb_home home, size_t i)
{
    const char *name = home == EMB_HOME_LINE   ? c->line[i].name
                       : home == EMB_HOME_DUTY ? c->duty[i].name
                                               : c->target[i].name;
    return name != NULL ? name : "";
}

static enum emb_home list_home(const struct emb_block *b)
{
    return b == &emb_block_element ? EMB_HOME_LINE
           : b == &emb_block_phase ? EMB_HOME_DUTY
                                   : EMB_HOME_TARGET;
}

/* Index of the entry by name or number, or n. */
static size_t entry_find(const struct emb_case *c, enum emb_home home, const char *word, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (strcmp(entry_name(c, home, i), word) == 0) {
            return i;
        }
    }
    if (!isdigit((unsigned char)word[0]) || strspn(word, "0123456789") != strlen(word)) {
        return n;
    }
    const size_t i = strtoul(word, NULL, 10);
    return i < n ? i : n;
}

/* The entry of a list; elements go on into the block of their kind. */
static enum emb_status enter_entry(struct walk *w, const struct emb_field *f, const char *word)
{
    const enum emb_home home = list_home(f->block);
    const size_t n = home == EMB_HOME_LINE   ? w->c->n_line
                     : home == EMB_HOME_DUTY ? w->c->n_duty
                                             : w->c->n_target;
    const size_t i = entry_find(w->c, home, word, n);
    if (i == n) {
        const char *names[64] = {NULL};
        char near[200];
        size_t k = 0;
        for (; k < n && k < 64; k++) {
            names[k] = entry_name(w->c, home, k);
        }
        emb_suggest(word, names, k, near, sizeof near);
        return emb_fail(w->err, EMB_ERR_CONFIG, w->path, "no entry '%.47s' in %s (%zu entries)%s",
                        word, f->key, n, near);
    }
    w->out->home = home;
    w->out->index = i;
    w->out->offset = 0;
    w->b = f->block;
    char *path = w->out->path;
    const size_t used = strlen(path);
    snprintf(path + used, sizeof w->out->path - used, "[%zu]", i);
    return EMB_OK;
}

/* The kind of an element may be left out: line.doc.blocked. */
static void enter_kind(struct walk *w, const char *word)
{
    if (w->b != &emb_block_element) {
        return;
    }
    const char *kind = emb_kind_key(w->c->line[w->out->index].kind);
    const struct emb_block *inner = w->b->field[emb_field_find(w->b, kind)].block;
    if (strcmp(word, kind) == 0 || emb_field_find(w->b, word) >= 0) {
        return;
    }
    path_key(w, kind);
    w->out->offset = offsetof(struct emb_element_cfg, u);
    w->b = inner;
}

static enum emb_status enter_block(struct walk *w, const struct emb_field *f)
{
    if (w->b == &emb_block_element) {
        const char *kind = emb_kind_key(w->c->line[w->out->index].kind);
        if (strcmp(f->key, kind) != 0) {
            return emb_fail(w->err, EMB_ERR_CONFIG, w->path, "'%.47s' is a %s, not a %s",
                            w->c->line[w->out->index].name, kind, f->key);
        }
        w->out->offset = offsetof(struct emb_element_cfg, u);
    } else {
        w->out->offset += f->offset;
    }
    path_key(w, f->key);
    w->b = f->block;
    return EMB_OK;
}

/* A target's threshold is one number under two keys; which of them, the case has decided. */
static enum emb_status threshold(struct walk *w, const struct emb_field *f)
{
    const struct emb_target *t = &w->c->target[w->out->index];
    const bool flow = t->quantity == EMB_Q_DOSING || t->quantity == EMB_Q_DEF_DOSING;
    if (strcmp(f->key, t->below ? "below" : "above") != 0) {
        return emb_fail(w->err, EMB_ERR_CONFIG, w->path, "target '%.60s' is asked the other way",
                        t->name);
    }
    w->out->offset = offsetof(struct emb_target, value);
    w->out->numeric = true;
    w->out->dim = t->quantity == EMB_Q_TEMPERATURE ? EMB_DIM_TEMPERATURE
                  : flow                           ? EMB_DIM_MASS_FLOW
                                                   : EMB_DIM_FRACTION;
    w->out->min = 0.0;
    w->out->max = 1e6;
    return EMB_OK;
}

static enum emb_status leaf(struct walk *w, const struct emb_field *f)
{
    struct emb_place *p = w->out;
    path_key(w, f->key);
    p->field = f;
    if (w->b == &emb_block_target &&
        (strcmp(f->key, "above") == 0 || strcmp(f->key, "below") == 0)) {
        return threshold(w, f);
    }
    p->numeric =
        f->offset != EMB_BY_HAND &&
        (f->kind == EMB_FIELD_QUANTITY || f->kind == EMB_FIELD_INT || f->kind == EMB_FIELD_BOOL);
    p->offset += f->offset != EMB_BY_HAND ? f->offset : 0;
    p->dim = f->dim;
    p->min = f->min;
    p->max = f->max;
    return EMB_OK;
}

/* A key of a block that this case does not use would be varied without effect: say so. */
static enum emb_status used_block(const struct walk *w, const char *word)
{
    const struct emb_case *c = w->c;
    const bool engine = c->source == EMB_SOURCE_ENGINE;
    const char *why = NULL;
    if (w->b == &emb_block_engine && !engine) {
        why = "the case has no engine";
    } else if ((w->b == &emb_block_stream || w->b == &emb_block_recorded) && engine) {
        why = "the source of the case is an engine";
    } else if (w->b == &emb_block_regeneration && !c->regen.present) {
        why = "the case has no regeneration";
    } else if (w->b == &emb_block_phase && w->out->field->kind == EMB_FIELD_QUANTITY) {
        const enum emb_phase_mode mode = c->duty[w->out->index].mode;
        const bool drive = strcmp(word, "speed") == 0 || strcmp(word, "load") == 0;
        const bool road = strcmp(word, "road_speed") == 0 || strcmp(word, "grade") == 0;
        why = (drive && mode != EMB_PHASE_ENGINE) || (road && mode != EMB_PHASE_ROAD)
                  ? "the phase is of another kind"
                  : NULL;
    }
    return why == NULL ? EMB_OK
                       : emb_fail(w->err, EMB_ERR_CONFIG, w->path, "has no effect: %s", why);
}

/* duty.NAME.key stands for duty.phases.NAME.key. */
static bool phase_named(const struct walk *w, const char *word)
{
    return w->b == &emb_block_duty && emb_field_find(w->b, word) < 0 &&
           entry_find(w->c, EMB_HOME_DUTY, word, w->c->n_duty) < w->c->n_duty;
}

static enum emb_status step(struct walk *w, const char **at)
{
    char word[64];
    const char *begin = *at;
    *at = word_next(*at, word, sizeof word);
    if (phase_named(w, word)) {
        *at = begin;
        snprintf(word, sizeof word, "phases");
    }
    enter_kind(w, word);
    const int i = emb_field_find(w->b, word);
    if (i < 0) {
        return unknown_key(w, word);
    }
    const struct emb_field *f = &w->b->field[i];
    const bool deep = f->kind == EMB_FIELD_BLOCK || f->kind == EMB_FIELD_LIST;
    if (deep == (**at == '\0')) {
        return emb_fail(w->err, EMB_ERR_CONFIG, w->path, "'%.40s' %s", word,
                        deep ? "holds keys; name one of them"
                             : "is a single value and holds no keys");
    }
    if (f->kind == EMB_FIELD_LIST) {
        path_key(w, f->key);
        *at = word_next(*at, word, sizeof word);
        const enum emb_status st = enter_entry(w, f, word);
        return st != EMB_OK || **at != '\0'
                   ? st
                   : emb_fail(w->err, EMB_ERR_CONFIG, w->path, "name a key of the entry");
    }
    if (deep) {
        return enter_block(w, f);
    }
    const enum emb_status st = leaf(w, f);
    return st == EMB_OK ? used_block(w, word) : st;
}

enum emb_status emb_place_find(const struct emb_case *c, const char *path, struct emb_place *out,
                               struct emb_err *err)
{
    struct walk w = {c, path, &emb_block_case, out, err};
    enum emb_status st = EMB_OK;
    const char *at = path;
    *out = (struct emb_place){.home = EMB_HOME_CASE};
    if (*path == '\0' || strlen(path) >= sizeof out->path / 2) {
        return emb_fail(err, EMB_ERR_CONFIG, path, "is no path of a key");
    }
    while (st == EMB_OK && *at != '\0') {
        st = step(&w, &at);
    }
    if (st == EMB_OK && out->field == NULL) {
        st = emb_fail(err, EMB_ERR_CONFIG, path, "is no path of a key");
    }
    return st;
}
