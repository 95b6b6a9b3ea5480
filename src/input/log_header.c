/* log_header.c - the first line of a log: what separates its cells, and what each column is. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "log.h"

/* Cuts at the delimiter in place; quotes around a cell and blanks are dropped. A delimiter inside
 * quotes belongs to the cell. */
size_t emb_log_cells(char *line, char delimiter, char **cell)
{
    size_t n = 0;
    for (char *p = line; p != NULL && n < EMB_LOG_CELLS;) {
        p += strspn(p, delimiter == '\t' ? " " : " \t");
        char *end = *p == '"' ? strchr(p + 1, '"') : NULL;
        p += end != NULL;
        char *cut = strchr(end != NULL ? end : p, delimiter);
        if (cut != NULL) {
            *cut = '\0';
        }
        if (end != NULL) {
            *end = '\0';
        }
        size_t len = strlen(p);
        while (len > 0 && (p[len - 1] == ' ' || p[len - 1] == '\t')) {
            p[--len] = '\0';
        }
        cell[n++] = p;
        p = cut != NULL ? cut + 1 : NULL;
    }
    return n;
}

char emb_log_delimiter(const char *line)
{
    size_t semicolons = 0, tabs = 0;
    int depth = 0;
    for (const char *p = line; *p != '\0'; p++) {
        depth += (*p == '[') - (*p == ']');
        semicolons += depth == 0 && *p == ';';
        tabs += *p == '\t';
    }
    return (char)(semicolons > 0 ? ';' : tabs > 0 ? '\t' : ',');
}

/* "name [unit]" in two; a name with "(unit)" behind it also counts. */
static void header_cut(const char *cell, char name[EMB_LOG_NAME], char unit[32])
{
    const size_t n = strlen(cell);
    const char *open = strrchr(cell, '[');
    if (open == NULL && n > 0 && cell[n - 1] == ')') {
        open = strrchr(cell, '(');
    }
    size_t len = open != NULL ? (size_t)(open - cell) : n;
    while (len > 0 && cell[len - 1] == ' ') {
        len--;
    }
    snprintf(name, EMB_LOG_NAME, "%.*s", (int)(len < 90 ? len : 90), cell);
    const char *from = open != NULL ? open + 1 + strspn(open + 1, " ") : "";
    size_t u = strcspn(from, "])");
    while (u > 0 && from[u - 1] == ' ') {
        u--;
    }
    snprintf(unit, 32, "%.*s", (int)(u < 31 ? u : 31), from);
}

enum emb_dim emb_log_dim(const struct emb_log_column *c)
{
    static const struct {
        const char *unit;
        enum emb_dim dim;
    } dims[] = {{"K", EMB_DIM_TEMPERATURE}, {"Pa", EMB_DIM_PRESSURE},  {"kg/s", EMB_DIM_MASS_FLOW},
                {"kg/m3", EMB_DIM_DENSITY}, {"kg", EMB_DIM_MASS}};
    for (size_t i = 0; c->role == EMB_LOG_READING && i < sizeof dims / sizeof *dims; i++) {
        if (strcmp(dims[i].unit, c->unit) == 0) {
            return dims[i].dim;
        }
    }
    return c->role == EMB_LOG_READING ? EMB_DIM_FRACTION : emb_log_kind(c->role)->dim;
}

/* Spellings that loggers use and the unit library does not know; capitals do not matter. Fuel by
 * volume at 0.835 kg/L, the middle of EN 590's 0.820 .. 0.845 at 15 degC (from memory); gallons of
 * 3.785411784 L (US, NIST SP 811). */
struct spelling {
    const char *text, *unit;
    enum emb_dim dim;
    double factor;
};
static const struct spelling spellings[] = {
    {"\xC2\xB0" "C", "degC", EMB_DIM_TEMPERATURE, 1},
    {"\xC2\xBA" "C", "degC", EMB_DIM_TEMPERATURE, 1}, /* the ordinal sign of some keyboards */
    {"\xE2\x84\x83", "degC", EMB_DIM_TEMPERATURE, 1},
    {"\xB0" "C", "degC", EMB_DIM_TEMPERATURE, 1}, /* Latin-1 */
    {"C", "degC", EMB_DIM_TEMPERATURE, 1},
    {"degC", "degC", EMB_DIM_TEMPERATURE, 1},
    {"deg C", "degC", EMB_DIM_TEMPERATURE, 1},
    {"degrees C", "degC", EMB_DIM_TEMPERATURE, 1},
    {"Celsius", "degC", EMB_DIM_TEMPERATURE, 1},
    {"\xC2\xB0" "F", "degF", EMB_DIM_TEMPERATURE, 1},
    {"\xC2\xBA" "F", "degF", EMB_DIM_TEMPERATURE, 1},
    {"\xE2\x84\x89", "degF", EMB_DIM_TEMPERATURE, 1},
    {"\xB0" "F", "degF", EMB_DIM_TEMPERATURE, 1},
    {"F", "degF", EMB_DIM_TEMPERATURE, 1},
    {"degF", "degF", EMB_DIM_TEMPERATURE, 1},
    {"deg F", "degF", EMB_DIM_TEMPERATURE, 1},
    {"degrees F", "degF", EMB_DIM_TEMPERATURE, 1},
    {"Fahrenheit", "degF", EMB_DIM_TEMPERATURE, 1},
    {"rpm", "rpm", EMB_DIM_ROTATION, 1},
    {"1/min", "rpm", EMB_DIM_ROTATION, 1},
    {"r/min", "rpm", EMB_DIM_ROTATION, 1},
    {"U/min", "rpm", EMB_DIM_ROTATION, 1},
    {"s", "s", EMB_DIM_TIME, 1},
    {"sec", "s", EMB_DIM_TIME, 1},
    {"seconds", "s", EMB_DIM_TIME, 1},
    {"ms", "ms", EMB_DIM_TIME, 1},
    {"min", "min", EMB_DIM_TIME, 1},
    {"kg/h", "kg/h", EMB_DIM_MASS_FLOW, 1},
    {"kg/hr", "kg/h", EMB_DIM_MASS_FLOW, 1},
    {"g/s", "g/s", EMB_DIM_MASS_FLOW, 1},
    {"g/sec", "g/s", EMB_DIM_MASS_FLOW, 1},
    {"lbs/hr", "lb/h", EMB_DIM_MASS_FLOW, 1},
    {"lbs/h", "lb/h", EMB_DIM_MASS_FLOW, 1},
    {"lb/hr", "lb/h", EMB_DIM_MASS_FLOW, 1},
    {"lbs/min", "lb/min", EMB_DIM_MASS_FLOW, 1},
    {"kPa", "kPa", EMB_DIM_PRESSURE, 1},
    {"psi", "psi", EMB_DIM_PRESSURE, 1},
    {"L/h", "kg/h", EMB_DIM_MASS_FLOW, 0.835},
    {"L/hr", "kg/h", EMB_DIM_MASS_FLOW, 0.835},
    {"gal/h", "kg/h", EMB_DIM_MASS_FLOW, 0.835 * 3.785411784}, /* NIST SP 811 */
    {"gal/hr", "kg/h", EMB_DIM_MASS_FLOW, 0.835 * 3.785411784}, /* NIST SP 811 */
    {"gph", "kg/h", EMB_DIM_MASS_FLOW, 0.835 * 3.785411784}, /* NIST SP 811 */
};

/* The line through two converted points, so that each cell costs one multiplication. */
static enum emb_status scale_find(struct emb_log_reader *r, size_t k, const char *given)
{
    const struct emb_log_column *c = &r->log->column[k];
    const enum emb_dim dim = emb_log_dim(c);
    char msg[EMB_UNIT_MSG], text[48];
    const char *unit = given;
    double factor = 1.0, zero = 0.0, one = 0.0;
    for (size_t i = 0; i < sizeof spellings / sizeof *spellings; i++) {
        if (spellings[i].dim == dim && strcasecmp(spellings[i].text, given) == 0) {
            unit = spellings[i].unit;
            factor = spellings[i].factor;
        }
    }
    unit = dim == EMB_DIM_FRACTION && strcmp(unit, "-") == 0 ? "" : unit;
    if (*unit == '\0' && dim != EMB_DIM_FRACTION) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file,
                        "line %zu, column %zu ('%s') has no unit; write it into the header as "
                        "'%s [unit]', or into a mapping file; accepted: %s",
                        r->number, c->at + 1, c->name, c->name, emb_dim_units(dim));
    }
    snprintf(text, sizeof text, "0%s%.30s", *unit != '\0' ? " " : "", unit);
    bool ok = emb_quantity_parse(r->units, text, dim, &zero, msg) == 0;
    text[0] = '1';
    ok = ok && emb_quantity_parse(r->units, text, dim, &one, msg) == 0;
    if (!ok) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file,
                        "line %zu, column %zu ('%s'): %s; write the unit into the header as "
                        "'%s [unit]' or into a mapping file",
                        r->number, c->at + 1, c->name, msg, c->name);
    }
    r->slope[k] = factor * (one - zero);
    r->origin[k] = factor * zero;
    if (factor != 1.0) {
        emb_log_note(r->log, "'%s' is a volume flow: taken as fuel of 0.835 kg/L%s", c->name,
                     factor > 1.0 ? ", gallons as 3.785 L (US)" : "");
    }
    return EMB_OK;
}

static void range_find(struct emb_log_reader *r, size_t k)
{
    const struct emb_log_column *c = &r->log->column[k];
    const struct emb_log_kind *kind = emb_log_kind(c->role);
    const bool temperature = emb_log_dim(c) == EMB_DIM_TEMPERATURE;
    r->lo[k] = temperature || c->role != EMB_LOG_READING ? kind->lo : -INFINITY;
    r->hi[k] = temperature || c->role != EMB_LOG_READING ? kind->hi : INFINITY;
    if (emb_log_dim(c) == EMB_DIM_FRACTION) {
        r->hi[k] = 5.0; /* a share of 1; 100 stands for a forgotten percent sign */
    } else if (emb_log_dim(c) == EMB_DIM_PRESSURE) {
        r->lo[k] = -2e4;
        r->hi[k] = 2e5; /* differential pressures of a line that is not burst: judgement */
    }
}

static enum emb_status column_add(struct emb_log_reader *r, const char *cell, size_t at,
                                  char *unused, size_t room)
{
    struct emb_log *l = r->log;
    struct emb_log_column c;
    char name[EMB_LOG_NAME], unit[32];
    const char *given = NULL;
    header_cut(cell, name, unit);
    if (emb_log_bind(r->c, r->map, name, &c, &given, r->err) != 0) {
        return EMB_ERR_CONFIG;
    }
    given = given != NULL ? given : unit;
    c.at = at;
    if (c.role == EMB_LOG_UNUSED) {
        const size_t used = strlen(unused);
        snprintf(unused + used, room - used, "%s%s", used > 0 ? ", " : "", name);
        return EMB_OK;
    }
    for (size_t k = 0; k < l->n_column; k++) {
        const struct emb_log_column *o = &l->column[k];
        if (o->role == c.role && strcmp(o->reads, c.reads) == 0) {
            return emb_fail(r->err, EMB_ERR_CONFIG, r->file,
                            "line %zu: columns %zu ('%s') and %zu ('%s') stand for the same "
                            "signal; %s",
                            r->number, o->at + 1, o->name, at + 1, name,
                            strcasecmp(o->name, name) == 0
                                ? "take one out of the file"
                                : "mark one as unused in a mapping file");
        }
    }
    if (l->n_column == EMB_LOG_MAX_COLUMNS) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file, "more than %d columns are used",
                        (int)EMB_LOG_MAX_COLUMNS);
    }
    l->column[l->n_column] = c;
    range_find(r, l->n_column);
    if (c.role == EMB_LOG_TIME) {
        r->time_at = at;
        r->time_column = l->n_column;
        const bool clock = *given == '\0' || strchr(given, ':') != NULL;
        l->n_column++;
        return clock ? EMB_OK : scale_find(r, l->n_column - 1, given);
    }
    return scale_find(r, l->n_column++, given);
}

static enum emb_status header_complete(struct emb_log_reader *r, const char *unused)
{
    size_t readings = 0;
    for (size_t k = 0; k < r->log->n_column; k++) {
        readings += r->log->column[k].role == EMB_LOG_READING;
    }
    if (emb_log_find(r->log, EMB_LOG_TIME) == NULL) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file,
                        "line %zu: no column is the time; the line with the columns' names must "
                        "come first, and one be 'time [s]' or in a mapping file%s%.200s",
                        r->number, *unused != '\0' ? "; not known: " : "", unused);
    }
    if (readings == 0) {
        return emb_fail(r->err, EMB_ERR_CONFIG, r->file,
                        "line %zu: no column is a sensor of the line; name columns after its "
                        "elements or in a mapping file%s%.200s",
                        r->number, *unused != '\0' ? "; not known: " : "", unused);
    }
    if (*unused != '\0') {
        emb_log_note(r->log, "columns not used: %.200s", unused);
    }
    return EMB_OK;
}

enum emb_status emb_log_header(struct emb_log_reader *r, char *line)
{
    char *cell[EMB_LOG_CELLS], unused[400] = "";
    enum emb_status st = EMB_OK;
    r->delimiter = emb_log_delimiter(line);
    r->decimal = (char)(r->delimiter == ',' ? '.' : 0);
    r->n_header = emb_log_cells(line, r->delimiter, cell);
    for (size_t i = 0; i < r->n_header && st == EMB_OK; i++) {
        if (cell[i][0] != '\0') {
            st = column_add(r, cell[i], i, unused, sizeof unused);
        }
    }
    return st == EMB_OK ? header_complete(r, unused) : st;
}
