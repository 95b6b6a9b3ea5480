/* cmd_plot.c - recorded series as a picture. */
#include <fnmatch.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "emberpipe/plot.h"
#include "emberpipe/report.h"
#include "emberpipe/units.h"

/* What a column is shown in unless asked otherwise. */
static const struct {
    const char *si, *shown;
} usual[] = {{"K", "degC"},    {"kg/s", "g/s"}, {"Pa", "kPa"}, {"rad/s", "rpm"},
             {"kg/m3", "g/L"}, {"kg", "g"},     {"-", "%"}};

static enum emb_dim dim_of(const char *si)
{
    enum emb_dim d = 0;
    while (d < EMB_NDIM && strcmp(emb_dim_si(d), si) != 0) {
        d++;
    }
    return d;
}

/* Two points tell a linear scale: what 0 and 1 of the unit are in SI. */
static bool scale_make(const struct emb_units *u, enum emb_dim d, const char *unit,
                       struct emb_plot_scale *s)
{
    char text[64], msg[EMB_UNIT_MSG];
    double zero = 0.0, one = 1.0;
    if (strlen(unit) >= sizeof s->unit) {
        return false;
    }
    snprintf(text, sizeof text, "0 %s", unit);
    if (emb_quantity_parse(u, text, d, &zero, msg) != 0) {
        return false;
    }
    snprintf(text, sizeof text, "1 %s", unit);
    if (emb_quantity_parse(u, text, d, &one, msg) != 0 || one == zero) {
        return false;
    }
    s->factor = 1.0 / (one - zero);
    s->shift = -zero * s->factor;
    const char *shown = strcmp(unit, "degC") == 0   ? "°C"
                        : strcmp(unit, "degF") == 0 ? "°F"
                                                    : unit;
    snprintf(s->unit, sizeof s->unit, "%s", shown);
    return true;
}

static double largest(const struct emb_result *r, size_t column)
{
    double most = 0.0;
    for (size_t i = 0; i < r->n_row; i++) {
        const double v = fabs(r->row[i * r->n_column + column]);
        most = isfinite(v) ? fmax(most, v) : most;
    }
    return most;
}

static const char *usual_unit(const struct emb_result *r, size_t column)
{
    const char *si = r->column[column].unit;
    if (column == 0) {
        return r->t_end <= 180.0 ? "s" : r->t_end <= 4.0 * 3600.0 ? "min" : "h";
    }
    if (strcmp(si, "-") == 0 && largest(r, column) < 0.01) {
        return "ppm";
    }
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        if (strcmp(usual[i].si, si) == 0) {
            return usual[i].shown;
        }
    }
    return si;
}

/* The first unit of --units that fits the column, else the usual one. used[i] is set if unit i
 * fitted anything. */
static void scale_choose(const struct emb_cli_args *a, const struct emb_units *u,
                         const struct emb_result *r, struct emb_plot_series *s, bool *used)
{
    const enum emb_dim d = dim_of(r->column[s->column].unit);
    const char *list = a->units;
    for (size_t i = 0; list != NULL && d < EMB_NDIM && *list != '\0'; i++) {
        char unit[24];
        const size_t n = strcspn(list, ",");
        snprintf(unit, sizeof unit, "%.*s", (int)(n < 23 ? n : 23), list);
        list += n + (list[n] == ',');
        if (scale_make(u, d, unit, &s->scale)) {
            used[i] = true;
            return;
        }
    }
    if (d == EMB_NDIM || !scale_make(u, d, usual_unit(r, s->column), &s->scale)) {
        s->scale = (struct emb_plot_scale){"", 1.0, 0.0};
        snprintf(s->scale.unit, sizeof s->scale.unit, "%.23s", r->column[s->column].unit);
    }
}

static enum emb_status no_column(const struct emb_result *r, const char *name, struct emb_err *err)
{
    const char **all = calloc(r->n_column + 1, sizeof *all);
    const char *near = NULL;
    for (size_t i = 0; all != NULL && i < r->n_column; i++) {
        all[i] = r->column[i].name;
    }
    near = all != NULL ? emb_cli_nearest(name, all, r->n_column, sizeof *all) : NULL;
    free(all);
    return emb_fail(err, EMB_ERR_USAGE, name, "is no recorded series%s%s%s; --list shows them all",
                    near != NULL ? "; did you mean " : "", near != NULL ? near : "",
                    near != NULL ? "?" : "");
}

static enum emb_status pick(const struct emb_result *r, const char *pattern, struct emb_plot *p,
                            struct emb_err *err)
{
    bool any = false;
    for (size_t i = 1; i < r->n_column; i++) {
        if (fnmatch(pattern, r->column[i].name, 0) != 0) {
            continue;
        }
        if (p->n_series == EMB_PLOT_SERIES) {
            return emb_fail(err, EMB_ERR_USAGE, "--columns",
                            "name more than %d series; a picture cannot show them apart",
                            EMB_PLOT_SERIES);
        }
        p->series[p->n_series++].column = i;
        any = true;
    }
    return any ? EMB_OK : no_column(r, pattern, err);
}

static enum emb_status choose(const struct emb_cli_args *a, struct emb_plot *p, struct emb_err *err)
{
    const struct emb_result *r = p->result;
    const char *list = a->columns != NULL ? a->columns : "exhaust.temperature,*.mean_temperature";
    enum emb_status st = EMB_OK;
    while (st == EMB_OK && *list != '\0') {
        char name[96];
        const size_t n = strcspn(list, ",");
        snprintf(name, sizeof name, "%.*s", (int)(n < 95 ? n : 95), list);
        list += n + (list[n] == ',');
        st = name[0] != '\0' ? pick(r, name, p, err) : EMB_OK;
    }
    if (st == EMB_OK && a->x != NULL) {
        const int i = emb_result_find(r, a->x);
        st = i < 0 ? no_column(r, a->x, err) : EMB_OK;
        p->x.column = i < 0 ? 0 : (size_t)i;
    }
    return st;
}

static enum emb_status scales(const struct emb_cli_args *a, struct emb_plot *p, struct emb_err *err)
{
    bool used[32] = {false};
    struct emb_units *u = emb_units_new();
    size_t n = a->units != NULL ? 1 : 0;
    for (const char *c = a->units; c != NULL && *c != '\0'; c++) {
        n += *c == ',';
    }
    if (u == NULL || n > 32) {
        emb_units_free(u);
        return emb_fail(err, u == NULL ? EMB_ERR_NOMEM : EMB_ERR_USAGE, "--units",
                        u == NULL ? "out of memory" : "more than 32 units");
    }
    scale_choose(a, u, p->result, &p->x, used);
    for (size_t i = 0; i < p->n_series; i++) {
        scale_choose(a, u, p->result, &p->series[i], used);
    }
    emb_units_free(u);
    for (size_t i = 0; i < n; i++) {
        if (!used[i]) {
            return emb_fail(err, EMB_ERR_USAGE, "--units",
                            "unit %zu of '%.60s' fits none of the series shown; use for example "
                            "degF,g/s,min",
                            i + 1, a->units);
        }
    }
    return EMB_OK;
}

static enum emb_status size_read(const struct emb_cli_args *a, double *width, double *height,
                                 struct emb_err *err)
{
    const char *rest = NULL;
    *width = 960.0;
    *height = 540.0;
    if (a->size == NULL) {
        return EMB_OK;
    }
    char w[32];
    const size_t n = strcspn(a->size, "x");
    snprintf(w, sizeof w, "%.*s", (int)(n < 31 ? n : 31), a->size);
    if (a->size[n] != 'x' || emb_number_parse(w, width, NULL) != 0 ||
        emb_number_parse(a->size + n + 1, height, &rest) != 0 || *rest != '\0' || *width < 300.0 ||
        *height < 200.0 || *width > 8000.0 || *height > 8000.0) {
        return emb_fail(err, EMB_ERR_USAGE, "--size",
                        "got '%.40s'; give WIDTHxHEIGHT in pixels, 300x200 to 8000x8000", a->size);
    }
    return EMB_OK;
}

enum format { SVG, PNG, PDF, NO_FORMAT };
static enum format format_of(const char *path)
{
    static const char *const ending[] = {".svg", ".png", ".pdf"};
    const size_t n = path != NULL ? strlen(path) : 0;
    for (int i = 0; i < NO_FORMAT; i++) {
        if (n > 4 && strcmp(path + n - 4, ending[i]) == 0) {
            return (enum format)i;
        }
    }
    return NO_FORMAT;
}

static enum emb_status draw(const struct emb_plot *p, enum format format, struct emb_cli_file *to,
                            struct emb_err *err)
{
    char *svg = NULL;
    size_t n = 0;
    FILE *f = open_memstream(&svg, &n);
    enum emb_status st = EMB_OK;
    if (f == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "plot", "out of memory");
    }
    emb_plot_svg(p, f);
    fclose(f);
    if (svg == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "plot", "out of memory");
    }
    if (format == SVG) {
        fwrite(svg, 1, n, to->f);
    } else {
        st = emb_picture_write(svg, n, format == PDF, p->width, p->height, to->f, err);
    }
    free(svg);
    return st == EMB_OK ? emb_cli_file_keep(to, err) : st;
}

static enum emb_status list_columns(const struct emb_result *r, struct emb_err *err)
{
    for (size_t i = 0; i < r->n_column; i++) {
        printf("%-32s %-8s %s\n", r->column[i].name, r->column[i].unit, r->column[i].meaning);
    }
    return emb_report_flush(stdout, "standard output", err);
}

static enum emb_status plot_result(const struct emb_cli_args *a, const struct emb_result *r,
                                   struct emb_plot *p, struct emb_cli_file *to, struct emb_err *err)
{
    p->result = r;
    p->title = a->title != NULL ? a->title : r->title;
    if (a->list) {
        return list_columns(r, err);
    }
    enum emb_status st = choose(a, p, err);
    st = st == EMB_OK ? scales(a, p, err) : st;
    return st == EMB_OK ? draw(p, format_of(a->to), to, err) : st;
}

enum emb_status emb_cmd_plot(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    struct emb_result r = {0};
    struct emb_plot p = {0};
    struct emb_cli_file to = {0};
    enum emb_status st = size_read(a, &p.width, &p.height, err);
    if (st == EMB_OK && !a->list && format_of(a->to) == NO_FORMAT) {
        st = emb_fail(err, EMB_ERR_USAGE, "--to", "needs a file that ends in .svg, .png or .pdf%s%.80s",
                      a->to != NULL ? "; got " : "", a->to != NULL ? a->to : "");
    }
    if (st != EMB_OK || (st = emb_cli_load(a, stderr, &c, err)) != EMB_OK) {
        return st;
    }
    if (!a->list) {
        st = emb_cli_file_open(&to, a->to, err);
    }
    if (st == EMB_OK) {
        st = emb_cli_run(a, &c, &r, err);
    }
    if (st == EMB_OK) {
        st = plot_result(a, &r, &p, &to, err);
    }
    emb_cli_file_drop(&to);
    emb_result_free(&r);
    emb_case_free(&c);
    return st;
}
