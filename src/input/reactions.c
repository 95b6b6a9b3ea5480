/* reactions.c - a user's reaction set: equations, orders and inhibition from text; what does not balance, is not
 * known, is negative or overflows is refused with the reaction and the key named. */
#include "input.h"
#include "emberpipe/kinetics.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct set_reader {
    struct emb_loader *l;
    struct emb_reaction_set *set;
    struct emb_reactions_keys keys;
    char group[EMB_MAX_INHIBITIONS][48];
    const char *path;
};

static void **rows_of(const struct emb_block *b, void **rec, const char *key, size_t *n)
{
    const int i = emb_field_find(b, key);
    *n = rec[i] != NULL ? *emb_slot_count(b, rec, (size_t)i) : 0;
    return rec[i];
}

/* Next word of a text, up to blanks or one of `ends`; false at its end. */
static bool next_word(const char **text, const char *ends, char *word, size_t size)
{
    *text += strspn(*text, " ");
    size_t n = strcspn(*text, " ");
    const size_t stop = strcspn(*text, ends);
    n = stop < n ? stop : n;
    if (n == 0 || n >= size) {
        return false;
    }
    memcpy(word, *text, n);
    word[n] = '\0';
    *text += n;
    *text += strspn(*text, " ");
    return true;
}

/* Index of a gas species; -1 and a problem when there is none of that name. */
static int species_named(const struct set_reader *r, const char *word, const char *path, const char *reaction)
{
    const char *names[EMB_NGAS];
    char near[200];
    const int k = emb_species_find(word);
    if (k >= 0 && k < EMB_NGAS) {
        return k;
    }
    for (int i = 0; i < EMB_NGAS; i++) {
        names[i] = emb_species_name(i);
    }
    emb_suggest(word, names, EMB_NGAS, near, sizeof near);
    emb_problem_add(r->l, path, "reaction '%s': unknown gas species '%.24s'%s", reaction, word, near);
    return -1;
}

/* "2 CO + O2" with a sign into the coefficients. */
static bool read_side(const struct set_reader *r, const char *text, size_t n, double sign, struct emb_reaction *out,
                      const char *path)
{
    char side[160], word[32];
    if (n >= sizeof side) {
        emb_problem_add(r->l, path, "reaction '%s': the equation is too long", out->name);
        return false;
    }
    memcpy(side, text, n);
    side[n] = '\0';
    for (const char *p = side;;) {
        double nu = 1.0;
        const char *rest = NULL;
        if (!next_word(&p, "+", word, sizeof word)) {
            emb_problem_add(r->l, path, "reaction '%s': expected species joined by ' + ' and '->', as in "
                            "CO + 0.5 O2 -> CO2", out->name);
            return false;
        }
        if (emb_number_parse(word, &nu, &rest) == 0 && *rest == '\0') {
            next_word(&p, "+", word, sizeof word);
        } else {
            nu = 1.0;
        }
        const bool stored = strcmp(word, "NH3*") == 0;
        const int k = stored ? EMB_NH3 : species_named(r, word, path, out->name);
        if (k >= 0 && !(nu > 0.0)) {
            emb_problem_add(r->l, path, "reaction '%s': the number of %s must be above 0; what is made stands behind '->'",
                            out->name, word);
        }
        if (k < 0 || !(nu > 0.0)) {
            return false;
        }
        *(stored ? &out->nu_store : &out->nu[k]) += sign * nu;
        if (*p == '\0') {
            return true;
        }
        p += *p == '+';
    }
}

static bool read_equation(const struct set_reader *r, const char *text, struct emb_reaction *out, const char *path)
{
    static const char *const element[EMB_NELEMENTS] = {"carbon", "hydrogen", "oxygen", "nitrogen"};
    const char *arrow = strstr(text, "->");
    int e = 0;
    if (arrow == NULL) {
        emb_problem_add(r->l, path, "reaction '%s' has no '->'", out->name);
        return false;
    }
    if (!read_side(r, text, (size_t)(arrow - text), -1.0, out, path) ||
        !read_side(r, arrow + 2, strlen(arrow + 2), 1.0, out, path)) {
        return false;
    }
    const double off = emb_reaction_imbalance(out, &e);
    if (off > 1e-9) {
        emb_problem_add(r->l, path, "reaction '%s' does not balance: %.6g mol of %s too many or too few", out->name, off,
                        element[e]);
        return false;
    }
    return true;
}

/* "CO 1, O2 0.5" into powers; returns their number, or -1. */
static int read_powers(const struct set_reader *r, const char *text, struct emb_power *out, int max, const char *path,
                       const char *reaction)
{
    int n = 0;
    char word[32], number[32];
    for (const char *p = text; *p != '\0'; p += *p == ',') {
        double order = 1.0;
        if (n == max || !next_word(&p, ",", word, sizeof word)) {
            emb_problem_add(r->l, path, "reaction '%s': expected at most %d species with orders, as in  CO 1, O2 0.5",
                            reaction, max);
            return -1;
        }
        const int k = species_named(r, word, path, reaction);
        if (*p != ',' && *p != '\0' &&
            (!next_word(&p, ",", number, sizeof number) || emb_number_parse(number, &order, NULL) != 0)) {
            order = NAN;
        }
        if (k < 0) {
            return -1;
        }
        if (!(order > 0.0 && order <= 4.0)) {
            emb_problem_add(r->l, path, "reaction '%s': the order of %s must be a number above 0, at most 4", reaction,
                            word);
            return -1;
        }
        out[n++] = (struct emb_power){k, order};
        if (*p != ',' && *p != '\0') {
            emb_problem_add(r->l, path, "reaction '%s': separate species by commas, as in  CO 1, O2 0.5", reaction);
            return -1;
        }
    }
    return n;
}

/* A in the unit that the rest of the step asks for, turned into mol/(m3 s), 1/s or m3/(mol s). */
static bool read_factor(const struct set_reader *r, const char *text, struct emb_reaction *out, const char *path)
{
    char msg[EMB_UNIT_MSG], other[EMB_UNIT_MSG];
    const bool kelvin = out->inhibited > 0 && r->keys.temperature_power > 0;
    const enum emb_dim volume = kelvin ? EMB_DIM_RATE_VOLUME_K : EMB_DIM_RATE_VOLUME;
    const enum emb_dim area = kelvin ? EMB_DIM_RATE_AREA_K : EMB_DIM_RATE_AREA;
    double A = 0.0;
    if (emb_quantity_parse(r->l->units, text, r->keys.area != 0.0 ? area : volume, &A, msg) == 0) {
        A *= r->keys.area > 0.0 ? r->keys.area : 1.0;
    } else if (out->store != 0 && emb_quantity_parse(r->l->units, text, EMB_DIM_RATE, &A, other) == 0) {
        out->per_site = true;
    } else if (out->store != 0 && emb_quantity_parse(r->l->units, text, EMB_DIM_RATE_CONCENTRATION, &A, other) == 0) {
        out->per_site = out->per_concentration = true;
    } else {
        emb_problem_add(r->l, path, "reaction '%s': %s", out->name, msg);
        return false;
    }
    if (A < 0.0) {
        emb_problem_add(r->l, path, "reaction '%s': A is negative: '%.40s'", out->name, text);
        return false;
    }
    out->A = A;
    return true;
}

/* The law must stay a number from a cold start to a molten brick. */
static void check_size(const struct set_reader *r, const struct emb_reaction *s, const char *path)
{
    for (double T = 200.0; T <= 2000.0 && isfinite(s->E); T += 100.0) { /* E that is wrong was told */
        const double v = s->A * exp(-s->E / (EMB_R * T));
        if (!(v < 1e60)) {
            char at[EMB_PATH + 160];
            snprintf(at, sizeof at, "%s.%s", path, s->E < 0.0 ? "E" : "A");
            emb_problem_add(r->l, at, "reaction '%s': the rate overflows: %.3g mol/(m3 s) at %.0f K", s->name, v, T);
            return;
        }
    }
}

static int group_index(struct set_reader *r, const char *name, bool add)
{
    for (size_t i = 0; i < r->set->n_inhibition; i++) {
        if (strcmp(r->group[i], name) == 0) {
            return (int)i;
        }
    }
    if (!add || r->set->n_inhibition == EMB_MAX_INHIBITIONS) {
        return -1;
    }
    const size_t i = r->set->n_inhibition++;
    snprintf(r->group[i], sizeof r->group[i], "%s", name);
    r->set->inhibition[i] = (struct emb_inhibition){.T_power = r->keys.temperature_power};
    return (int)i;
}

static void read_addend(struct set_reader *r, void **rec, size_t i)
{
    char path[EMB_PATH + 128], at[EMB_PATH + 160];
    struct emb_addend_keys k;
    snprintf(path, sizeof path, "%s.inhibition[%zu]", r->path, i);
    emb_decode_block(r->l, &emb_block_addend, rec, &k, path, false);
    const char *name = emb_record_text(&emb_block_addend, rec, "group"), *of = emb_record_text(&emb_block_addend, rec, "of");
    if (name == NULL || of == NULL || emb_record_text(&emb_block_addend, rec, "K") == NULL) {
        emb_problem_add(r->l, path, "needs group, K and of");
        return;
    }
    const int g = group_index(r, name, true);
    if (g < 0) {
        emb_problem_add(r->l, path, "more than %d inhibition groups", (int)EMB_MAX_INHIBITIONS);
        return;
    }
    struct emb_inhibition *group = &r->set->inhibition[g];
    struct emb_factor *f = &group->factor[k.factor - 1];
    if (f->n == EMB_MAX_ADDENDS) {
        emb_problem_add(r->l, path, "more than %d terms in one bracket", (int)EMB_MAX_ADDENDS);
        return;
    }
    struct emb_addend *a = &f->addend[f->n];
    snprintf(at, sizeof at, "%s.of", path);
    a->n_power = read_powers(r, of, a->power, 2, at, name);
    if (f->n > 0 && f->power != k.power) {
        snprintf(at, sizeof at, "%s.power", path);
        emb_problem_add(r->l, at, "bracket %d of group '%.40s' has two powers", k.factor, name);
    }
    a->K = k.K;
    a->E = k.E;
    f->power = k.power;
    f->n++;
    group->n = k.factor > group->n ? k.factor : group->n;
}

static void read_orders(struct set_reader *r, void **rec, struct emb_reaction *out, const char *path)
{
    char at[EMB_PATH + 160];
    const char *orders = emb_record_text(&emb_block_step, rec, "orders");
    snprintf(at, sizeof at, "%s.orders", path);
    if (orders != NULL) {
        out->n_power = read_powers(r, orders, out->power, EMB_MAX_POWERS, at, out->name);
        return;
    }
    for (int k = 0; k < EMB_NGAS; k++) {
        if (out->nu[k] < 0.0 && out->n_power == EMB_MAX_POWERS) {
            emb_problem_add(r->l, at, "reaction '%s' consumes more than %d species: say which orders count", out->name,
                            (int)EMB_MAX_POWERS);
            return;
        }
        if (out->nu[k] < 0.0) {
            out->power[out->n_power++] = (struct emb_power){k, 1.0};
        }
    }
}

static bool is_no_oxidation(const struct emb_reaction *s)
{
    return s->nu[EMB_NO] == -1.0 && s->nu[EMB_O2] == -0.5 && s->nu[EMB_NO2] == 1.0;
}

/* The store is a share of sites: filling it must slow down as it fills, emptying as it empties. */
static void check_store(const struct set_reader *r, const struct emb_reaction *s, const char *path)
{
    char at[EMB_PATH + 160];
    snprintf(at, sizeof at, "%s.coverage", path);
    if (s->nu_store > 0.0 && !(s->store < 0 && s->per_site)) {
        emb_problem_add(r->l, at, "reaction '%s' fills the ammonia store: it needs coverage: free and A in 1/s or m3/(mol s)", s->name);
    } else if (s->nu_store < 0.0 && s->store <= 0) {
        emb_problem_add(r->l, at, "reaction '%s' empties the ammonia store: it needs coverage: stored", s->name);
    }
}

static void check_concentration(const struct set_reader *r, const struct emb_reaction *s, const char *path)
{
    char at[EMB_PATH + 160];
    snprintf(at, sizeof at, "%s.A", path);
    if (s->per_concentration && !(s->n_power == 1 && s->power[0].order == 1.0)) {
        emb_problem_add(r->l, at, "reaction '%s': A in m3/(mol s) is for first order in one gas", s->name);
    }
}

/* The heat of storing is the activation energy of the desorption step. */
static void check_desorption(const struct set_reader *r)
{
    double E0 = 0.0, alpha = 0.0;
    bool stores = false;
    for (size_t i = 0; i < r->set->n; i++) {
        stores = stores || r->set->r[i].nu_store != 0.0;
    }
    emb_reaction_set_storage(r->set, &E0, &alpha);
    if (stores && E0 <= 0.0) {
        emb_problem_add(r->l, r->path, "a set with NH3* needs its desorption step, NH3* -> NH3, with E above 0");
    } else if (stores && strstr(r->path, ".filter.") != NULL) {
        emb_problem_add(r->l, r->path, "a filter has no ammonia store: leave out the steps with NH3*");
    }
}

static void read_step(struct set_reader *r, void **rec, size_t i)
{
    const struct emb_block *b = &emb_block_step;
    struct emb_reaction *out = &r->set->r[i];
    struct emb_step_keys k;
    char path[EMB_PATH + 128], at[EMB_PATH + 160];
    const char *equation = emb_record_text(b, rec, "equation"), *A = emb_record_text(b, rec, "A");
    const char *by = emb_record_text(b, rec, "inhibited_by");
    snprintf(path, sizeof path, "%s.steps[%zu]", r->path, i);
    emb_decode_block(r->l, b, rec, &k, path, false);
    if (equation == NULL || A == NULL) {
        emb_problem_add(r->l, path, "needs equation and A");
        return;
    }
    snprintf(out->name, sizeof out->name, "%s", equation);
    out->E = k.E;
    out->alpha = k.alpha;
    out->store = k.coverage == 2 ? -1 : k.coverage;
    out->reversible = k.equilibrium;
    snprintf(at, sizeof at, "%s.equation", path);
    const bool whole = read_equation(r, equation, out, at);
    snprintf(at, sizeof at, "%s.equilibrium", path);
    if (whole && out->reversible && !is_no_oxidation(out)) {
        emb_problem_add(r->l, at, "reaction '%s': only NO + 0.5 O2 -> NO2 has its equilibrium built in", out->name);
    }
    snprintf(at, sizeof at, "%s.inhibited_by", path);
    out->inhibited = by != NULL ? group_index(r, by, false) + 1 : 0;
    if (by != NULL && out->inhibited == 0) {
        emb_problem_add(r->l, at, "reaction '%s': no inhibition group '%.40s'", out->name, by);
    }
    snprintf(at, sizeof at, "%s.A", path);
    if (whole && read_factor(r, A, out, at)) {
        read_orders(r, rec, out, path);
        check_concentration(r, out, path);
        check_store(r, out, path);
        check_size(r, out, path);
    }
}

static void read_lists(struct set_reader *r, void **rec)
{
    const struct emb_block *b = &emb_block_reactions;
    size_t n = 0, m = 0;
    void **steps = rows_of(b, rec, "steps", &n), **terms = rows_of(b, rec, "inhibition", &m);
    if (n == 0 && emb_problem_below(r->l, r->path)) {
        return; /* a part that was not found has no steps either: one line is enough */
    }
    if (n == 0 || n > EMB_MAX_REACTIONS) {
        emb_problem_add(r->l, r->path, "needs 1 to %d steps, has %zu", (int)EMB_MAX_REACTIONS, n);
        return;
    }
    for (size_t i = 0; i < m; i++) {
        read_addend(r, terms + i * 2 * emb_block_addend.n, i);
    }
    for (size_t i = 0; i < r->set->n_inhibition; i++) {
        for (int f = 0; f < r->set->inhibition[i].n; f++) {
            if (r->set->inhibition[i].factor[f].n == 0) {
                emb_problem_add(r->l, r->path, "inhibition group '%s' has no bracket %d", r->group[i], f + 1);
            }
        }
    }
    for (size_t i = 0; i < n; i++) {
        read_step(r, steps + i * 2 * emb_block_step.n, i);
    }
    r->set->n = n;
    check_desorption(r);
}

void emb_decode_reactions(struct emb_loader *l, struct emb_case *c, void **rec, int *number, const char *path)
{
    struct emb_reaction_set *more = realloc(c->set, (c->n_set + 1) * sizeof *more);
    const struct emb_block *b = &emb_block_reactions;
    if (more == NULL) {
        l->no_memory = true;
        return;
    }
    c->set = more;
    struct set_reader r = {.l = l, .set = &c->set[c->n_set], .path = path};
    const char *name = emb_record_text(b, rec, "name"), *source = emb_record_text(b, rec, "source");
    memset(r.set, 0, sizeof *r.set);
    snprintf(r.set->name, sizeof r.set->name, "%s", name != NULL ? name : "own");
    snprintf(r.set->source, sizeof r.set->source, "%s", source != NULL ? source : "");
    emb_decode_block(l, b, rec, &r.keys, path, false);
    read_lists(&r, rec);
    *number = (int)++c->n_set;
}
