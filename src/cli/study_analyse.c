/* study_analyse.c - emberpipe study analyse FILE: which axes matter, as a table and as CSV. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/sensitivity.h"
#include "emberpipe/words.h"
#include "study_talk.h"
#include "study_verbs.h"

enum { WIDE = 21, WIDEST = 36 };
struct answer {
    const struct emb_cli_args *a;
    struct emb_study s;
    struct emb_analysis an;
    struct emb_units *u;
};

static bool is_screen(const struct answer *x)
{
    return x->an.design == EMB_DESIGN_SCREEN;
}

/* Largest first; what is not known last. */
static double weight(const struct answer *x, const struct emb_influence *f)
{
    const double v = is_screen(x) ? f->effect.value : f->total.value;
    return isfinite(v) ? v : -1.0;
}

static void ranks(const struct answer *x, const struct emb_sensitivity *o, size_t *order)
{
    for (size_t i = 0; i < x->an.n_axis; i++) {
        size_t k = i;
        for (; k > 0 && weight(x, &o->axis[order[k - 1]]) < weight(x, &o->axis[i]); k--) {
            order[k] = order[k - 1];
        }
        order[k] = i;
    }
}

static void cell(const char *text, int width)
{
    emb_write_cell(text, width, stdout);
}

static void row_screen(const struct emb_influence *f, const struct emb_plot_scale *s,
                       const char *unit)
{
    char size[64], both[64], drift[64], uneven[64];
    cell(emb_shown_change(s, unit, f->effect.value, false, size), WIDE);
    cell(emb_shown_band(s, unit, f->effect.lo, f->effect.hi, both), WIDEST);
    cell(emb_shown_change(s, unit, f->drift, true, drift), WIDE);
    cell(emb_shown_change(s, unit, f->uneven, false, uneven), WIDE);
}

static void share(const struct emb_band *b)
{
    char text[80];
    if (isfinite(b->value)) {
        snprintf(text, sizeof text, "%.1f %% (%.1f .. %.1f)", 100.0 * b->value, 100.0 * b->lo,
                 100.0 * b->hi);
    } else {
        snprintf(text, sizeof text, "none");
    }
    cell(text, 26);
}

static void head(const struct answer *x, size_t i, const struct emb_plot_scale *s)
{
    const struct emb_sensitivity *o = &x->an.output[i];
    const struct emb_study_output *out = &x->s.output[i];
    char mean[64], sd[64];
    printf("%s%s: %s\n  ", i > 0 ? "\n" : "", out->measure.text, out->meaning);
    if (o->used == 0) {
        printf("too few whole %s (cases of the others are missing, failed, or have no such number): "
               "finish the study, or keep .best instead of .time\n",
               is_screen(x) ? "paths" : "blocks");
        return;
    }
    printf("%zu of %zu %s", o->used, x->an.blocks, is_screen(x) ? "paths" : "blocks");
    printf("; mean %s, standard deviation %s\n", emb_shown_value(s, out->unit, o->mean, mean),
           emb_shown_change(s, out->unit, o->sd, false, sd));
    if (o->absent > 0) {
        printf("  mind: %zu left out, with a case that is missing, failed, or has no such number; "
               "what is said holds for the rest only\n",
               o->absent);
    }
    cell("", -4);
    if (is_screen(x)) {
        cell("effect", WIDE);
        cell("95 % interval", WIDEST);
        cell("mean change", WIDE);
        cell("uneven", WIDE);
    } else {
        cell("alone (95 %)", 26);
        cell("with others (95 %)", 26);
    }
    printf("   axis\n");
}

static void output_print(const struct answer *x, size_t i, size_t *order)
{
    const struct emb_sensitivity *o = &x->an.output[i];
    const char *unit = x->s.output[i].unit;
    struct emb_plot_scale s;
    char words[96], range[160];
    emb_shown_scale(x->u, unit, x->a->units, fabs(o->mean), &s);
    head(x, i, &s);
    ranks(x, o, order);
    for (size_t k = 0; o->used > 0 && k < x->an.n_axis; k++) {
        const struct emb_axis *axis = &x->s.axis[order[k]];
        printf("%3zu.", k + 1);
        if (is_screen(x)) {
            row_screen(&o->axis[order[k]], &s, unit);
        } else {
            share(&o->axis[order[k]].first);
            share(&o->axis[order[k]].total);
        }
        printf("   %s, %s\n", emb_study_axis_words(axis->key, words),
               emb_study_range(axis, x->u, range));
    }
}

static void note(const struct answer *x)
{
    if (is_screen(x)) {
        puts("\neffect: mean size of the change when the axis moves over its range and the others "
             "stand anywhere in theirs;\nuneven: how much that differs from place to place (bent, or "
             "it depends on other axes). Screening ranks; variance measures.");
    } else {
        puts("\nalone: share of the variance that would vanish on average if the axis were known; "
             "with others: share that would be\nleft if all others were known. Small negative "
             "numbers and wide intervals mean: more samples.");
    }
}

static void number(double v, FILE *f)
{
    fputc(',', f);
    if (isfinite(v)) {
        emb_write_number(v, f);
    }
}

static void band(const struct emb_band *b, FILE *f)
{
    number(b->value, f);
    number(b->lo, f);
    number(b->hi, f);
}

/* One line an output and axis, numbers in the unit that stands in the line. */
static void csv_write(const struct answer *x, FILE *f)
{
    fprintf(f, "output,unit,axis,used,absent,mean,sd,%s\n",
            is_screen(x) ? "effect,effect_low,effect_high,mean_change,uneven"
                         : "first [1],first_low [1],first_high [1],total [1],total_low "
                           "[1],total_high [1]");
    for (size_t i = 0; i < x->an.n_output; i++) {
        const struct emb_sensitivity *o = &x->an.output[i];
        for (size_t k = 0; o->used > 0 && k < x->an.n_axis; k++) {
            const struct emb_influence *e = &o->axis[k];
            fprintf(f, "%s,%s,%s,%zu,%zu", x->s.output[i].measure.text, x->s.output[i].unit,
                    x->s.axis[k].key, o->used, o->absent);
            number(o->mean, f);
            number(o->sd, f);
            band(is_screen(x) ? &e->effect : &e->first, f);
            if (is_screen(x)) {
                number(e->drift, f);
                number(e->uneven, f);
            } else {
                band(&e->total, f);
            }
            fputc('\n', f);
        }
    }
}

static enum emb_status tell(const struct answer *x, struct emb_err *err)
{
    struct emb_cli_file to = {0};
    enum emb_status st = EMB_OK;
    size_t *order = calloc(x->an.n_axis + 1, sizeof *order);
    if (order == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "study", "out of memory");
    }
    for (size_t i = 0; i < x->an.n_output; i++) {
        output_print(x, i, order);
    }
    note(x);
    free(order);
    if (x->a->out != NULL && (st = emb_cli_file_open(&to, x->a->out, err)) == EMB_OK) {
        csv_write(x, to.f);
        st = emb_cli_file_keep(&to, err);
        emb_cli_file_drop(&to);
    }
    if (st == EMB_OK && x->a->to != NULL) {
        st = emb_study_bars(x->a, &x->s, &x->an, x->u, err);
    }
    return st;
}

enum emb_status emb_study_analyse(const struct emb_cli_args *a, const char *file,
                                  struct emb_err *err)
{
    char name[300];
    struct answer x = {.a = a};
    struct emb_journal *j = NULL;
    enum emb_status st = emb_study_talk_load(file, &x.s, err);
    if (st != EMB_OK) {
        return st;
    }
    x.u = emb_units_new();
    st = x.u == NULL ? emb_fail(err, EMB_ERR_NOMEM, "study", "out of memory")
                     : emb_journal_read(emb_study_journal(a, file, name, sizeof name), &j, err);
    st = st == EMB_OK ? emb_analysis_make(&x.s, j, &x.an, err) : st;
    if (st == EMB_OK) {
        st = tell(&x, err);
        emb_analysis_free(&x.an);
    }
    emb_journal_close(j);
    emb_units_free(x.u);
    emb_study_free(&x.s);
    return st;
}
