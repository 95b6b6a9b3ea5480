/* chart.h - pictures of studies (SVG): maps of one number over two axes, and bars of influence. Plain
 * data in, all numbers already in the unit that is shown; the same input gives the same bytes. */
#ifndef EMB_CHART_H
#define EMB_CHART_H
#include <stddef.h>
#include <stdio.h>

struct emb_map_axis {
    const char *label;       /* "idle speed [rpm]" */
    size_t n;                /* cells along it */
    const char *const *tick; /* their texts */
};
enum emb_map_cell { EMB_MAP_VALUE, EMB_MAP_NONE, EMB_MAP_FAILED, EMB_MAP_MISSING };
struct emb_map {
    const char *title, *what, *note; /* what: the number that is shown; note: below, "" for none */
    const char *none;                /* what a case without a number means: "never" */
    const char *unit;
    double width, height; /* [px] */
    struct emb_map_axis x, y, panel; /* y from the bottom up; panel.tick: headings */
    const double *value;             /* [unit] panel after panel, row after row */
    const unsigned char *cell;       /* enum emb_map_cell of each */
    /* EMB_MAP_REMARKS small lines under the text of each cell, NULL: no more; NULL: nowhere any */
    const char *const *remark;
    const char *none_remark; /* what they mean where there is no number, NULL: nothing */
    /* the same colours in another unit, NULL: none: factor * value + shift */
    const char *unit2;
    double factor2, shift2; /* [unit2/unit], [unit2] */
};
void emb_map_svg(const struct emb_map *m, FILE *f);
enum { EMB_MAP_PANELS = 24, EMB_MAP_REMARKS = 3 };

/* Bars from `from` to `to`; a darker one inside from `from` to `inner` (NaN: none), a whisker from lo
 * to hi (NaN: none). All [unit of the group]. */
struct emb_bar {
    const char *label;
    double from, to, inner, lo, hi; /* [unit of the group] */
};
struct emb_bar_group { /* a panel with a scale of its own; the first bar on top */
    const char *title, *unit;
    size_t n;
    const struct emb_bar *bar;
};
struct emb_bars {
    const char *title, *note;
    double width, height; /* [px] */
    size_t n;
    const struct emb_bar_group *group;
};
void emb_bars_svg(const struct emb_bars *b, FILE *f);
#endif
