/* plot.h - recorded series as a picture (SVG) for paper and slides.
 *
 * Series of one unit share a panel, panels share the x axis. Lines differ by dashes and by the
 * names at their ends, not by colour alone. The same input gives the same bytes. */
#ifndef EMB_PLOT_H
#define EMB_PLOT_H
#include <stddef.h>
#include <stdio.h>
#include "emberpipe/result.h"

enum { EMB_PLOT_SERIES = 16 };
struct emb_plot_scale {
    char unit[24];        /* as it is printed: "°C" */
    double factor, shift; /* [units per SI unit], [unit]: shown = factor * SI + shift */
};
struct emb_plot_series {
    size_t column; /* of the result */
    struct emb_plot_scale scale;
};
struct emb_plot {
    const struct emb_result *result;
    const char *title;    /* "" for none */
    double width, height; /* [px], 96 to the inch */
    struct emb_plot_series x, series[EMB_PLOT_SERIES];
    size_t n_series;
};
void emb_plot_svg(const struct emb_plot *p, FILE *f);
#endif
