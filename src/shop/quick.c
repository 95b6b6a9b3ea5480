/* quick.c - the questions of the quick case, and the text that their answers make. */
#include "emberpipe/quick.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/edit.h"
#include "emberpipe/field.h"
#include "emberpipe/shelf.h"

const struct emb_question emb_questions[EMB_N_ASK] = {
    {"layout", "Layout of the exhaust line", "filter-first", "layouts", EMB_DIM_FRACTION, 0, 0},
    {"class", "Class of vehicle", "heavy", "classes", EMB_DIM_FRACTION, 0, 0},
    {"displacement", "Engine displacement, if it differs from the class", "", NULL, EMB_DIM_VOLUME,
     1e-3, 0.03},
    {"soot", "Soot load, as a scan tool shows it", "60 %", NULL, EMB_DIM_FRACTION, 0, 3},
    {"ambient", "Temperature of the air", "10 degC", NULL, EMB_DIM_TEMPERATURE, 213.15, 333.15},
    {"wind", "Wind under the parked vehicle", "2 m/s", NULL, EMB_DIM_SPEED, 0, 40},
    {"idle", "Idle speed available for a parked regeneration", "1100 rpm", NULL, EMB_DIM_ROTATION,
     41.887902047863910, 209.43951023931954}, /* 400 to 2000 rpm */
};

const struct emb_fault emb_faults[] = {
    {"doser_delivery", "line.injector.fuel_doser.delivery", "50 %",
     "share of the commanded fuel that the injector delivers"},
    {"face_blocked", "line.doc.oxidation_catalyst.blocked", "40 %",
     "share of the first oxidation catalyst's face that is closed"},
    {"catalyst_activity", "line.doc.oxidation_catalyst.activity", "50 %",
     "active area left in the first oxidation catalyst"},
    {"reduction_activity", "line.scr.reduction_catalyst.activity", "50 %",
     "active area left in the reduction catalyst"},
    {"def_delivery", "line.def.def_doser.delivery", "50 %",
     "share of the commanded DEF that arrives"},
    {"leak", "line.leak.leak.share", "10 %", "exhaust that escapes ahead of the line"},
    {"sensor_offset", "line.t_filter_in.sensor.offset", "-20 K",
     "reading minus true of the sensor at the filter's inlet"},
    {"ash", "line.dpf.filter.ash", "20 g/L", "ash in the filter"},
    {"dead_cylinders", "engine.dead_cylinders", "1", "cylinders that do not fire"},
    {"boost_leak", "engine.boost_leak", "30 %", "share of the boost that is lost"},
};
const size_t emb_n_fault = sizeof emb_faults / sizeof *emb_faults;

static bool name_known(const char *shelf, const char *text, char msg[EMB_ANSWER_MSG])
{
    size_t n = 0, k = 0;
    char **names = emb_shelf_names(shelf, &n);
    bool known = false;
    for (size_t i = 0; i < n; i++) {
        known = known || strcmp(names[i], text) == 0;
    }
    if (!known) {
        k = (size_t)snprintf(msg, EMB_ANSWER_MSG, "got '%.40s'; use one of", text);
        for (size_t i = 0; i < n && k < EMB_ANSWER_MSG; i++) {
            k += (size_t)snprintf(msg + k, EMB_ANSWER_MSG - k, "%s %s", i > 0 ? "," : "", names[i]);
        }
        if (n == 0) {
            snprintf(msg, EMB_ANSWER_MSG,
                     "no configs/%s were found; set EMBERPIPE_CONFIGS to the folder of configs",
                     shelf);
        }
    }
    emb_shelf_free(names, n);
    return known;
}

/* Reads a quantity within limits. */
static bool quantity(const char *text, enum emb_dim dim, double min, double max, double *si,
                     char msg[EMB_ANSWER_MSG])
{
    char why[EMB_UNIT_MSG] = "out of memory";
    struct emb_units *u = emb_units_new();
    bool ok = u != NULL && emb_quantity_parse(u, text, dim, si, why) == 0;
    if (!ok) {
        snprintf(msg, EMB_ANSWER_MSG, "%s", why);
    } else if (*si < min || *si > max) {
        char a[48], b[48];
        const char *unit = dim == EMB_DIM_TEMPERATURE ? "degC"
                           : dim == EMB_DIM_FRACTION  ? "%"
                           : dim == EMB_DIM_ROTATION  ? "rpm"
                           : dim == EMB_DIM_VOLUME    ? "L"
                                                      : NULL;
        const bool bare = dim == EMB_DIM_FRACTION && strchr(text, '%') == NULL;
        snprintf(msg, EMB_ANSWER_MSG, "got '%.40s'; allowed is %s to %s%s%.20s%s", text,
                 emb_quantity_format(u, min, dim, unit, a, sizeof a),
                 emb_quantity_format(u, max, dim, unit, b, sizeof b),
                 bare ? "; in percent it is '" : "", bare ? text : "", bare ? " %'" : "");
        ok = false;
    }
    emb_units_free(u);
    return ok;
}

bool emb_quick_answer_ok(enum emb_answer which, const char *text, char msg[EMB_ANSWER_MSG])
{
    const struct emb_question *q = &emb_questions[which];
    double si = 0.0;
    if (text[0] == '\0' && q->def[0] == '\0') {
        return true;
    }
    return q->shelf != NULL ? name_known(q->shelf, text, msg)
                            : quantity(text, q->dim, q->min, q->max, &si, msg);
}

static const struct emb_fault *fault_find(const char *text, const char **value)
{
    const char *equals = strchr(text, '=');
    *value = equals != NULL ? equals + 1 + strspn(equals + 1, " ") : "";
    const size_t n = equals != NULL ? (size_t)(equals - text) : strlen(text);
    for (size_t i = 0; i < emb_n_fault; i++) {
        if (strlen(emb_faults[i].name) == n && strncmp(emb_faults[i].name, text, n) == 0) {
            return &emb_faults[i];
        }
    }
    return NULL;
}

bool emb_quick_fault_ok(const char *text, char msg[EMB_ANSWER_MSG])
{
    const char *value;
    const struct emb_fault *f = fault_find(text, &value);
    if (f != NULL && *value != '\0') {
        return true;
    }
    if (f != NULL) {
        snprintf(msg, EMB_ANSWER_MSG, "'%s' needs a value, for example %s=%s", f->name, f->name,
                 f->example);
        return false;
    }
    size_t k = (size_t)snprintf(msg, EMB_ANSWER_MSG, "no fault '%.40s'; known are", text);
    for (size_t i = 0; i < emb_n_fault && k < EMB_ANSWER_MSG; i++) {
        k += (size_t)snprintf(msg + k, EMB_ANSWER_MSG - k, "%s %s", i > 0 ? "," : "",
                              emb_faults[i].name);
    }
    return false;
}

const char *emb_quick_about(const char *shelf, const char *name, char *buf, size_t size)
{
    char file[600], *text = NULL;
    buf[0] = '\0';
    if (emb_shelf_find(shelf, name, file, sizeof file) &&
        emb_edit_read(file, &text, NULL) == EMB_OK && !emb_edit_get(text, "title", buf, size) &&
        text[0] == '#') { /* a class has no title, but a first line of comment */
        const char *p = text + strspn(text, "# ");
        snprintf(buf, size, "%.*s", (int)strcspn(p, "\n"), p);
    }
    free(text);
    return buf;
}

static const char *answer(const struct emb_quick *q, enum emb_answer which)
{
    return q->answer[which] != NULL ? q->answer[which] : emb_questions[which].def;
}

static enum emb_status shelf_read(const char *shelf, const char *name, char **text,
                                  struct emb_err *err)
{
    char file[600];
    if (!emb_shelf_find(shelf, name, file, sizeof file)) {
        return emb_fail(err, EMB_ERR_CONFIG, shelf, "'%.60s' was not found", name);
    }
    return emb_edit_read(file, text, err);
}

/* Number of a key of the engine, as given in the text or as the field table's default. */
static double engine_value(const char *text, const char *key, struct emb_units *u)
{
    char path[80], value[80], msg[EMB_UNIT_MSG];
    const struct emb_field *f = &emb_block_engine.field[emb_field_find(&emb_block_engine, key)];
    double si = NAN;
    snprintf(path, sizeof path, "engine.%s", key);
    const bool given = emb_edit_get(text, path, value, sizeof value);
    emb_quantity_parse(u, given ? value : f->def, f->dim, &si, msg);
    return si;
}

/* The class whose engine is nearest to the displacement [m3]. Frees with free. */
static char *class_nearest(double displacement, struct emb_units *u)
{
    size_t n = 0;
    char **names = emb_shelf_names("classes", &n), *found = NULL;
    double best = INFINITY;
    for (size_t i = 0; i < n; i++) {
        char *text = NULL;
        if (shelf_read("classes", names[i], &text, NULL) == EMB_OK &&
            emb_edit_expand(&text, NULL) == EMB_OK) {
            const double far = fabs(log(engine_value(text, "displacement", u) / displacement));
            if (far < best) {
                best = far;
                free(found);
                found = malloc(64);
                if (found != NULL) {
                    snprintf(found, 64, "%.60s", names[i]);
                }
            }
        }
        free(text);
    }
    emb_shelf_free(names, n);
    return found;
}

/* Torque, heat and accessories grow with the displacement; bricks and pipes stay those of the
 * class. */
static enum emb_status displacement_set(char **text, const char *wanted, struct emb_units *u,
                                        struct emb_err *err)
{
    static const struct {
        const char *key, *path, *unit;
    } grows[] = {{"peak_torque", "engine.peak_torque", "N m"},
                 {"thermal_mass", "engine.thermal_mass", "kJ/K"},
                 {"accessory", "engine.accessory", "kW"}};
    char msg[EMB_UNIT_MSG], value[80];
    double litres = 0.0;
    emb_quantity_parse(u, wanted, EMB_DIM_VOLUME, &litres, msg);
    const double ratio = litres / engine_value(*text, "displacement", u);
    enum emb_status st = emb_edit_set(text, "engine.displacement", wanted, err);
    for (size_t i = 0; st == EMB_OK && i < sizeof grows / sizeof *grows; i++) {
        const enum emb_dim dim =
            emb_block_engine.field[emb_field_find(&emb_block_engine, grows[i].key)].dim;
        const double v = engine_value(*text, grows[i].key, u) * ratio;
        double one = 1.0;
        char unit[24];
        snprintf(unit, sizeof unit, "1 %s", grows[i].unit);
        emb_quantity_parse(u, unit, dim, &one, msg);
        snprintf(value, sizeof value, "%.4g %s", v / one, grows[i].unit);
        st = emb_edit_set(text, grows[i].path, value, err);
    }
    return st;
}

static enum emb_status soot_set(char **text, const char *share, struct emb_units *u,
                                struct emb_err *err)
{
    char msg[EMB_UNIT_MSG], value[80];
    double s = 0.0, full = 6.0; /* [kg/m3] */
    emb_quantity_parse(u, share, EMB_DIM_FRACTION, &s, msg);
    if (emb_edit_get(*text, "line.dpf.filter.full_load", value, sizeof value)) {
        emb_quantity_parse(u, value, EMB_DIM_DENSITY, &full, msg);
    }
    snprintf(value, sizeof value, "%.4g g/L", s * full); /* kg/m3 is g/L */
    return emb_edit_set(text, "line.dpf.filter.soot", value, err);
}

static enum emb_status faults_set(char **text, const struct emb_quick *q, struct emb_err *err)
{
    enum emb_status st = EMB_OK;
    for (size_t i = 0; st == EMB_OK && i < q->n_fault; i++) {
        const char *value;
        char msg[EMB_ANSWER_MSG], element[80];
        if (!emb_quick_fault_ok(q->fault[i], msg)) {
            return emb_fail(err, EMB_ERR_USAGE, "--fault", "%.480s", msg);
        }
        const struct emb_fault *f = fault_find(q->fault[i], &value);
        snprintf(element, sizeof element, "%.*s", (int)(strrchr(f->path, '.') - f->path), f->path);
        st = emb_edit_has(*text, element)
                 ? emb_edit_set(text, f->path, value, err)
                 : emb_fail(err, EMB_ERR_USAGE, "--fault", "'%s': layout '%s' has no such part (%s)", f->name,
                            answer(q, EMB_ASK_LAYOUT), element);
    }
    return st;
}

static enum emb_status answers_set(char **text, const struct emb_quick *q, struct emb_units *u,
                                   struct emb_err *err)
{
    const char *idle = answer(q, EMB_ASK_IDLE), *litres = answer(q, EMB_ASK_DISPLACEMENT);
    enum emb_status st = EMB_OK;
    if (litres[0] != '\0') {
        st = displacement_set(text, litres, u, err);
    }
    st = st != EMB_OK ? st : soot_set(text, answer(q, EMB_ASK_SOOT), u, err);
    const struct {
        const char *path, *value;
    } plain[] = {{"ambient.temperature", answer(q, EMB_ASK_AMBIENT)},
                 {"ambient.wind", answer(q, EMB_ASK_WIND)},
                 {"duty.phases[0].speed", idle},
                 {"regeneration.levers.idle_speed", idle}};
    for (size_t i = 0; st == EMB_OK && i < sizeof plain / sizeof *plain; i++) {
        st = emb_edit_set(text, plain[i].path, plain[i].value, err);
    }
    return st != EMB_OK ? st : faults_set(text, q, err);
}

/* What was asked and answered, as the first lines of the file. */
static enum emb_status head_add(char **text, const struct emb_quick *q, const char *class,
                                struct emb_err *err)
{
    const size_t room = strlen(*text) + 4000;
    char *out = calloc(1, room);
    if (out == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    size_t k = (size_t)snprintf(out, room, "# Written by 'emberpipe quick' from these answers:\n");
    for (int i = 0; i < EMB_N_ASK; i++) {
        const char *a = i == EMB_ASK_CLASS ? class : answer(q, (enum emb_answer)i);
        if (a[0] != '\0') {
            k += (size_t)snprintf(out + k, room - k, "#   %s: %.100s\n", emb_questions[i].name, a);
        }
    }
    for (size_t i = 0; i < q->n_fault; i++) {
        k += (size_t)snprintf(out + k, room - k, "#   fault: %.100s\n", q->fault[i]);
    }
    snprintf(out + k, room - k,
             "# All other numbers are typical for the class, not measured on a vehicle. Correct "
             "what you know;\n"
             "# 'emberpipe explain KEY' says what a key means, 'emberpipe check FILE' finds slips, "
             "'emberpipe run FILE' answers.\n"
             "# Parked regeneration: the maker's procedure and local rules come first.\n%s",
             *text);
    free(*text);
    *text = out;
    return EMB_OK;
}

static enum emb_status answers_check(const struct emb_quick *q, struct emb_err *err)
{
    for (int i = 0; i < EMB_N_ASK; i++) {
        char msg[EMB_ANSWER_MSG], option[40];
        if (!emb_quick_answer_ok((enum emb_answer)i, answer(q, (enum emb_answer)i), msg)) {
            snprintf(option, sizeof option, "--%s", emb_questions[i].name);
            return emb_fail(err, EMB_ERR_USAGE, option, "%.500s", msg);
        }
    }
    return EMB_OK;
}

enum emb_status emb_quick_text(const struct emb_quick *q, char **text, struct emb_err *err)
{
    char *class = NULL, *own = NULL, msg[EMB_UNIT_MSG];
    const char *litres = answer(q, EMB_ASK_DISPLACEMENT), *name = answer(q, EMB_ASK_CLASS);
    enum emb_status st = answers_check(q, err);
    *text = NULL;
    if (st != EMB_OK) {
        return st;
    }
    struct emb_units *u = emb_units_new();
    if (u == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    double volume = 0.0;
    if (q->answer[EMB_ASK_CLASS] == NULL && litres[0] != '\0' &&
        emb_quantity_parse(u, litres, EMB_DIM_VOLUME, &volume, msg) == 0 &&
        (own = class_nearest(volume, u)) != NULL) {
        name = own;
    }
    st = shelf_read("layouts", answer(q, EMB_ASK_LAYOUT), text, err);
    st = st != EMB_OK ? st : shelf_read("classes", name, &class, err);
    st = st != EMB_OK ? st : emb_edit_merge(text, class, err);
    st = st != EMB_OK ? st : emb_edit_expand(text, err);
    st = st != EMB_OK ? st : answers_set(text, q, u, err);
    st = st != EMB_OK ? st : head_add(text, q, name, err);
    if (st != EMB_OK) {
        free(*text);
        *text = NULL;
    }
    free(class);
    free(own);
    emb_units_free(u);
    return st;
}
