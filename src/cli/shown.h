/* shown.h - units people read, and pictures on disk; shared by the commands that print or draw. */
#ifndef EMB_SHOWN_H
#define EMB_SHOWN_H
#include "cli.h"
#include "emberpipe/plot.h"
#include "emberpipe/units.h"

/* How an SI unit is shown: in the first unit of `wanted` (with commas; or NULL) that fits, whose
 * number is returned; else in the usual one, and -1. largest [SI]: of the values, picks min or h. */
int emb_shown_scale(const struct emb_units *u, const char *si, const char *wanted, double largest,
                    struct emb_plot_scale *out);
bool emb_shown_kelvin(const char *si);
/* "312 °C (594 °F)", "12.4 min". Returns buf. */
const char *emb_shown_value(const struct emb_plot_scale *s, const char *si, double value,
                            char buf[64]);
/* The same for a difference of two values: "12 K (22 °F)", with a sign if asked for. */
const char *emb_shown_change(const struct emb_plot_scale *s, const char *si, double value, bool sign,
                             char buf[64]);
/* The same for an interval of differences: "12 .. 14 K (22 .. 25 °F)". */
const char *emb_shown_band(const struct emb_plot_scale *s, const char *si, double lo, double hi,
                           char buf[64]);

/* --to must end in .svg, .png or .pdf; --size, 960x540 unless given, is left alone then. */
enum emb_status emb_shown_ending(const struct emb_cli_args *a, struct emb_err *err);
enum emb_status emb_shown_size(const struct emb_cli_args *a, double *width, double *height,
                               struct emb_err *err);
/* What draw writes as SVG, in the format that the file's name asks for; keeps the file. */
enum emb_status emb_shown_picture(void (*draw)(const void *what, FILE *f), const void *what,
                                  double width, double height, struct emb_cli_file *to,
                                  struct emb_err *err);
#endif
