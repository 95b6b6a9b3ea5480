/* study_search.c - emberpipe study search FILE: the best values of the axes, and how far to trust
 * them. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/study_search.h"
#include "emberpipe/words.h"
#include "signals.h"
#include "study_talk.h"
#include "study_verbs.h"

static void output_print(const struct emb_study *s, const struct emb_units *u, size_t i, double v)
{
    struct emb_plot_scale scale;
    char buf[64];
    emb_shown_scale(u, s->output[i].unit, NULL, fabs(v), &scale);
    printf("%s %s", s->output[i].measure.text, emb_shown_value(&scale, s->output[i].unit, v, buf));
}

static void axis_print(const struct emb_study *s, const struct emb_units *u, size_t i, double v)
{
    const struct emb_axis *a = &s->axis[i];
    struct emb_plot_scale scale;
    char words[96], buf[64];
    emb_study_axis_words(a->key, words);
    if (a->choice) {
        printf("%s %s", words, a->text[(size_t)v]);
        return;
    }
    emb_shown_scale(u, a->unit, NULL, fabs(v), &scale);
    printf("%s %s", words, emb_shown_value(&scale, a->unit, v, buf));
}

static void task_print(const struct emb_study *s, const struct emb_search *x,
                       const struct emb_units *u)
{
    printf("%s %s", x->maximise ? "largest" : "smallest", s->output[x->output].measure.text);
    for (size_t i = 0; i < x->n_limit; i++) {
        const struct emb_search_limit *l = &x->limit[i];
        struct emb_plot_scale scale;
        char buf[64];
        const char *unit = s->output[l->output].unit;
        emb_shown_scale(u, unit, NULL, fabs(l->value), &scale);
        printf("%s %s %s %s", i == 0 ? ", with" : " and", s->output[l->output].measure.text,
               l->below ? "below" : "above", emb_shown_value(&scale, unit, l->value, buf));
    }
    putchar('\n');
}

static void combination_print(const struct emb_study *s, const struct emb_search *x, size_t k,
                              const struct emb_units *u)
{
    const struct emb_search_best *b = &x->item[k];
    printf("%s ", k == x->best ? "*" : " ");
    if (b->runs == 0) {
        puts("not looked at");
        return;
    }
    for (size_t i = 0; i < s->n_axis; i++) {
        fputs(i > 0 ? ", " : "", stdout);
        axis_print(s, u, i, b->p.values[i]);
    }
    fputs("\n      ", stdout);
    for (size_t i = 0; i < s->n_output; i++) {
        fputs(i > 0 ? ", " : "", stdout);
        output_print(s, u, i, b->p.outputs[i]);
    }
    printf("\n      %zu cases", b->runs);
    if (b->failed > 0) {
        printf(", %zu of them failed, the first: %s%s%s", b->failed, b->why.where,
               b->why.where[0] != '\0' ? ": " : "", b->why.msg);
    }
    printf("%s\n", b->p.feasible ? ""
                   : !b->p.found ? "; the number looked for exists in none of them"
                                 : "; none of them is within the limits, this one comes nearest");
}

/* Keys as emberpipe run takes them: the canonical path of every place, and choices as texts. */
static void command_print(const struct emb_study *s, const struct emb_search_point *p,
                          const struct emb_units *u)
{
    size_t b = 0;
    char *base = emb_study_file_beside(&s->cfg, s->cfg.base);
    printf("  emberpipe run %s", base != NULL ? base : s->cfg.base);
    free(base);
    for (size_t i = 0; i < s->cfg.set.n; i++) {
        printf(" --set \"%s\"", s->cfg.set.item[i]);
    }
    for (size_t i = 0; i < s->n_axis; i++) {
        b = s->axis[i].choice ? b * s->axis[i].n_level + (size_t)p->values[i] : b;
    }
    const struct emb_place *place = s->place + b * s->n_place;
    for (size_t i = 0; i < s->n_axis; i++) {
        const struct emb_axis *a = &s->axis[i];
        if (a->choice) {
            printf(" --set \"%s=%s\"", a->key, a->text[(size_t)p->values[i]]);
        }
        for (size_t k = 0; k < a->n_key; k++, place++) {
            char text[64];
            printf(" --set \"%s=%s\"", place->path,
                   emb_quantity_format(u, p->values[i], a->dim, NULL, text, sizeof text));
        }
    }
    putchar('\n');
}

static void verdict_print(const struct emb_study *s, const struct emb_search *x,
                          const struct emb_units *u)
{
    if (x->best == x->n) {
        puts("\nno case within the limits was found: loosen them, widen the ranges, or allow more "
             "runs");
        return;
    }
    printf("\nbest (*), run once more: %s numbers", x->same ? "the same" : "OTHER");
    if (x->neighbours > 0) {
        printf("; of %zu neighbours (2 %% of a range away) %zu better by more than 0.1 %%",
               x->neighbours, x->better);
    }
    puts(x->better > 0 ? ": not at the end yet, give it more runs" : "");
    puts("try it:");
    command_print(s, &x->item[x->best].p, u);
    puts("A search sees what the model sees. What is calibrated, assumed or unvalidated stands in "
         "the report of that run;\nthe maker's procedure and local rules come first.");
}

static enum emb_status search(const struct emb_cli_args *a, const struct emb_study *s,
                              const struct emb_units *u, struct emb_err *err)
{
    struct emb_signals signals;
    struct emb_search x;
    int threads = 0;
    enum emb_status st = emb_study_threads(a, &threads, err);
    if (st != EMB_OK) {
        return st;
    }
    emb_signals_begin(&signals);
    st = emb_seek_run(s, threads, &signals.stop, &x, err);
    const bool stopped = atomic_load(&signals.stop);
    emb_signals_end(&signals);
    if (st != EMB_OK) {
        return st;
    }
    task_print(s, &x, u);
    for (size_t k = 0; k < x.n; k++) {
        combination_print(s, &x, k, u);
    }
    if (!stopped) {
        verdict_print(s, &x, u);
    }
    emb_seek_free(&x);
    return stopped ? emb_fail(err, EMB_STOPPED, "search", "stopped; what it had found is above, "
                                                          "a search starts over")
                   : EMB_OK;
}

enum emb_status emb_study_search(const struct emb_cli_args *a, const char *file,
                                 struct emb_err *err)
{
    struct emb_study s;
    enum emb_status st = emb_study_talk_load(file, &s, err);
    if (st != EMB_OK) {
        return st;
    }
    struct emb_units *u = emb_units_new();
    st = u != NULL ? search(a, &s, u, err)
                   : emb_fail(err, EMB_ERR_NOMEM, "study", "out of memory");
    emb_units_free(u);
    emb_study_free(&s);
    return st;
}
