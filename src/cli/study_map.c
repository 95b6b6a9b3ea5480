/* study_map.c - emberpipe study map FILE: one output of a grid over two axes, as a picture. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/measure.h"
#include "emberpipe/temperature.h"
#include "emberpipe/words.h"
#include "study_map.h"
#include "study_talk.h"
#include "study_verbs.h"

static const char *keep_text(struct emb_sheet *s, const char *text)
{
    char *copy = strdup(text);
    if (copy != NULL) {
        s->text[s->n_text++] = copy;
    }
    return copy != NULL ? copy : "";
}

static bool is_time(const char *output)
{
    const size_t n = strlen(output);
    return n > 5 && strcmp(output + n - 5, ".time") == 0;
}

/* What an axis with numbers is shown in: suits its largest level. */
static void axis_scale(const struct emb_sheet *s, const struct emb_journal_name *n,
                       struct emb_plot_scale *scale)
{
    double most = 0.0;
    for (size_t i = 0; i < n->n_level; i++) {
        most = fmax(most, fabs(n->value[i]));
    }
    emb_shown_scale(s->u, n->unit, NULL, most, scale);
}

/* One level of an axis: "-30 °C (-22 °F)", "900", "doc"; with_unit: of a heading. */
static const char *level_text(const struct emb_sheet *s, size_t axis, size_t k, bool with_unit,
                              char buf[100])
{
    const struct emb_journal_name *n = &s->info->axis[axis];
    struct emb_plot_scale scale;
    if (n->text) {
        snprintf(buf, 100, "%.99s", emb_cli_base_name(n->level[k]));
        return buf;
    }
    axis_scale(s, n, &scale);
    if (emb_shown_kelvin(n->unit)) {
        emb_text_temperature(n->value[k], buf);
    } else {
        snprintf(buf, 100, "%.4g%s%s", scale.factor * n->value[k] + scale.shift,
                 with_unit ? " " : "", with_unit ? scale.unit : "");
    }
    return buf;
}

static void axis_label(const struct emb_sheet *s, size_t axis, char buf[120])
{
    const struct emb_journal_name *n = &s->info->axis[axis];
    struct emb_plot_scale scale;
    char words[96];
    emb_study_axis_words(n->name, words);
    axis_scale(s, n, &scale);
    snprintf(buf, 120, n->text || emb_shown_kelvin(n->unit) ? "%s" : "%s [%s]", words, scale.unit);
}

/* Heading of panel p, and the first case of it. */
static size_t panel_begin(const struct emb_sheet *s, size_t p, char buf[200])
{
    size_t at = 0, used = 0;
    buf[0] = '\0';
    for (size_t i = s->info->n_axis; i-- > 0;) {
        const struct emb_journal_name *n = &s->info->axis[i];
        char words[96], level[100];
        if (i == s->x || i == s->y) {
            continue;
        }
        emb_study_axis_words(n->name, words);
        const bool plain = strcmp(n->name, "case") == 0;
        const int w = snprintf(buf + used, 200 - used, "%s%.60s %.80s", used > 0 ? ", " : "",
                               plain ? "" : words, level_text(s, i, p % n->n_level, true, level));
        used += w > 0 && used + (size_t)w < 199 ? (size_t)w : 0;
        at += p % n->n_level * s->stride[i];
        p /= n->n_level;
    }
    return at;
}

/* The small lines of a cell without a time: how close the target came, and for how long it was there. */
static void close_fill(struct emb_sheet *s, size_t id, const char **remark)
{
    const char *unit = s->info->output[s->best_output].unit;
    struct emb_plot_scale scale;
    char buf[64];
    if (emb_shown_kelvin(unit)) {
        snprintf(buf, sizeof buf, "%.0f °C", emb_degC(s->best[id]));
        *remark++ = keep_text(s, buf);
        snprintf(buf, sizeof buf, "%.0f °F", emb_degF(s->best[id]));
    } else {
        emb_shown_scale(s->u, unit, NULL, fabs(s->best[id]), &scale);
        emb_shown_value(&scale, unit, s->best[id], buf);
    }
    *remark++ = keep_text(s, buf);
    if (s->longest != NULL && s->longest[id] > 0.0) {
        const bool short_one = s->longest[id] < 59.5;
        snprintf(buf, sizeof buf, "%.2g %s", s->longest[id] / (short_one ? 1.0 : 60.0),
                 short_one ? "s" : "min");
        *remark = keep_text(s, buf);
    }
}

/* The small lines of a cell: how close a target came, or a temperature in the other unit. */
static void remarks_fill(struct emb_sheet *s, size_t id, size_t to)
{
    const char **remark = s->remark + EMB_MAP_REMARKS * to;
    char buf[64];
    if (s->cell[to] == EMB_MAP_NONE && s->best != NULL && isfinite(s->best[id])) {
        close_fill(s, id, remark);
    } else if (s->cell[to] == EMB_MAP_VALUE && s->map.unit2 != NULL) {
        snprintf(buf, sizeof buf, "%.0f °F", emb_degF(s->raw[id]));
        remark[0] = keep_text(s, buf);
    }
}

static void cells_fill(struct emb_sheet *s, size_t p, size_t first)
{
    for (size_t r = 0; r < s->map.y.n; r++) {
        for (size_t c = 0; c < s->map.x.n; c++) {
            const size_t id = first + r * s->stride[s->y] + c * s->stride[s->x],
                         to = (p * s->map.y.n + r) * s->map.x.n + c;
            s->cell[to] = (unsigned char)(isnan(s->status[id])          ? EMB_MAP_MISSING
                                          : s->status[id] > 0.5         ? EMB_MAP_FAILED
                                          : isfinite(s->raw[id]) ? EMB_MAP_VALUE
                                                                        : EMB_MAP_NONE);
            s->value[to] = s->scale.factor * s->raw[id] + s->scale.shift;
            remarks_fill(s, id, to);
        }
    }
}

static enum emb_status ticks_make(struct emb_sheet *s, size_t axis, struct emb_map_axis *out,
                                  struct emb_err *err)
{
    char buf[100];
    const size_t n = s->info->axis[axis].n_level;
    const char **tick = calloc(n + 1, sizeof *tick);
    if (tick == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "map", "out of memory");
    }
    for (size_t i = 0; i < n; i++) {
        tick[i] = keep_text(s, level_text(s, axis, i, false, buf));
    }
    out->n = n;
    out->tick = tick;
    return EMB_OK;
}

static void words_fill(struct emb_sheet *s)
{
    const struct emb_journal_info *i = s->info;
    const struct emb_journal_name *o = &i->output[s->output];
    double most = 0.0;
    for (size_t k = 0; k < i->n; k++) {
        most = isfinite(s->raw[k]) ? fmax(most, fabs(s->raw[k])) : most;
    }
    emb_shown_scale(s->u, o->unit, s->a->units, most, &s->scale);
    snprintf(s->what, sizeof s->what, "%.180s [%.24s]  (%.90s)", o->meaning, s->scale.unit, o->name);
    if (emb_shown_kelvin(o->unit) && s->a->units == NULL) {
        s->map.unit2 = "°F";
        s->map.factor2 = 1.8;
        s->map.shift2 = 32.0;
    }
    snprintf(s->note, sizeof s->note,
             "%zu of %zu cases done, %zu failed. Computed with emberpipe %s; what is calibrated, "
             "assumed or unvalidated stands in the report of each case.",
             i->done, i->n, i->failed, i->version);
    s->map.none = is_time(o->name) ? "never" : "none";
    s->map.title = s->a->title != NULL ? s->a->title : i->title;
    s->map.what = s->what;
    s->map.note = s->note;
    s->map.unit = s->scale.unit;
    axis_label(s, s->x, s->labels[0]);
    axis_label(s, s->y, s->labels[1]);
    s->map.x.label = s->labels[0];
    s->map.y.label = s->labels[1];
}

static enum emb_status map_fill(struct emb_sheet *s, struct emb_err *err)
{
    const char **heading = calloc(s->map.panel.n + 1, sizeof *heading);
    char buf[200];
    s->map.panel.tick = heading;
    enum emb_status st = heading == NULL ? emb_fail(err, EMB_ERR_NOMEM, "map", "out of memory")
                                         : ticks_make(s, s->x, &s->map.x, err);
    st = st == EMB_OK ? ticks_make(s, s->y, &s->map.y, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    words_fill(s);
    for (size_t p = 0; p < s->map.panel.n; p++) {
        const size_t first = panel_begin(s, p, buf);
        heading[p] = keep_text(s, buf);
        cells_fill(s, p, first);
    }
    s->map.value = s->value;
    s->map.cell = s->cell;
    s->map.remark = s->remark;
    return EMB_OK;
}

/* The column of another number of the same target, `what` instead of "time"; stays NULL if not kept. */
static enum emb_status sibling_read(struct emb_sheet *s, struct emb_journal *j, const char *what,
                                    double **column, size_t *number, struct emb_err *err)
{
    const char *name = s->info->output[s->output].name;
    const size_t n = strlen(name) - strlen("time");
    for (size_t i = 0; i < s->info->n_output; i++) {
        const char *other = s->info->output[i].name;
        if (strncmp(other, name, n) == 0 && strcmp(other + n, what) == 0) {
            *column = calloc(s->info->n + 1, sizeof **column);
            *number = i;
            return *column == NULL ? emb_fail(err, EMB_ERR_NOMEM, "map", "out of memory")
                                   : emb_journal_column(j, EMB_JOURNAL_OUTPUT, i, *column, err);
        }
    }
    return EMB_OK;
}

/* A map of target.NAME.time tells how close the others came, and how long they stayed there, if
 * target.NAME.best and .longest were kept too. */
static enum emb_status closeness_read(struct emb_sheet *s, struct emb_journal *j, struct emb_err *err)
{
    size_t number;
    if (!is_time(s->info->output[s->output].name)) {
        return EMB_OK;
    }
    enum emb_status st = sibling_read(s, j, "best", &s->best, &s->best_output, err);
    if (st == EMB_OK && s->best != NULL) {
        st = sibling_read(s, j, "longest", &s->longest, &number, err);
        s->map.none_remark = s->longest != NULL ? "how close it came, how long it held"
                                                : "how close it came";
    }
    return st;
}

static void draw(const void *map, FILE *f)
{
    emb_map_svg(map, f);
}

static enum emb_status map_make(struct emb_sheet *s, struct emb_journal *j, struct emb_cli_file *to,
                                struct emb_err *err)
{
    const size_t n = s->info->n;
    s->stride = calloc(s->info->n_axis + 1, sizeof *s->stride);
    enum emb_status st =
        s->stride == NULL ? emb_fail(err, EMB_ERR_NOMEM, "map", "out of memory") : emb_sheet_axes(s, err);
    st = st == EMB_OK ? emb_sheet_output(s, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    s->raw = calloc(n + 1, sizeof *s->raw);
    s->status = calloc(n + 1, sizeof *s->status);
    s->value = calloc(n + 1, sizeof *s->value);
    s->cell = calloc(n + 1, 1);
    s->remark = calloc(EMB_MAP_REMARKS * n + 1, sizeof *s->remark);
    /* levels are fewer than cases */
    s->text = calloc((2 + EMB_MAP_REMARKS) * n + EMB_MAP_PANELS, sizeof *s->text);
    if (s->raw == NULL || s->status == NULL || s->value == NULL || s->cell == NULL ||
        s->text == NULL || s->remark == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "map", "out of memory for %zu cases", n);
    }
    st = emb_journal_column(j, EMB_JOURNAL_OUTPUT, s->output, s->raw, err);
    st = st == EMB_OK ? emb_journal_column(j, EMB_JOURNAL_STATUS, 0, s->status, err) : st;
    st = st == EMB_OK ? closeness_read(s, j, err) : st;
    st = st == EMB_OK ? map_fill(s, err) : st;
    return st == EMB_OK
               ? emb_shown_picture(draw, &s->map, s->map.width, s->map.height, to, err)
               : st;
}

static void sheet_free(struct emb_sheet *s)
{
    for (size_t i = 0; i < s->n_text; i++) {
        free(s->text[i]);
    }
    free((void *)s->map.x.tick);
    free((void *)s->map.y.tick);
    free((void *)s->map.panel.tick);
    free(s->text);
    free(s->stride);
    free(s->raw);
    free(s->status);
    free(s->value);
    free(s->cell);
    free(s->best);
    free(s->longest);
    free((void *)s->remark);
    emb_units_free(s->u);
}

enum emb_status emb_study_map(const struct emb_cli_args *a, const char *file, struct emb_err *err)
{
    char name[300];
    struct emb_sheet s = {.a = a, .map = {.width = 1280.0, .height = 620.0}};
    struct emb_cli_file to = {0};
    struct emb_journal *j = NULL;
    enum emb_status st = emb_shown_ending(a, err);
    st = st == EMB_OK ? emb_shown_size(a, &s.map.width, &s.map.height, err) : st;
    st = st == EMB_OK ? emb_journal_read(emb_study_journal(a, file, name, sizeof name), &j, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    s.info = emb_journal_info(j);
    s.u = emb_units_new();
    st = s.u == NULL ? emb_fail(err, EMB_ERR_NOMEM, "map", "out of memory")
                     : emb_cli_file_open(&to, a->to, err);
    st = st == EMB_OK ? map_make(&s, j, &to, err) : st;
    emb_cli_file_drop(&to);
    if (st == EMB_OK && !a->quiet) {
        printf("%s\n", a->to);
    }
    sheet_free(&s);
    emb_journal_close(j);
    return st;
}
