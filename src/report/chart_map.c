/* chart_map.c - one number over two axes: coloured cells with their values, a panel for each value of
 * a third axis, one colour scale for all. */
#include <math.h>
#include <string.h>

#include "chart.h"
#include "emberpipe/chart.h"
#include "emberpipe/words.h"

/* Viridis (van der Walt & Smith 2015, CC0), every 32nd entry from memory: even steps of lightness,
 * readable for the colour-blind and in grey. */
static const unsigned char ramp[][3] = {{68, 1, 84},    {71, 44, 122},  {59, 81, 139},
                                        {44, 113, 142}, {33, 144, 141}, {39, 173, 129},
                                        {92, 200, 99},  {170, 220, 50}, {253, 231, 37}};
enum { RAMP = sizeof ramp / sizeof *ramp - 1, COLUMNS = 4, STRIPES = 64 };
static const double top = 96.0, foot = 128.0, gap = 22.0, heading = 30.0; /* [px] */

struct layout {
    const struct emb_map *m;
    double left, wide, tall; /* [px] of a panel; left: room for the texts of y */
    size_t columns, rows;
    struct emb_axis scale; /* of the colours */
    int digits;
};

static void colour(const struct layout *l, double v, int rgb[3])
{
    const double at = (v - l->scale.lo) / (l->scale.hi - l->scale.lo);
    const double x = fmin(fmax(at, 0.0), 1.0) * RAMP;
    const int k = x >= RAMP ? RAMP - 1 : (int)x;
    for (int i = 0; i < 3; i++) {
        rgb[i] = (int)(ramp[k][i] + (x - k) * (ramp[k + 1][i] - ramp[k][i]) + 0.5);
    }
}

/* Dark letters on light colours: weights of ITU-R BT.601. */
static bool is_light(const int rgb[3])
{
    return 0.299 * rgb[0] + 0.587 * rgb[1] + 0.114 * rgb[2] > 140.0;
}

static void scale_choose(struct layout *l)
{
    const struct emb_map *m = l->m;
    const size_t n = m->panel.n * m->y.n * m->x.n;
    double lo = INFINITY, hi = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        if (m->cell[i] == EMB_MAP_VALUE) {
            lo = fmin(lo, m->value[i]);
            hi = fmax(hi, m->value[i]);
        }
    }
    lo = isfinite(lo) ? lo : 0.0;
    hi = isfinite(hi) ? hi : 1.0;
    emb_axis_choose(&l->scale, lo, hi, 6, false);
    if (hi > lo) { /* colours for what there is; ticks that read well inside */
        l->scale.lo = lo;
        l->scale.hi = hi;
    }
    const double span = l->scale.hi - l->scale.lo;
    l->digits = span >= 20.0 ? 0 : span >= 2.0 ? 1 : span >= 0.2 ? 2 : 3;
}

static void layout_make(const struct emb_map *m, struct layout *l)
{
    size_t longest = 0;
    *l = (struct layout){.m = m};
    for (size_t i = 0; i < m->y.n; i++) {
        const size_t n = emb_text_width(m->y.tick[i]);
        longest = n > longest ? n : longest;
    }
    l->left = fmin(52.0 + 8.0 * (double)longest, 0.3 * m->width);
    l->columns = m->panel.n < COLUMNS ? m->panel.n : COLUMNS;
    l->rows = (m->panel.n + l->columns - 1) / l->columns;
    l->wide = (m->width - l->left - 20.0 - gap * (double)(l->columns - 1)) / (double)l->columns;
    l->tall = (m->height - top - foot - (heading + gap) * (double)(l->rows - 1)) / (double)l->rows;
    scale_choose(l);
}

/* The text of a cell and its remarks, around the middle (x, y); what does not fit is left out. */
static void cell_texts(const struct layout *l, size_t i, const char *text, double x, double y,
                       double w, double h, const char *fill, FILE *f)
{
    const struct emb_map *m = l->m;
    const double size = fmin(m->cell[i] == EMB_MAP_VALUE ? 15.0 : 12.0, 0.55 * h), small = 10.5;
    const char *const *remark = m->remark != NULL ? m->remark + EMB_MAP_REMARKS * i : NULL;
    size_t more = 0;
    while (remark != NULL && more < EMB_MAP_REMARKS && remark[more] != NULL &&
           size + ((double)more + 1.0) * 1.2 * small < 0.9 * h) {
        more++;
    }
    y += 0.35 * size - 0.6 * small * (double)more;
    if (size >= 7.0 && 0.58 * 7.0 * (double)emb_text_width(text) < w) {
        emb_chart_text(text, x, y, size, w - 4.0, "middle", fill, f);
        for (size_t k = 0; k < more; k++) {
            emb_chart_text(remark[k], x, y + 1.25 * small * ((double)k + 1.0), small, w - 4.0,
                           "middle", fill, f);
        }
    }
}

static void cell_draw(const struct layout *l, size_t i, double x, double y, double w, double h,
                      FILE *f)
{
    static const char *const words[] = {"", "", "failed", "not run"};
    const struct emb_map *m = l->m;
    const unsigned char kind = m->cell[i];
    char text[40];
    bool light = true;
    int rgb[3] = {255, 255, 255};
    if (kind == EMB_MAP_VALUE) {
        colour(l, m->value[i], rgb);
        light = is_light(rgb);
        snprintf(text, sizeof text, "%.*f", l->digits, m->value[i]);
        fprintf(f,
                "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" "
                "fill=\"#%02x%02x%02x\"/>\n",
                x, y, w, h, (unsigned)rgb[0], (unsigned)rgb[1], (unsigned)rgb[2]);
    } else {
        snprintf(text, sizeof text, "%s", kind == EMB_MAP_NONE ? m->none : words[kind]);
        fprintf(f,
                "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"%s\"/>\n", x, y,
                w, h, kind == EMB_MAP_NONE ? "url(#hatch)" : "#fff");
    }
    cell_texts(l, i, text, x + 0.5 * w, y + 0.5 * h, w, h,
               kind != EMB_MAP_VALUE ? "fill=\"#666\""
               : light               ? "fill=\"#222\""
                                     : "fill=\"#fff\"",
               f);
}

/* Texts under the cells; where they would touch, every second or third only. */
static void ticks_x(const struct layout *l, double x0, double y0, FILE *f)
{
    const struct emb_map *m = l->m;
    const double w = l->wide / (double)m->x.n;
    size_t longest = 1;
    for (size_t i = 0; i < m->x.n; i++) {
        const size_t n = emb_text_width(m->x.tick[i]);
        longest = n > longest ? n : longest;
    }
    const size_t every = (size_t)ceil((7.5 * (double)longest + 6.0) / w);
    for (size_t i = 0; i < m->x.n; i += every > 0 ? every : 1) {
        emb_chart_text(m->x.tick[i], x0 + ((double)i + 0.5) * w, y0 + 18.0, 13.0, 0.0, "middle", "",
                       f);
    }
}

static void panel_draw(const struct layout *l, size_t p, FILE *f)
{
    const struct emb_map *m = l->m;
    const size_t column = p % l->columns, row = p / l->columns;
    const double x0 = l->left + (double)column * (l->wide + gap),
                 y0 = top + (double)row * (l->tall + heading + gap);
    const double w = l->wide / (double)m->x.n, h = l->tall / (double)m->y.n;
    emb_chart_text(m->panel.tick[p], x0 + 0.5 * l->wide, y0 - 9.0, 15.0, l->wide, "middle",
                   "font-weight=\"bold\"", f);
    for (size_t r = 0; r < m->y.n; r++) {
        const double y = y0 + l->tall - (double)(r + 1) * h;
        for (size_t c = 0; c < m->x.n; c++) {
            cell_draw(l, (p * m->y.n + r) * m->x.n + c, x0 + (double)c * w, y, w, h, f);
        }
        const size_t every = (size_t)ceil(16.0 / h);
        if (column == 0 && r % every == 0) {
            emb_chart_text(m->y.tick[r], x0 - 8.0, y + 0.5 * h + 5.0, 13.0, l->left - 34.0, "end", "",
                           f);
        }
    }
    fprintf(f,
            "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"none\" "
            "stroke=\"#444\"/>\n",
            x0, y0, l->wide, l->tall);
    ticks_x(l, x0, y0 + l->tall, f);
}

static void key_draw(const struct emb_map *m, double x, double y, FILE *f)
{
    char text[160];
    fprintf(f,
            "<rect x=\"%.1f\" y=\"%.1f\" width=\"22\" height=\"14\" fill=\"url(#hatch)\" "
            "stroke=\"#aaa\"/>\n",
            x, y);
    snprintf(text, sizeof text, "%s%s%s", m->none, m->none_remark != NULL ? "; " : "",
             m->none_remark != NULL ? m->none_remark : "");
    emb_chart_text(text, x + 28.0, y + 12.0, 13.0, m->width - x - 40.0, "start", "", f);
}

static void scale_draw(const struct layout *l, FILE *f)
{
    const struct emb_map *m = l->m;
    const double x0 = l->left, y = m->height - 62.0, w = 0.5 * (m->width - l->left - 20.0);
    struct emb_axis a = l->scale;
    char buf[32], unit[64];
    a.p0 = x0;
    a.p1 = x0 + w;
    for (int i = 0; i < STRIPES; i++) {
        int rgb[3];
        colour(l, a.lo + (i + 0.5) / STRIPES * (a.hi - a.lo), rgb);
        fprintf(f,
                "<rect x=\"%.2f\" y=\"%.1f\" width=\"%.2f\" height=\"14\" "
                "fill=\"#%02x%02x%02x\"/>\n",
                x0 + i * w / STRIPES, y, w / STRIPES + 0.3, (unsigned)rgb[0], (unsigned)rgb[1],
                (unsigned)rgb[2]);
    }
    for (double v = emb_axis_first(&a); v <= a.hi + 1e-6 * a.step; v += a.step) {
        const double x = emb_axis_px(&a, v);
        char both[80];
        fprintf(f, "<path d=\"M%.1f %.1fv5\" stroke=\"#444\"/>", x, y + 14.0);
        snprintf(both, sizeof both, m->unit2 != NULL ? "%s (%.0f)" : "%s",
                 emb_axis_text(&a, v, buf), m->factor2 * v + m->shift2);
        emb_chart_text(both, x, y + 32.0, 12.0, 0.0, "middle", "", f);
    }
    snprintf(unit, sizeof unit, m->unit2 != NULL ? "%s (%s)" : "%s", m->unit, m->unit2);
    emb_chart_text(unit, a.p1 + 8.0, y + 12.0, 13.0, 0.0, "start", "", f);
    if (memchr(m->cell, EMB_MAP_NONE, m->panel.n * m->y.n * m->x.n) != NULL) {
        key_draw(m, a.p1 + 70.0, y, f);
    }
}

void emb_map_svg(const struct emb_map *m, FILE *f)
{
    struct layout l;
    char turn[80];
    layout_make(m, &l);
    emb_chart_head(m->title, m->width, m->height, f);
    emb_chart_text(m->what, 18.0, 54.0, 15.0, m->width - 36.0, "start", "fill=\"#333\"", f);
    for (size_t p = 0; p < m->panel.n; p++) {
        panel_draw(&l, p, f);
    }
    const double bottom = m->height - foot, middle = 0.5 * (top + bottom);
    emb_chart_text(m->x.label, 0.5 * (l.left + m->width - 20.0), bottom + 40.0, 14.0, 0.0, "middle",
                   "", f);
    snprintf(turn, sizeof turn, "transform=\"rotate(-90 22 %.1f)\"", middle);
    emb_chart_text(m->y.label, 22.0, middle, 14.0, bottom - top, "middle", turn, f);
    scale_draw(&l, f);
    emb_chart_text(m->note, 18.0, m->height - 10.0, 11.0, m->width - 36.0, "start", "fill=\"#555\"",
                   f);
    fputs("</svg>\n", f);
}
