/* cmd_plot.c - recorded series as a picture. */
#include <fnmatch.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/plot.h"
#include "emberpipe/report.h"
#include "shown.h"

static double largest(const struct emb_result *r, size_t column)
{
    double most = 0.0;
    for (size_t i = 0; i < r->n_row; i++) {
        const double v = fabs(r->row[i * r->n_column + column]);
        most = isfinite(v) ? fmax(most, v) : most;
    }
    return most;
}

static void scale_choose(const struct emb_cli_args *a, const struct emb_units *u,
                         const struct emb_result *r, struct emb_plot_series *s, bool *used)
{
    const double most = s->column == 0 ? r->t_end : largest(r, s->column);
    const int i = emb_shown_scale(u, r->column[s->column].unit, a->units, most, &s->scale);
    if (i >= 0) {
        used[i] = true;
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

static void draw(const void *plot, FILE *f)
{
    emb_plot_svg(plot, f);
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
    return st == EMB_OK ? emb_shown_picture(draw, p, p->width, p->height, to, err) : st;
}

enum emb_status emb_cmd_plot(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    struct emb_result r = {0};
    struct emb_plot p = {.width = 960.0, .height = 540.0};
    struct emb_cli_file to = {0};
    enum emb_status st = emb_shown_size(a, &p.width, &p.height, err);
    if (st == EMB_OK && !a->list) {
        st = emb_shown_ending(a, err);
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
