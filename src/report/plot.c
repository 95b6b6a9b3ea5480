/* plot.c - lays a picture out: title, one panel for each unit, the common x axis. */
#include <math.h>
#include <string.h>

#include "page.h"
#include "plot.h"
#include "write.h"

static const double left = 84.0, top = 34.0, foot = 54.0, between = 40.0; /* [px] */

static bool first_of_unit(const struct emb_plot *p, size_t i)
{
    for (size_t k = 0; k < i; k++) {
        if (strcmp(p->series[k].scale.unit, p->series[i].scale.unit) == 0) {
            return false;
        }
    }
    return true;
}

static void stretch(const struct emb_plot *p, const struct emb_plot_series *s, double *lo,
                    double *hi)
{
    for (size_t i = 0; i < p->result->n_row; i++) {
        const double v = emb_plot_value(p, s, i);
        if (isfinite(v)) {
            *lo = fmin(*lo, v);
            *hi = fmax(*hi, v);
        }
    }
}

/* Temperatures float, everything else stands on zero. */
static void y_range(struct emb_panel *q, size_t first)
{
    const struct emb_plot *p = q->plot;
    double lo = INFINITY, hi = -INFINITY;
    for (size_t i = first; i < p->n_series; i++) {
        if (strcmp(p->series[i].scale.unit, q->unit) == 0) {
            stretch(p, &p->series[i], &lo, &hi);
        }
    }
    for (size_t i = 0; q->kelvin && i < p->result->n_verdict; i++) {
        const struct emb_plot_scale *s = &p->series[first].scale;
        if (p->result->verdict[i].is_temperature) {
            hi = fmax(hi, s->factor * p->result->verdict[i].value + s->shift);
        }
    }
    lo = q->kelvin ? lo : fmin(lo, 0.0);
    if (!isfinite(lo) || !isfinite(hi)) {
        lo = 0.0;
        hi = 1.0;
    }
    emb_axis_choose(&q->y, lo, hi, (int)fmax((q->y.p0 - q->y.p1) / 45.0, 4.0), false);
}

static size_t element_length(const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot != NULL ? (size_t)(dot - name) : strlen(name);
}

const char *emb_plot_name(const struct emb_plot *p, size_t i, char buf[80])
{
    const char *name = p->result->column[p->series[i].column].name;
    const bool kelvin = strcmp(p->result->column[p->series[i].column].unit, "K") == 0;
    size_t n = kelvin ? element_length(name) : strlen(name);
    for (size_t k = 0; k < p->n_series; k++) {
        const char *other = p->result->column[p->series[k].column].name;
        if (k != i && element_length(other) == element_length(name) &&
            strncmp(other, name, element_length(name)) == 0) {
            n = strlen(name);
        }
    }
    snprintf(buf, 80, "%.*s", (int)n, name);
    return buf;
}

/* Room on the right for the longest name. */
static double name_room(const struct emb_plot *p)
{
    size_t most = 0;
    char buf[80];
    for (size_t i = 0; i < p->n_series; i++) {
        const size_t n = emb_text_width(emb_plot_name(p, i, buf));
        most = n > most ? n : most;
    }
    return fmin(20.0 + 9.2 * (double)most, 0.4 * p->width);
}

static void x_axis(const struct emb_panel *q, FILE *f)
{
    const struct emb_plot *p = q->plot;
    char buf[32];
    fputs("<g text-anchor=\"middle\">", f);
    for (double v = emb_axis_first(&q->x); v <= q->x.hi + 1e-6 * q->x.step; v += q->x.step) {
        fprintf(f, "<text x=\"%.1f\" y=\"%.1f\">%s</text>", emb_axis_px(&q->x, v), q->y.p0 + 20.0,
                emb_axis_text(&q->x, v, buf));
    }
    fprintf(f, "<text x=\"%.1f\" y=\"%.1f\">", 0.5 * (q->x.p0 + q->x.p1), q->y.p0 + 42.0);
    emb_svg_text(p->x.column == 0 ? "time" : p->result->column[p->x.column].name, f);
    fputs(" in ", f);
    emb_svg_text(p->x.scale.unit[0] != '\0' ? p->x.scale.unit : "-", f);
    fputs("</text></g>\n", f);
}

static void head(const struct emb_plot *p, FILE *f)
{
    fprintf(f,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.0f\" height=\"%.0f\" "
            "viewBox=\"0 0 %.0f %.0f\" font-size=\"15\" role=\"img\" "
            "font-family=\"DejaVu Sans, Noto Sans, Helvetica, Arial, sans-serif\">\n<title>",
            p->width, p->height, p->width, p->height);
    emb_svg_text(p->title, f);
    fprintf(f, "</title>\n<rect width=\"%.0f\" height=\"%.0f\" fill=\"#fff\"/>\n", p->width,
            p->height);
    if (p->title[0] != '\0') {
        fprintf(f, "<text x=\"%.0f\" y=\"28\" font-size=\"20\" font-weight=\"bold\">", 16.0);
        emb_svg_text(p->title, f);
        fputs("</text>\n", f);
    }
}

void emb_plot_svg(const struct emb_plot *p, FILE *f)
{
    size_t row[EMB_PAGE_ROWS], panels = 0, done = 0;
    const double above = top + (p->title[0] != '\0' ? 32.0 : 0.0);
    double lo = INFINITY, hi = -INFINITY;
    struct emb_panel q = {.plot = p, .row = row, .n_row = emb_page_rows(p->result, row)};
    for (size_t i = 0; i < p->n_series; i++) {
        panels += first_of_unit(p, i);
    }
    q.x.p0 = left;
    q.x.p1 = p->width - name_room(p);
    stretch(p, &p->x, &lo, &hi);
    emb_axis_choose(&q.x, isfinite(lo) ? lo : 0.0, isfinite(hi) ? hi : 1.0,
                    (int)fmax((q.x.p1 - q.x.p0) / 70.0, 2.0), p->x.column == 0);
    const double tall =
        (p->height - above - foot - between * ((double)panels - 1.0)) / fmax((double)panels, 1.0);
    head(p, f);
    for (size_t i = 0; i < p->n_series; i++) {
        if (first_of_unit(p, i)) {
            q.unit = p->series[i].scale.unit;
            q.kelvin = strcmp(p->result->column[p->series[i].column].unit, "K") == 0;
            q.y.p1 = above + (double)done * (tall + between);
            q.y.p0 = q.y.p1 + tall;
            y_range(&q, i);
            emb_panel_draw(&q, f);
            done++;
        }
    }
    if (panels > 0) {
        x_axis(&q, f);
    }
    fputs("</svg>\n", f);
}
