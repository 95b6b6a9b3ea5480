/* log_names.c - what the name of a column stands for: the mapping file first, then our own names,
 * then the signal names of open standards. */
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "emberpipe/component.h"
#include "log.h"

static const struct emb_log_kind kinds[EMB_N_LOG_ROLE] = {
    [EMB_LOG_UNUSED] = {"unused", EMB_DIM_FRACTION, "-", 0, 0, false},
    [EMB_LOG_TIME] = {"time", EMB_DIM_TIME, "s", 0, 1e9, true},
    /* up to 2 kg/s: twice the exhaust of a 16 L engine at rated power, judgement */
    [EMB_LOG_FLOW] = {"flow", EMB_DIM_MASS_FLOW, "kg/s", 0, 2, true},
    [EMB_LOG_AIR] = {"air_flow", EMB_DIM_MASS_FLOW, "kg/s", 0, 2, true},
    [EMB_LOG_FUEL] = {"fuel", EMB_DIM_MASS_FLOW, "kg/s", 0, 0.1, true},
    [EMB_LOG_SPEED] = {"speed", EMB_DIM_ROTATION, "rad/s", 0, 630, true},
    [EMB_LOG_INLET] = {"inlet_temperature", EMB_DIM_TEMPERATURE, "K", 220, 1250, true},
    [EMB_LOG_AMBIENT] = {"ambient_temperature", EMB_DIM_TEMPERATURE, "K", 210, 340, false},
    [EMB_LOG_DOSE] = {"dose", EMB_DIM_MASS_FLOW, "kg/s", 0, 0.1, true},
    [EMB_LOG_READING] = {"reading", EMB_DIM_TEMPERATURE, "K", 210, 1400, false},
};

const struct emb_log_kind *emb_log_kind(enum emb_log_role role)
{
    return &kinds[role];
}

/* A place in the line for a sensor of the standards. */
enum place { NOWHERE, AHEAD, BEHIND };
struct signal {
    const char *name;
    enum emb_log_role role;
    enum place place;
    enum emb_kind kind;      /* of the brick */
    const char *observation; /* NULL: gas temperature */
};
static const struct signal signals[] = {
    /* ours, also as `emberpipe run --format csv` writes them */
    {"time", EMB_LOG_TIME, NOWHERE, 0, NULL},
    {"t", EMB_LOG_TIME, NOWHERE, 0, NULL},
    {"flow", EMB_LOG_FLOW, NOWHERE, 0, NULL},
    {"exhaust.flow", EMB_LOG_FLOW, NOWHERE, 0, NULL},
    {"air_flow", EMB_LOG_AIR, NOWHERE, 0, NULL},
    {"fuel", EMB_LOG_FUEL, NOWHERE, 0, NULL},
    {"engine.fuel", EMB_LOG_FUEL, NOWHERE, 0, NULL},
    {"speed", EMB_LOG_SPEED, NOWHERE, 0, NULL},
    {"engine.speed", EMB_LOG_SPEED, NOWHERE, 0, NULL},
    {"temperature", EMB_LOG_INLET, NOWHERE, 0, NULL},
    {"inlet_temperature", EMB_LOG_INLET, NOWHERE, 0, NULL},
    {"exhaust.temperature", EMB_LOG_INLET, NOWHERE, 0, NULL},
    {"ambient_temperature", EMB_LOG_AMBIENT, NOWHERE, 0, NULL},
    {"dose", EMB_LOG_DOSE, NOWHERE, 0, NULL},
    {"dosing.fuel", EMB_LOG_DOSE, NOWHERE, 0, NULL},
    /* SAE J1939-71 signal names, all from memory; SPN behind each */
    {"Aftertreatment 1 Exhaust Gas Mass Flow Rate", EMB_LOG_FLOW, NOWHERE, 0, NULL},    /* 3236 */
    {"Engine Intake Air Mass Flow Rate", EMB_LOG_AIR, NOWHERE, 0, NULL},                /* 132 */
    {"Engine Fuel Rate", EMB_LOG_FUEL, NOWHERE, 0, NULL},                               /* 183 */
    {"Engine Speed", EMB_LOG_SPEED, NOWHERE, 0, NULL},                                  /* 190 */
    {"Engine Exhaust Gas Temperature", EMB_LOG_INLET, NOWHERE, 0, NULL},                /* 173 */
    {"Ambient Air Temperature", EMB_LOG_AMBIENT, NOWHERE, 0, NULL},                     /* 171 */
    {"Aftertreatment 1 Fuel Rate", EMB_LOG_DOSE, NOWHERE, 0, NULL},                     /* 3481 */
    {"Aftertreatment 1 Diesel Oxidation Catalyst Intake Gas Temperature", EMB_LOG_READING, AHEAD,
     EMB_OXICAT, NULL}, /* 4765 */
    {"Aftertreatment 1 Diesel Oxidation Catalyst Outlet Gas Temperature", EMB_LOG_READING, BEHIND,
     EMB_OXICAT, NULL}, /* 4766 */
    {"Aftertreatment 1 Diesel Particulate Filter Intake Gas Temperature", EMB_LOG_READING, AHEAD,
     EMB_FILTER, NULL}, /* 3242 */
    {"Aftertreatment 1 Diesel Particulate Filter Outlet Gas Temperature", EMB_LOG_READING, BEHIND,
     EMB_FILTER, NULL}, /* 3246 */
    {"Aftertreatment 1 Diesel Particulate Filter Differential Pressure", EMB_LOG_READING, BEHIND,
     EMB_FILTER, "pressure_drop"}, /* 3251 */
    {"Aftertreatment 1 SCR Intake Gas Temperature", EMB_LOG_READING, AHEAD, EMB_REDCAT,
     NULL}, /* 4360 */
    {"Aftertreatment 1 SCR Outlet Gas Temperature", EMB_LOG_READING, BEHIND, EMB_REDCAT,
     NULL}, /* 4363 */
    /* SAE J1979 descriptions, all from memory; PID behind each */
    {"Engine RPM", EMB_LOG_SPEED, NOWHERE, 0, NULL},                                    /* 0C */
    {"Air Flow Rate from Mass Air Flow Sensor", EMB_LOG_AIR, NOWHERE, 0, NULL},         /* 10 */
    {"Mass Air Flow", EMB_LOG_AIR, NOWHERE, 0, NULL},                                   /* 10 */
};

static int find_kind(const struct emb_case *c, enum emb_kind kind)
{
    for (size_t i = 0; i < c->n_line; i++) {
        if (c->line[i].kind == kind) {
            return (int)i;
        }
    }
    return -1;
}

static bool no_length(enum emb_kind k)
{
    return k == EMB_DOSER || k == EMB_DEF || k == EMB_SENSOR || k == EMB_LEAK;
}

/* The sensor element beside the brick if there is one, else the gas there. */
static void place_find(const struct emb_case *c, int brick, enum place place, char *reads)
{
    const int step = place == AHEAD ? -1 : 1, n = (int)c->n_line;
    for (int i = brick + step; i >= 0 && i < n && no_length(c->line[i].kind); i += step) {
        if (c->line[i].kind == EMB_SENSOR) {
            snprintf(reads, EMB_LOG_NAME, "%s.reading", c->line[i].name);
            return;
        }
    }
    const int gas = place == AHEAD ? brick - 1 : brick;
    snprintf(reads, EMB_LOG_NAME, "%s%s", gas < 0 ? "exhaust" : c->line[gas].name,
             gas < 0 ? ".temperature" : ".gas_temperature");
}

/* "element" or "element.observation" as a column of the result; NULL if there is none. */
static const char *line_find(const struct emb_case *c, const char *word, char *reads)
{
    const char *dot = strchr(word, '.');
    char element[EMB_LOG_NAME];
    snprintf(element, sizeof element, "%.*s", dot != NULL ? (int)(dot - word) : 90, word);
    const int i = emb_case_find(c, element);
    if (i < 0) {
        return NULL;
    }
    const struct emb_component_type *t = emb_component_get(c->line[i].kind);
    const bool probe = c->line[i].kind == EMB_SENSOR;
    const char *want = dot != NULL ? dot + 1 : probe ? "reading" : "gas_temperature";
    snprintf(reads, EMB_LOG_NAME, "%.46s.%.46s", element, want);
    for (size_t k = 0; k < t->n_observation; k++) {
        if (strcmp(t->observation[k].name, want) == 0) {
            return t->observation[k].unit;
        }
    }
    return strcmp(want, "gas_temperature") == 0 ? "K" : NULL;
}

/* A column that the model computes but no vehicle measures is no reading, unless a mapping says so:
 * the program's own tables would otherwise be compared with themselves. */
static bool measurable(const char *reads)
{
    static const char *const ends[] = {".reading", ".gas_temperature", ".pressure_drop"};
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        const size_t n = strlen(reads), k = strlen(ends[i]);
        if (n >= k && strcmp(reads + n - k, ends[i]) == 0) {
            return true;
        }
    }
    return false;
}

static bool bind_line(const struct emb_case *c, const char *word, struct emb_log_column *out)
{
    const char *unit = line_find(c, word, out->reads);
    if (unit == NULL) {
        out->reads[0] = '\0';
        return false;
    }
    out->role = EMB_LOG_READING;
    snprintf(out->unit, sizeof out->unit, "%s", unit);
    return true;
}

static bool bind_role(const char *word, struct emb_log_column *out)
{
    for (int k = EMB_LOG_UNUSED; k < EMB_LOG_READING; k++) {
        if (strcmp(kinds[k].word, word) == 0) {
            out->role = (enum emb_log_role)k;
            snprintf(out->unit, sizeof out->unit, "%s", kinds[k].unit);
            return true;
        }
    }
    return false;
}

static void bind_signal(const struct emb_case *c, const char *name, struct emb_log_column *out)
{
    for (size_t i = 0; i < sizeof signals / sizeof *signals; i++) {
        const struct signal *s = &signals[i];
        if (strcasecmp(s->name, name) != 0) {
            continue;
        }
        const int brick = s->place == NOWHERE ? -1 : find_kind(c, s->kind);
        if (s->place == NOWHERE) {
            bind_role(kinds[s->role].word, out);
        } else if (brick >= 0 && s->observation != NULL) {
            char word[EMB_LOG_NAME];
            snprintf(word, sizeof word, "%.46s.%s", c->line[brick].name, s->observation);
            bind_line(c, word, out);
        } else if (brick >= 0) {
            place_find(c, brick, s->place, out->reads);
            out->role = EMB_LOG_READING;
            snprintf(out->unit, sizeof out->unit, "K");
        }
        return;
    }
}

int emb_log_bind(const struct emb_case *c, const struct emb_log_map *map, const char *name,
                 struct emb_log_column *out, const char **unit, struct emb_err *err)
{
    *out = (struct emb_log_column){.role = EMB_LOG_UNUSED};
    *unit = NULL;
    snprintf(out->name, sizeof out->name, "%s", name);
    for (size_t i = 0; i < map->n_entry; i++) {
        const struct emb_log_entry *e = &map->entry[i];
        if (strcasecmp(e->column, name) == 0) {
            *unit = e->unit;
            if (!bind_role(e->is, out) && !bind_line(c, e->is, out)) {
                emb_fail(err, EMB_ERR_CONFIG, e->column,
                         "'%.60s' is neither a signal (time, flow, air_flow, fuel, speed, "
                         "inlet_temperature, ambient_temperature, dose, unused) nor an element of "
                         "the line or one of its readings",
                         e->is);
                return -1;
            }
            return 0;
        }
    }
    if (!bind_line(c, name, out) || !measurable(out->reads)) {
        *out = (struct emb_log_column){.role = EMB_LOG_UNUSED};
        snprintf(out->name, sizeof out->name, "%s", name);
        bind_signal(c, name, out);
    }
    return 0;
}
