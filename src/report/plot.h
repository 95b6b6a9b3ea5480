/* plot.h - between the files of the picture. Private to the report room. */
#ifndef EMB_REPORT_PLOT_H
#define EMB_REPORT_PLOT_H
#include "emberpipe/plot.h"

struct emb_axis {
    double lo, hi, step; /* [shown unit] */
    double p0, p1;       /* [px] where lo and hi lie */
};
/* Steps that read well; `time`: steps of minutes and hours rather than tens. p0, p1 are left alone. */
void emb_axis_choose(struct emb_axis *a, double lo, double hi, int most, bool time);
double emb_axis_first(const struct emb_axis *a); /* the lowest tick */
double emb_axis_px(const struct emb_axis *a, double v); /* [px] */
/* A tick as text, with the digits that its step needs. Returns buf. */
const char *emb_axis_text(const struct emb_axis *a, double v, char buf[32]);

struct emb_panel {
    const struct emb_plot *plot;
    const size_t *row; /* rows drawn */
    size_t n_row;
    const char *unit; /* series of this unit are in this panel */
    bool kelvin;      /* temperatures: targets are drawn */
    struct emb_axis x, y;
};
void emb_panel_draw(const struct emb_panel *p, FILE *f);
/* The name at the end of series i: for a temperature its element alone, where no other series has the
 * same; else all of it. Returns buf. */
const char *emb_plot_name(const struct emb_plot *p, size_t i, char buf[80]);
double emb_plot_value(const struct emb_plot *p, const struct emb_plot_series *s, size_t row);
/* Text content, with what markup means something escaped. */
void emb_svg_text(const char *s, FILE *f);
#endif
