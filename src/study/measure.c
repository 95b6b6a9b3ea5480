/* measure.c - numbers of a result by name. One table of what can be asked of each group. */
#include "emberpipe/measure.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/field.h"
#include "emberpipe/run.h"

enum how {
    REACHED,
    TIME,
    BEST,
    BEST_TIME,
    LONGEST,
    PEAK,
    LEAST,
    END,
    MEAN,
    INTEGRAL,
    PEAK_TIME,
    VALUE
};
struct row {
    enum emb_measure_group group;
    enum how how;
    const char *word, *meaning;
};
static const struct row rows[] = {
    {EMB_MEASURE_TARGET, REACHED, "reached", "reached (1) or not (0)"},
    {EMB_MEASURE_TARGET, TIME, "time", "time until reached"},
    {EMB_MEASURE_TARGET, BEST, "best", "closest value seen"},
    {EMB_MEASURE_TARGET, BEST_TIME, "best_time", "time of the closest value"},
    {EMB_MEASURE_TARGET, LONGEST, "longest", "longest unbroken time on the right side"},
    {EMB_MEASURE_SERIES, PEAK, "peak", "largest value"},
    {EMB_MEASURE_SERIES, LEAST, "min", "smallest value"},
    {EMB_MEASURE_SERIES, END, "end", "value at the end"},
    {EMB_MEASURE_SERIES, MEAN, "mean", "mean over time"},
    {EMB_MEASURE_SERIES, INTEGRAL, "integral", "integral over time"},
    {EMB_MEASURE_SERIES, PEAK_TIME, "peak_time", "time of the largest value"},
    {EMB_MEASURE_TOTAL, VALUE, "", "total"},
    {EMB_MEASURE_BOOK, VALUE, "", "relative residual of the book"},
    {EMB_MEASURE_RUN, TIME, "time", "simulated time"},
};
enum { N_ROW = sizeof rows / sizeof *rows };
static const char *const prefixes[] = {[EMB_MEASURE_TARGET] = "target.",
                                       [EMB_MEASURE_SERIES] = "",
                                       [EMB_MEASURE_TOTAL] = "total.",
                                       [EMB_MEASURE_BOOK] = "book.",
                                       [EMB_MEASURE_RUN] = "run."};

static const struct row *row_find(enum emb_measure_group group, const char *word)
{
    for (size_t i = 0; i < N_ROW; i++) {
        if (rows[i].group == group &&
            (rows[i].word[0] == '\0' || strcmp(rows[i].word, word) == 0)) {
            return &rows[i];
        }
    }
    return NULL;
}

static const struct row *row_of(const struct emb_measure *m)
{
    for (size_t i = 0; i < N_ROW; i++) {
        if (rows[i].group == m->group && (int)rows[i].how == m->how) {
            return &rows[i];
        }
    }
    return &rows[0];
}

static enum emb_status unknown_word(const char *text, enum emb_measure_group group,
                                    const char *word, struct emb_err *err)
{
    char all[200] = "";
    size_t used = 0;
    for (size_t i = 0; i < N_ROW && used < sizeof all; i++) {
        if (rows[i].group == group) {
            used += (size_t)snprintf(all + used, sizeof all - used, "%s.%s", used > 0 ? ", " : "",
                                     rows[i].word);
        }
    }
    return emb_fail(err, EMB_ERR_CONFIG, text, "ends in '%.40s'; must end in one of %s", word, all);
}

enum emb_status emb_measure_parse(const char *text, struct emb_measure *out, struct emb_err *err)
{
    *out = (struct emb_measure){.group = EMB_MEASURE_SERIES};
    for (int g = EMB_MEASURE_TARGET; g <= EMB_MEASURE_RUN; g++) {
        if (prefixes[g][0] != '\0' && strncmp(text, prefixes[g], strlen(prefixes[g])) == 0) {
            out->group = (enum emb_measure_group)g;
        }
    }
    const char *name = text + strlen(prefixes[out->group]), *dot = strrchr(name, '.');
    const bool whole = out->group == EMB_MEASURE_TOTAL || out->group == EMB_MEASURE_BOOK;
    const char *word = whole                           ? ""
                       : out->group == EMB_MEASURE_RUN ? name
                       : dot != NULL                   ? dot + 1
                                                       : "";
    const size_t n = whole ? strlen(name) : (size_t)(word - name) - (word > name ? 1 : 0);
    const struct row *row = row_find(out->group, word);
    if (row == NULL) {
        return unknown_word(text, out->group, word, err);
    }
    if (strlen(text) >= sizeof out->text || n >= sizeof out->name ||
        (n == 0 && out->group != EMB_MEASURE_RUN)) {
        return emb_fail(err, EMB_ERR_CONFIG, text,
                        "is no measure: write for example "
                        "target.NAME.time, doc.mean_temperature.peak or total.dosed_fuel");
    }
    out->how = (int)row->how;
    snprintf(out->text, sizeof out->text, "%s", text);
    snprintf(out->name, sizeof out->name, "%.*s", (int)n, name);
    return EMB_OK;
}

/* Names of a group in a result: the i-th, NULL at the end. */
static const char *name_at(const struct emb_result *r, enum emb_measure_group group, size_t i)
{
    switch (group) {
    case EMB_MEASURE_TARGET:
        return i < r->n_verdict ? r->verdict[i].name : NULL;
    case EMB_MEASURE_SERIES: /* column 0 is the time */
        return i + 1 < r->n_column ? r->column[i + 1].name : NULL;
    case EMB_MEASURE_TOTAL:
        return i < r->n_total ? r->total[i].name : NULL;
    case EMB_MEASURE_BOOK:
        return i < r->n_book ? r->book[i].name : NULL;
    case EMB_MEASURE_RUN:
        return i == 0 ? "" : NULL;
    }
    return NULL;
}

static bool name_find(const struct emb_measure *m, const struct emb_result *r, size_t *i)
{
    const char *name;
    for (*i = 0; (name = name_at(r, m->group, *i)) != NULL; (*i)++) {
        if (strcmp(name, m->name) == 0) {
            return true;
        }
    }
    return false;
}

enum emb_status emb_measure_check(const struct emb_measure *m, const struct emb_result *r,
                                  struct emb_err *err)
{
    const char *names[256], *name;
    char near[200];
    size_t i = 0, n = 0;
    if (name_find(m, r, &i)) {
        return EMB_OK;
    }
    for (; n < 256 && (name = name_at(r, m->group, n)) != NULL; n++) {
        names[n] = name;
    }
    emb_suggest(m->name, names, n, near, sizeof near);
    for (size_t k = 0, used = 0; near[0] == '\0' && k < n && used + 1 < sizeof near; k++) {
        const int w = snprintf(near + used, sizeof near - used, "%s%s",
                               k == 0 ? "; there are " : ", ", names[k]);
        used += w > 0 ? (size_t)w : 0;
    }
    return emb_fail(err, EMB_ERR_CONFIG, m->text, "no %s '%.80s'%s",
                    m->group == EMB_MEASURE_TARGET  ? "target"
                    : m->group == EMB_MEASURE_TOTAL ? "total"
                    : m->group == EMB_MEASURE_BOOK  ? "book"
                                                    : "series",
                    m->name, near);
}

static double target_value(const struct emb_verdict *v, enum how how)
{
    switch (how) {
    case REACHED:
        return v->reached ? 1.0 : 0.0;
    case TIME:
        return v->reached ? v->t_reached : NAN;
    case BEST:
        return isfinite(v->best) ? v->best : NAN;
    case BEST_TIME:
        return isfinite(v->best) ? v->t_best : NAN;
    default:
        return v->longest;
    }
}

/* Over the recorded rows; the integral by the trapezoidal rule. */
static double series_value(const struct emb_result *r, size_t column, enum how how)
{
    const double *row = r->row;
    double peak = -INFINITY, least = INFINITY, t_peak = NAN, sum = 0.0;
    for (size_t i = 0; i < r->n_row; i++) {
        const double v = row[i * r->n_column + column], t = row[i * r->n_column];
        t_peak = v > peak ? t : t_peak;
        peak = fmax(peak, v);
        least = fmin(least, v);
        if (i > 0) {
            const double *before = row + (i - 1) * r->n_column;
            sum += 0.5 * (v + before[column]) * (t - before[0]);
        }
    }
    if (r->n_row == 0) {
        return NAN;
    }
    const double *last = row + (r->n_row - 1) * r->n_column;
    switch (how) {
    case PEAK:
        return peak;
    case LEAST:
        return least;
    case PEAK_TIME:
        return t_peak;
    case INTEGRAL:
        return sum;
    case MEAN:
        return last[0] > row[0] ? sum / (last[0] - row[0]) : last[column];
    default:
        return last[column];
    }
}

double emb_measure_value(const struct emb_measure *m, const struct emb_result *r)
{
    size_t i = 0;
    if (!name_find(m, r, &i)) {
        return NAN;
    }
    switch (m->group) {
    case EMB_MEASURE_TARGET:
        return target_value(&r->verdict[i], (enum how)m->how);
    case EMB_MEASURE_SERIES:
        return series_value(r, i + 1, (enum how)m->how);
    case EMB_MEASURE_TOTAL:
        return r->total[i].value;
    case EMB_MEASURE_BOOK:
        return r->book[i].relative;
    case EMB_MEASURE_RUN:
        return r->n_column > 0 ? r->t_end : NAN;
    }
    return NAN;
}

bool emb_measure_is_smooth(const struct emb_measure *m)
{
    const enum how how = (enum how)m->how;
    return how != REACHED && how != BEST_TIME && how != PEAK_TIME && m->group != EMB_MEASURE_BOOK;
}

static void integral_unit(const char *unit, char *buf, size_t size)
{
    const size_t n = strlen(unit);
    if (n > 2 && strcmp(unit + n - 2, "/s") == 0) {
        snprintf(buf, size, "%.*s", (int)(n - 2), unit);
    } else if (strcmp(unit, "-") == 0) {
        snprintf(buf, size, "s");
    } else {
        snprintf(buf, size, "%s s", unit);
    }
}

const char *emb_measure_unit(const struct emb_measure *m, const struct emb_result *r, char *buf,
                             size_t size)
{
    const enum how how = (enum how)m->how;
    const bool time = how == TIME || how == BEST_TIME || how == LONGEST || how == PEAK_TIME;
    size_t i = 0;
    const char *unit = "-";
    if (time) {
        unit = "s";
    } else if (!name_find(m, r, &i) || how == REACHED || m->group == EMB_MEASURE_BOOK) {
        unit = "-";
    } else if (m->group == EMB_MEASURE_TOTAL) {
        unit = r->total[i].unit;
    } else if (m->group == EMB_MEASURE_SERIES) {
        unit = r->column[i + 1].unit;
    } else {
        const struct emb_verdict *v = &r->verdict[i];
        unit = v->unit[0] != '\0' ? v->unit : v->is_temperature ? "K" : "-";
    }
    if (how == INTEGRAL) {
        integral_unit(unit, buf, size);
    } else {
        snprintf(buf, size, "%s", unit);
    }
    if (strcmp(buf, "-") == 0) {
        snprintf(buf, size, "1"); /* as UDUNITS and CF write it */
    }
    return buf;
}

const char *emb_measure_meaning(const struct emb_measure *m, const struct emb_result *r, char *buf,
                                size_t size)
{
    const char *how = row_of(m)->meaning, *what = "";
    size_t i = 0;
    if (name_find(m, r, &i)) {
        what = m->group == EMB_MEASURE_TARGET   ? r->verdict[i].what
               : m->group == EMB_MEASURE_SERIES ? r->column[i + 1].meaning
               : m->group == EMB_MEASURE_TOTAL  ? r->total[i].meaning
                                                : m->name;
    }
    if (m->group == EMB_MEASURE_TOTAL) {
        snprintf(buf, size, "%s", what);
    } else if (m->group == EMB_MEASURE_TARGET && what[0] != '\0') {
        snprintf(buf, size, "%s: %s of '%s'", how, what, r->verdict[i].at);
    } else {
        snprintf(buf, size, "%s%s%s", how, what[0] != '\0' ? ": " : "", what);
    }
    return buf;
}

void emb_measure_list(const struct emb_result *r, FILE *out)
{
    for (size_t k = 0; k < N_ROW; k++) {
        const char *name;
        for (size_t i = 0; (name = name_at(r, rows[k].group, i)) != NULL; i++) {
            struct emb_measure m = {.group = rows[k].group, .how = (int)rows[k].how};
            char unit[32], meaning[200];
            snprintf(m.name, sizeof m.name, "%s", name);
            snprintf(m.text, sizeof m.text, "%s%s%s%s", prefixes[m.group], name,
                     name[0] != '\0' && rows[k].word[0] != '\0' ? "." : "", rows[k].word);
            fprintf(out, "%-44s [%s] %s\n", m.text, emb_measure_unit(&m, r, unit, sizeof unit),
                    emb_measure_meaning(&m, r, meaning, sizeof meaning));
        }
    }
}

static int stop_at_once(double t, double t_end, void *user)
{
    (void)t;
    (void)t_end;
    (void)user;
    return 1;
}

enum emb_status emb_measure_sample(const struct emb_case *c, struct emb_result *out,
                                   struct emb_err *err)
{
    const struct emb_hooks hooks = {stop_at_once, NULL};
    struct emb_err own = {EMB_OK, "", ""};
    const enum emb_status st = emb_run(c, &hooks, out, &own);
    if (st == EMB_OK || (st == EMB_ERR_SOLVER && out->n_row > 0)) {
        return EMB_OK;
    }
    emb_result_free(out);
    return emb_fail(err, st, own.where, "%s", own.msg);
}
