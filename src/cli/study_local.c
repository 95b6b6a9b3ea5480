/* study_local.c - emberpipe study local FILE: slopes around the base case. */
#include <math.h>

#include "emberpipe/study_local.h"
#include "emberpipe/words.h"
#include "signals.h"
#include "study_talk.h"
#include "study_verbs.h"

enum { WIDE = 26 };

/* What the output does when the axis moves up by its step, from the slope. */
static void row_print(const struct emb_study *s, const struct emb_local *l, size_t o, size_t k,
                      const struct emb_units *u)
{
    const struct emb_axis *a = &s->axis[k];
    struct emb_plot_scale from, to;
    char words[96], step[64], at[64], change[64], error[64];
    emb_shown_scale(u, a->unit, NULL, fabs(l->at[k]), &from);
    emb_shown_scale(u, s->output[o].unit, NULL, fabs(l->base[o]), &to);
    emb_study_axis_words(a->key, words);
    const double slope = l->slope[o * l->n_axis + k], miss = l->error[o * l->n_axis + k];
    emb_write_cell(emb_shown_change(&to, s->output[o].unit, slope * l->step[k], true, change), WIDE,
                   stdout);
    emb_write_cell(emb_shown_change(&to, s->output[o].unit, miss * l->step[k], false, error), WIDE,
                   stdout);
    const double other = l->tangent[o * l->n_axis + k];
    emb_write_cell(emb_shown_change(&to, s->output[o].unit, other * l->step[k], true, change), WIDE,
                   stdout);
    printf("   %s from %s by %s\n", words, emb_shown_value(&from, a->unit, l->at[k], at),
           emb_shown_change(&from, a->unit, l->step[k], true, step));
}

static void output_print(const struct emb_study *s, const struct emb_local *l, size_t o,
                         const struct emb_units *u)
{
    struct emb_plot_scale scale;
    char base[64];
    emb_shown_scale(u, s->output[o].unit, NULL, fabs(l->base[o]), &scale);
    printf("%s: %s\n  base case: %s\n", s->output[o].measure.text, s->output[o].meaning,
           emb_shown_value(&scale, s->output[o].unit, l->base[o], base));
    emb_write_cell("change", WIDE, stdout);
    emb_write_cell("uncertain by", WIDE, stdout);
    emb_write_cell("by forward sensitivities", WIDE, stdout);
    printf("   when\n");
    for (size_t k = 0; k < l->n_axis; k++) {
        if (isfinite(l->at[k])) {
            row_print(s, l, o, k, u);
        }
    }
    putchar('\n');
}

static void csv_write(const struct emb_study *s, const struct emb_local *l, FILE *f)
{
    fputs("output,output_unit,axis,axis_unit,base_output,base_axis,slope,error,sensitivity\n", f);
    for (size_t o = 0; o < l->n_output; o++) {
        for (size_t k = 0; k < l->n_axis; k++) {
            const double v[] = {l->base[o], l->at[k], l->slope[o * l->n_axis + k],
                                l->error[o * l->n_axis + k], l->tangent[o * l->n_axis + k]};
            fprintf(f, "%s,%s,%s,%s", s->output[o].measure.text, s->output[o].unit, s->axis[k].key,
                    s->axis[k].unit);
            for (size_t i = 0; i < sizeof v / sizeof *v; i++) {
                fputc(',', f);
                if (isfinite(v[i])) {
                    emb_write_number(v[i], f);
                }
            }
            fputc('\n', f);
        }
    }
}

static enum emb_status tell(const struct emb_cli_args *a, const struct emb_study *s,
                            const struct emb_local *l, struct emb_err *err)
{
    struct emb_cli_file to = {0};
    enum emb_status st = EMB_OK;
    struct emb_units *u = emb_units_new();
    if (u == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "study", "out of memory");
    }
    for (size_t o = 0; o < l->n_output; o++) {
        output_print(s, l, o, u);
    }
    printf("%zu runs, %zu failed; lists stay at their first entry. None: an output that does not "
           "exist in all four runs\nof an axis, or an axis that stands at the end of what is "
           "allowed.\n",
           l->runs, l->failed);
    for (size_t k = 0; k < l->n_axis; k++) {
        if (l->lost[k][0] != '\0') {
            printf("no sensitivities to %s: %s\n", s->axis[k].key, l->lost[k]);
        }
    }
    if (l->failed > 0) {
        printf("one failed because: %s%s%s\n", l->why.where, l->why.where[0] != '\0' ? ": " : "",
               l->why.msg);
    }
    emb_units_free(u);
    if (a->out != NULL && (st = emb_cli_file_open(&to, a->out, err)) == EMB_OK) {
        csv_write(s, l, to.f);
        st = emb_cli_file_keep(&to, err);
        emb_cli_file_drop(&to);
    }
    return st;
}

enum emb_status emb_study_local(const struct emb_cli_args *a, const char *file, struct emb_err *err)
{
    struct emb_study s;
    struct emb_local l;
    struct emb_signals signals;
    int threads = 0;
    enum emb_status st = emb_study_threads(a, &threads, err);
    st = st == EMB_OK ? emb_study_talk_load(file, &s, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    emb_signals_begin(&signals);
    st = emb_local_run(&s, threads, &signals.stop, &l, err);
    const bool stopped = atomic_load(&signals.stop);
    emb_signals_end(&signals);
    if (st == EMB_OK) {
        st = stopped ? emb_fail(err, EMB_STOPPED, "local", "stopped; it starts over when run again")
                     : tell(a, &s, &l, err);
        emb_local_free(&l);
    }
    emb_study_free(&s);
    return st;
}
