/* chart_bars.c - which axis moves what: horizontal bars, longest on top, a group for each output. */
#include <math.h>

#include "chart.h"
#include "emberpipe/chart.h"
#include "emberpipe/words.h"

static const double top = 52.0, foot = 40.0, heading = 34.0, axis_room = 34.0; /* [px] */
static const char *const up = "#b34700", *const down = "#00639c"; /* Okabe & Ito 2008, darkened */

static void range(const struct emb_bar_group *g, struct emb_axis *a)
{
    double lo = 0.0, hi = 0.0; /* bars are seen against zero */
    for (size_t i = 0; i < g->n; i++) {
        const double v[] = {g->bar[i].from, g->bar[i].to, g->bar[i].lo, g->bar[i].hi};
        for (size_t k = 0; k < 4; k++) {
            lo = isfinite(v[k]) ? fmin(lo, v[k]) : lo;
            hi = isfinite(v[k]) ? fmax(hi, v[k]) : hi;
        }
    }
    emb_axis_choose(a, lo, hi, 8, false);
}

static void rect(double x0, double x1, double y, double h, const char *fill, double opacity, FILE *f)
{
    fprintf(f,
            "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"%s\" "
            "fill-opacity=\"%.2f\"/>\n",
            fmin(x0, x1), y, fabs(x1 - x0), h, fill, opacity);
}

static void bar_draw(const struct emb_bar *b, const struct emb_axis *a, double y, double h, FILE *f)
{
    const char *fill = b->to >= b->from ? up : down;
    if (!isfinite(b->to)) {
        emb_chart_text("none", emb_axis_px(a, 0.0) + 4.0, y + 0.7 * h, 12.0, 0.0, "start", "", f);
        return;
    }
    const double x0 = emb_axis_px(a, b->from);
    rect(x0, emb_axis_px(a, b->to), y, h, fill, isfinite(b->inner) ? 0.45 : 0.85, f);
    if (isfinite(b->inner)) {
        rect(x0, emb_axis_px(a, b->inner), y + 0.2 * h, 0.6 * h, fill, 1.0, f);
    }
    if (isfinite(b->lo) && isfinite(b->hi)) {
        const double m = y + 0.5 * h;
        fprintf(f,
                "<path d=\"M%.1f %.1fV%.1fM%.1f %.1fH%.1fM%.1f %.1fV%.1f\" stroke=\"#111\" "
                "stroke-width=\"1.5\"/>\n",
                emb_axis_px(a, b->lo), m - 4.0, m + 4.0, emb_axis_px(a, b->lo), m,
                emb_axis_px(a, b->hi), emb_axis_px(a, b->hi), m - 4.0, m + 4.0);
    }
}

static void grid(const struct emb_bar_group *g, const struct emb_axis *a, double y0, double y1,
                 FILE *f)
{
    char buf[32];
    for (double v = emb_axis_first(a); v <= a->hi + 1e-6 * a->step; v += a->step) {
        const double x = emb_axis_px(a, v);
        fprintf(f, "<path d=\"M%.1f %.1fV%.1f\" stroke=\"#dcd8ce\"/>", x, y0, y1);
        emb_chart_text(emb_axis_text(a, v, buf), x, y1 + 16.0, 12.0, 0.0, "middle", "", f);
    }
    emb_chart_text(g->unit, a->p1 + 66.0, y1 + 16.0, 12.0, 40.0, "end", "", f);
}

void emb_bars_svg(const struct emb_bars *b, FILE *f)
{
    size_t rows = 0, longest = 0;
    for (size_t i = 0; i < b->n; i++) {
        rows += b->group[i].n;
        for (size_t k = 0; k < b->group[i].n; k++) {
            const size_t n = emb_text_width(b->group[i].bar[k].label);
            longest = n > longest ? n : longest;
        }
    }
    const double left = fmin(36.0 + 7.6 * (double)longest, 0.45 * b->width);
    const double room = b->height - top - foot - (heading + axis_room) * (double)b->n;
    const double step = fmin(fmax(room / fmax((double)rows, 1.0), 8.0), 46.0);
    double y = top;
    emb_chart_head(b->title, b->width, b->height, f);
    for (size_t i = 0; i < b->n; i++) {
        const struct emb_bar_group *g = &b->group[i];
        struct emb_axis a = {.p0 = left, .p1 = b->width - 70.0};
        range(g, &a);
        emb_chart_text(g->title, 18.0, y + 20.0, 14.0, b->width - 36.0, "start",
                       "font-weight=\"bold\"", f);
        y += heading;
        grid(g, &a, y, y + step * (double)g->n, f);
        for (size_t k = 0; k < g->n; k++, y += step) {
            emb_chart_text(g->bar[k].label, left - 10.0, y + 0.5 * step + 5.0, 13.0, left - 24.0,
                           "end", "", f);
            bar_draw(&g->bar[k], &a, y + 0.15 * step, 0.7 * step, f);
        }
        fprintf(f, "<path d=\"M%.1f %.1fV%.1f\" stroke=\"#222\" stroke-width=\"1.5\"/>\n",
                emb_axis_px(&a, 0.0), y - step * (double)g->n, y);
        y += axis_room;
    }
    emb_chart_text(b->note, 18.0, b->height - 10.0, 11.0, b->width - 36.0, "start", "fill=\"#555\"",
                   f);
    fputs("</svg>\n", f);
}
