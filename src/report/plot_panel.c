/* plot_panel.c - one panel of a picture: grid, phases, targets, lines, and their names. */
#include <math.h>
#include <string.h>

#include "plot.h"
#include "write.h"

/* Dark enough for white paper, apart for the colour-blind: after Okabe and Ito 2008, darkened. */
static const char *const pens[] = {"#000000", "#b34700", "#00639c", "#00694d",
                                   "#8d2f78", "#6b5200", "#444b9f", "#9c1c3a"};
static const char *const dashes[] = {"none", "12 5", "3 4", "14 4 3 4", "7 3", "2 6", "18 6", "5 3 1 3"};
enum { N_PEN = 8, LABEL_GAP = 17 };

void emb_svg_text(const char *s, FILE *f)
{
    for (; *s != '\0'; s++) {
        if (*s == '<') {
            fputs("&lt;", f);
        } else if (*s == '&') {
            fputs("&amp;", f);
        } else if (*s == '>') {
            fputs("&gt;", f);
        } else if ((unsigned char)*s >= 0x20 && *s != 0x7F) {
            fputc(*s, f);
        }
    }
}

double emb_plot_value(const struct emb_plot *p, const struct emb_plot_series *s, size_t row)
{
    return s->scale.factor * p->result->row[row * p->result->n_column + s->column] +
           s->scale.shift;
}

static void grid(const struct emb_panel *p, FILE *f)
{
    char buf[32];
    fputs("<g stroke=\"#dcd8ce\">", f);
    for (double v = emb_axis_first(&p->y); v <= p->y.hi + 1e-6 * p->y.step; v += p->y.step) {
        fprintf(f, "<path d=\"M%.1f %.1fH%.1f\"/>", p->x.p0, emb_axis_px(&p->y, v), p->x.p1);
    }
    for (double v = emb_axis_first(&p->x); v <= p->x.hi + 1e-6 * p->x.step; v += p->x.step) {
        fprintf(f, "<path d=\"M%.1f %.1fV%.1f\"/>", emb_axis_px(&p->x, v), p->y.p0, p->y.p1);
    }
    fputs("</g>\n<g text-anchor=\"end\">", f);
    for (double v = emb_axis_first(&p->y); v <= p->y.hi + 1e-6 * p->y.step; v += p->y.step) {
        fprintf(f, "<text x=\"%.1f\" y=\"%.1f\">%s</text>", p->x.p0 - 8.0,
                emb_axis_px(&p->y, v) + 5.0, emb_axis_text(&p->y, v, buf));
    }
    fprintf(f, "</g>\n<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"end\" font-weight=\"bold\">",
            p->x.p0 - 8.0, p->y.p1 - 12.0);
    emb_svg_text(p->unit[0] != '\0' ? p->unit : "-", f);
    fputs("</text>\n", f);
}

static void phases(const struct emb_panel *p, FILE *f)
{
    const struct emb_plot *q = p->plot;
    const struct emb_result *r = q->result;
    for (size_t i = 0; q->x.column == 0 && i < r->n_span; i++) {
        const double a = emb_axis_px(&p->x, q->x.scale.factor * r->span[i].t0 + q->x.scale.shift),
                     b = emb_axis_px(&p->x, q->x.scale.factor * r->span[i].t1 + q->x.scale.shift);
        if (i % 2 == 0) {
            fprintf(f, "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"#f3f0e8\"/>",
                    a, p->y.p1, b - a, p->y.p0 - p->y.p1);
        }
        if (b - a > 8.0 * (double)emb_text_width(r->span[i].name)) {
            fprintf(f, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"middle\" fill=\"#444\">",
                    0.5 * (a + b), p->y.p1 - 5.0);
            emb_svg_text(r->span[i].name, f);
            fputs("</text>", f);
        }
    }
}

static void target(const struct emb_panel *p, const struct emb_verdict *v, double shown, bool below,
                   FILE *f)
{
    const double y = emb_axis_px(&p->y, shown);
    fprintf(f,
            "<path d=\"M%.1f %.1fH%.1f\" stroke=\"#555\" stroke-dasharray=\"2 4\"/>"
            "<text x=\"%.1f\" y=\"%.1f\" fill=\"#333\">",
            p->x.p0, y, p->x.p1, p->x.p0 + 6.0, below ? y + 16.0 : y - 5.0);
    emb_svg_text(v->name, f);
    fprintf(f, ": %.0f ", shown);
    emb_svg_text(p->unit, f);
    fputs("</text>\n", f);
}

/* Temperatures that were asked for, from the highest down. Two close ones are named above and below
 * their lines. */
static void targets(const struct emb_panel *p, FILE *f)
{
    const struct emb_plot *q = p->plot;
    const struct emb_plot_scale *s = NULL;
    double before = INFINITY;
    for (size_t i = 0; i < q->n_series; i++) {
        s = s == NULL && strcmp(q->series[i].scale.unit, p->unit) == 0 ? &q->series[i].scale : s;
    }
    for (int told = 0; p->kelvin && s != NULL; told++) {
        const struct emb_verdict *next = NULL;
        for (size_t i = 0; i < q->result->n_verdict; i++) {
            const struct emb_verdict *v = &q->result->verdict[i];
            if (v->is_temperature && v->value < before && (next == NULL || v->value > next->value)) {
                next = v;
            }
        }
        if (next == NULL) {
            return;
        }
        before = next->value;
        const double shown = s->factor * next->value + s->shift;
        if (shown > p->y.lo && shown < p->y.hi) {
            target(p, next, shown, told % 2 == 1, f);
        }
    }
}

static double line(const struct emb_panel *p, const struct emb_plot_series *s, size_t pen, FILE *f)
{
    double last = NAN;
    bool down = false;
    fprintf(f,
            "<path fill=\"none\" stroke=\"%s\" stroke-width=\"2.4\" stroke-linejoin=\"round\" "
            "stroke-dasharray=\"%s\" d=\"",
            pens[pen % N_PEN], dashes[(pen + pen / N_PEN) % N_PEN]);
    for (size_t i = 0; i < p->n_row; i++) {
        const double x = emb_plot_value(p->plot, &p->plot->x, p->row[i]),
                     y = emb_plot_value(p->plot, s, p->row[i]);
        if (!isfinite(x) || !isfinite(y)) {
            down = false;
            continue;
        }
        last = emb_axis_px(&p->y, y);
        fprintf(f, "%c%.1f %.1f", down ? 'L' : 'M', emb_axis_px(&p->x, x), last);
        down = true;
    }
    fputs("\"/>\n", f);
    return last;
}

/* Names at the ends of the lines, from top to bottom, moved apart where they would cover each
 * other. */
static void names(const struct emb_panel *p, const double *end, FILE *f)
{
    size_t order[EMB_PLOT_SERIES], n = 0;
    double at[EMB_PLOT_SERIES];
    char buf[80];
    for (size_t i = 0; i < p->plot->n_series; i++) {
        size_t k = n;
        if (!isfinite(end[i])) {
            continue;
        }
        for (; k > 0 && end[order[k - 1]] > end[i]; k--) {
            order[k] = order[k - 1];
        }
        order[k] = i;
        n++;
    }
    for (size_t k = 0; k < n; k++) {
        at[k] = k > 0 ? fmax(end[order[k]], at[k - 1] + LABEL_GAP) : end[order[k]];
    }
    double low = p->y.p0;
    for (size_t k = n; k-- > 0; low -= LABEL_GAP) {
        at[k] = fmin(at[k], low);
    }
    for (size_t k = 0; k < n; k++) {
        fprintf(f, "<text x=\"%.1f\" y=\"%.1f\" fill=\"%s\">", p->x.p1 + 8.0, at[k] + 5.0,
                pens[order[k] % N_PEN]);
        emb_svg_text(emb_plot_name(p->plot, order[k], buf), f);
        fputs("</text>", f);
    }
}

void emb_panel_draw(const struct emb_panel *p, FILE *f)
{
    double end[EMB_PLOT_SERIES];
    phases(p, f);
    grid(p, f);
    targets(p, f);
    for (size_t i = 0; i < p->plot->n_series; i++) {
        const bool here = strcmp(p->plot->series[i].scale.unit, p->unit) == 0;
        end[i] = here ? line(p, &p->plot->series[i], i, f) : NAN;
    }
    names(p, end, f);
    fprintf(f, "\n<path d=\"M%.1f %.1fV%.1fH%.1f\" fill=\"none\" stroke=\"#222\"/>\n", p->x.p0,
            p->y.p1, p->y.p0, p->x.p1);
}
