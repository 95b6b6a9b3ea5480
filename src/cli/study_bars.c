/* study_bars.c - sensitivities as a picture: a group of bars for each output, the longest on top. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/chart.h"
#include "study_verbs.h"

struct sheet {
    const struct emb_study *s;
    const struct emb_analysis *an;
    const struct emb_units *u;
    const struct emb_cli_args *a;
    struct emb_bars bars;
    struct emb_bar_group *group;
    struct emb_bar *bar;           /* n_output x n_axis */
    char (*label)[96];             /* n_axis */
    char (*title)[300], (*unit)[40]; /* n_output */
};

static double length(const struct emb_bar *b)
{
    return isfinite(b->to) ? fabs(b->to) : -1.0;
}

/* Screening: the size of the effect with the sign of the mean change. Variance: alone within with
 * others. */
static struct emb_bar bar_of(const struct sheet *x, const struct emb_influence *f, double factor)
{
    if (x->an->design == EMB_DESIGN_VARIANCE) {
        return (struct emb_bar){.to = 100.0 * f->total.value,
                                .inner = 100.0 * fmax(f->first.value, 0.0),
                                .lo = 100.0 * f->total.lo,
                                .hi = 100.0 * f->total.hi};
    }
    const double by = f->drift < 0.0 ? -factor : factor;
    return (struct emb_bar){.to = by * f->effect.value,
                            .inner = NAN,
                            .lo = by * f->effect.lo,
                            .hi = by * f->effect.hi};
}

static void group_fill(struct sheet *x, size_t i)
{
    const struct emb_sensitivity *o = &x->an->output[i];
    const struct emb_study_output *out = &x->s->output[i];
    struct emb_bar *bar = x->bar + i * x->an->n_axis;
    struct emb_plot_scale scale;
    emb_shown_scale(x->u, out->unit, x->a->units, fabs(o->mean), &scale);
    const bool kelvin = emb_shown_kelvin(out->unit);
    const bool variance = x->an->design == EMB_DESIGN_VARIANCE;
    snprintf(x->title[i], sizeof x->title[i], "%.100s: %.180s", out->measure.text, out->meaning);
    snprintf(x->unit[i], sizeof x->unit[i], "%s", variance ? "%" : kelvin ? "K" : scale.unit);
    for (size_t k = 0; k < x->an->n_axis; k++) {
        struct emb_bar b = bar_of(x, &o->axis[k], kelvin ? 1.0 : scale.factor);
        size_t at = k;
        b.label = x->label[k];
        for (; at > 0 && length(&bar[at - 1]) < length(&b); at--) {
            bar[at] = bar[at - 1];
        }
        bar[at] = b;
    }
    x->group[x->bars.n++] =
        (struct emb_bar_group){x->title[i], x->unit[i], x->an->n_axis, bar};
}

static void draw(const void *bars, FILE *f)
{
    emb_bars_svg(bars, f);
}

static enum emb_status fill(struct sheet *x, struct emb_err *err)
{
    for (size_t k = 0; k < x->an->n_axis; k++) {
        emb_study_axis_words(x->s->axis[k].key, x->label[k]);
    }
    for (size_t i = 0; i < x->an->n_output; i++) {
        if (x->an->output[i].used > 0) {
            group_fill(x, i);
        }
    }
    if (x->bars.n == 0) {
        return emb_fail(err, EMB_ERR_CONFIG, "--to", "nothing to draw: no output has enough cases");
    }
    const double rows = (double)(x->bars.n * x->an->n_axis);
    x->bars.height = fmax(240.0, fmin(100.0 + 70.0 * (double)x->bars.n + 34.0 * rows, 4000.0));
    x->bars.group = x->group;
    x->bars.title = x->a->title != NULL         ? x->a->title
                    : x->s->cfg.title != NULL ? x->s->cfg.title
                                              : "";
    x->bars.note =
        x->an->design == EMB_DESIGN_VARIANCE
            ? "share of the variance: dark, of the axis alone; light, with the others; 95 % interval"
            : "mean size of the change when the axis moves over its range; to the left: falls as the "
              "axis rises (a list: towards its end); 95 % interval";
    return emb_shown_size(x->a, &x->bars.width, &x->bars.height, err);
}

enum emb_status emb_study_bars(const struct emb_cli_args *a, const struct emb_study *s,
                               const struct emb_analysis *an, const struct emb_units *u,
                               struct emb_err *err)
{
    struct sheet x = {.s = s, .an = an, .u = u, .a = a, .bars = {.width = 1100.0}};
    struct emb_cli_file to = {0};
    enum emb_status st = emb_shown_ending(a, err);
    if (st != EMB_OK) {
        return st;
    }
    x.group = calloc(an->n_output + 1, sizeof *x.group);
    x.bar = calloc(an->n_output * an->n_axis + 1, sizeof *x.bar);
    x.label = calloc(an->n_axis + 1, sizeof *x.label);
    x.title = calloc(an->n_output + 1, sizeof *x.title);
    x.unit = calloc(an->n_output + 1, sizeof *x.unit);
    const bool ok = x.group != NULL && x.bar != NULL && x.label != NULL && x.title != NULL &&
                    x.unit != NULL;
    st = ok ? fill(&x, err) : emb_fail(err, EMB_ERR_NOMEM, "--to", "out of memory");
    st = st == EMB_OK ? emb_cli_file_open(&to, a->to, err) : st;
    if (st == EMB_OK) {
        st = emb_shown_picture(draw, &x.bars, x.bars.width, x.bars.height, &to, err);
    }
    emb_cli_file_drop(&to);
    free(x.group);
    free(x.bar);
    free(x.label);
    free(x.title);
    free(x.unit);
    return st;
}
