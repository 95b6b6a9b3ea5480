/* likely_text.c - a likelihood in plain words. */
#include <math.h>
#include <string.h>

#include "emberpipe/likely.h"

enum { MOST = 5 }; /* unknowns named per question */

static void clock_print(double s, FILE *f)
{
    fprintf(f, "%d:%02d", (int)(s / 60.0), (int)fmod(s, 60.0));
}

static void range_print(const char *what, const struct emb_range *r, FILE *f)
{
    if (r->n > 0 && r->high > 1e-6) {
        fprintf(f, "%s: %.2f kg (80 %% of them: %.2f to %.2f kg)\n", what, r->mid, r->low, r->high);
    }
}

static void bias_print(const struct emb_likely_target *t, bool full, FILE *f)
{
    if (full) {
        return;
    }
    if (t->coarse_reached != t->full_reached) {
        fprintf(f, "  CAUTION: with the inputs as they are it is %s in a coarse run and %s in a full "
                "one: the question is\n  close; count with --full\n",
                t->coarse_reached ? "reached" : "not reached",
                t->full_reached ? "reached" : "not reached");
    } else if (t->full_reached) {
        fputs("  (with the inputs as they are: after ", f);
        clock_print(t->full_time, f);
        fputs("; in a coarse run after ", f);
        clock_print(t->coarse_time, f);
        fputs(")\n", f);
    }
}

/* As --set takes it: elements of the line by name, not by number. */
static void key_print(const struct emb_likely_input *in, FILE *f)
{
    const char *kind = strchr(in->place.path, '.'),
               *key = kind != NULL ? strchr(kind + 1, '.') : NULL;
    if (in->element[0] != '\0' && key != NULL) {
        fprintf(f, "line.%s%s", in->element, key);
    } else {
        fputs(in->place.path, f);
    }
}

/* What matters: first what to do about it, then what that tells. */
static void input_print(const struct emb_likely_input *in, double rank, bool *first, FILE *f)
{
    const struct emb_field *row = in->place.field;
    if (row->measure != NULL) {
        fprintf(f, "  %s %s\n               tells ",
                *first ? "check first:" : "then check: ", row->measure);
        *first = false;
    } else {
        fputs("  matters too, but no workshop can measure it:\n               ", f);
    }
    key_print(in, f);
    fprintf(f, " (%s): more of it %s, rank correlation %+.2f [-]\n", row->help,
            rank > 0.0 ? "helps" : "hurts", rank);
}

/* Correlations of n independent pairs scatter by 1/sqrt(n-1). Of a hundred unknowns without effect
 * one passes 2.6 times that; below 3.5 times is nothing. */
static void ranks_print(const struct emb_likely *l, const struct emb_likely_target *t, FILE *f)
{
    const double noise = 3.5 / sqrt((double)(l->n > 1 ? l->n - 1 : 1));
    size_t told[MOST], n = 0;
    while (n < MOST) {
        size_t best = l->n_input;
        for (size_t j = 0; j < l->n_input; j++) {
            bool used = fabs(t->rank[j]) < noise;
            for (size_t k = 0; k < n; k++) {
                used = used || told[k] == j;
            }
            if (!used && (best == l->n_input || fabs(t->rank[j]) > fabs(t->rank[best]))) {
                best = j;
            }
        }
        if (best == l->n_input) {
            break;
        }
        told[n++] = best;
    }
    if (n == 0) {
        fputs("  no single unknown stands out\n", f);
    }
    bool first = true;
    for (size_t k = 0; k < n; k++) {
        input_print(&l->input[told[k]], t->rank[told[k]], &first, f);
    }
}

void emb_likely_text(const struct emb_likely *l, FILE *f)
{
    const double n = (double)(l->n - l->failed);
    fprintf(f, "%s\n%.0f trucks drawn; %zu inputs that the case does not state vary by their "
            "plausible spread; seed %u.\n", l->title, n, l->n_input, l->seed);
    if (!l->full) {
        fprintf(f, "So many runs are coarse: at most %d cells in the longest brick (--cells) and fewer "
                "in shorter ones, one a pipe,\ntolerance %g, each ended once all questions are answered. "
                "What that shifts is said below;\n--full counts without it.\n",
                l->cells, l->rtol);
    }
    if (l->failed > 0) {
        fprintf(f, "CAUTION: %zu more runs could not be finished, or not with a closed energy book, "
                "and are not counted.\n", l->failed);
    }
    for (size_t k = 0; k < l->n_target; k++) {
        const struct emb_likely_target *t = &l->target[k];
        fprintf(f, "\n%s: %s\n  works in %.0f of 100 trucks like this (95 %% interval %.0f to "
                "%.0f)\n", t->name, t->what, 100.0 * (double)t->reached / fmax(n, 1.0),
                100.0 * t->lo, 100.0 * t->hi);
        if (t->time.n > 0) {
            fputs("  where it works, after ", f);
            clock_print(t->time.mid, f);
            fputs(" (80 % of them: ", f);
            clock_print(t->time.low, f);
            fputs(" to ", f);
            clock_print(t->time.high, f);
            fputs(" mm:ss)\n", f);
        }
        bias_print(t, l->full, f);
        ranks_print(l, t, f);
    }
    fputc('\n', f);
    fputs("Until all questions are answered, or to the end:\n", f);
    range_print("Fuel through the engine", &l->engine_fuel, f);
    range_print("Fuel dosed", &l->dosed_fuel, f);
    fputs("\nThe spreads are judgement (emberpipe explain KEY shows each), drawn independently; "
          "the count holds for\nthe model's trucks and a truck in front of you is one of them only "
          "as far as the case describes it.\n\nSAFETY: exhaust parts and the outlet get hot enough "
          "to start a fire, exhaust carries carbon monoxide; the\nmaker's procedure and local rules "
          "come first.\n", f);
}

void emb_likely_csv(const struct emb_likely *l, FILE *f)
{
    fputs("question,quantity,value,unit\n", f);
    for (size_t k = 0; k < l->n_target; k++) {
        const struct emb_likely_target *t = &l->target[k];
        const double n = (double)(l->n - l->failed);
        fprintf(f, "\"%s\",works in,%.6g,-\n\"%s\",lower,%.6g,-\n\"%s\",upper,%.6g,-\n", t->name,
                (double)t->reached / fmax(n, 1.0), t->name, t->lo, t->name, t->hi);
        if (t->time.n > 0) {
            fprintf(f, "\"%s\",time 10 %%,%.6g,s\n\"%s\",time 50 %%,%.6g,s\n\"%s\",time 90 %%,"
                    "%.6g,s\n", t->name, t->time.low, t->name, t->time.mid, t->name, t->time.high);
        }
        for (size_t j = 0; j < l->n_input; j++) {
            fprintf(f, "\"%s\",rank correlation of %s,%.4f,-\n", t->name, l->input[j].place.path,
                    t->rank[j]);
        }
    }
    if (l->engine_fuel.n > 0) {
        fprintf(f, ",engine fuel 10 %%,%.6g,kg\n,engine fuel 50 %%,%.6g,kg\n,engine fuel 90 %%,%.6g,"
                "kg\n", l->engine_fuel.low, l->engine_fuel.mid, l->engine_fuel.high);
        fprintf(f, ",dosed fuel 10 %%,%.6g,kg\n,dosed fuel 50 %%,%.6g,kg\n,dosed fuel 90 %%,%.6g,kg\n",
                l->dosed_fuel.low, l->dosed_fuel.mid, l->dosed_fuel.high);
    }
}
