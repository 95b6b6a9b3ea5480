/* diagnose_text.c - the diagnosis in plain words. It names explanations, never culprits. */
#include <math.h>
#include <string.h>

#include "emberpipe/diagnose.h"

static void value_print(const struct emb_diagnosis *d, const struct emb_fitted *p, FILE *f)
{
    const struct emb_knob *k = &d->knob[p->knob];
    const bool kelvin = strcmp(k->unit, "K") == 0;
    if (kelvin) {
        fprintf(f, "%s %+.1f K, %+.1f to %+.1f K (%+.1f °F, %+.1f to %+.1f °F)", k->what, p->value,
                p->lo, p->hi, 1.8 * p->value, 1.8 * p->lo, 1.8 * p->hi);
    } else {
        fprintf(f, "%s %.1f %%, %.1f to %.1f %%", k->what, p->value, p->lo, p->hi);
    }
    if (fabs(k->healthy - (kelvin ? 0.0 : 100.0)) > 1e-9) {
        fprintf(f, " (case: %.3g %s)", k->healthy, k->unit);
    }
    if (p->edge) {
        fputs(" [at the end of what is possible]", f);
    }
}

static void explanation_print(const struct emb_diagnosis *d, const struct emb_explanation *e,
                              FILE *f)
{
    if (e->n == 0) {
        fputs("the case as it is", f);
    }
    for (size_t j = 0; j < e->n; j++) {
        fputs(j > 0 ? "\n           and " : "", f);
        value_print(d, &e->part[j], f);
    }
    if (e->n == 2 && fabs(e->correlation) > 0.95) {
        fprintf(f, "\n           (only the two together are known: correlation %+.2f)",
                e->correlation);
    }
    fputc('\n', f);
}

static void list_print(const struct emb_diagnosis *d, FILE *f)
{
    fputs("\nExplanations, best first; each with its fitted value and 95 % interval\n"
          "   left    behind\n"
          "  [K rms]  the best\n", f);
    size_t pairs = 0;
    for (size_t i = 0; i < d->n_explanation; i++) {
        const struct emb_explanation *e = &d->explanation[i];
        if (e->n == 2 && pairs++ >= 4 && !e->as_good) {
            continue; /* every single is told, of the pairs the best */
        }
        fprintf(f, "%c %6.2f %8.1f  ", e->as_good ? '*' : ' ', e->rms,
                e->score - d->explanation[0].score);
        explanation_print(d, e, f);
    }
    fputs("* cannot be told from the best by this log: less than 6 behind by Akaike's criterion over "
          "the\n  effective number of observations, or leaving less than 5 % more\n", f);
}

/* The best explanation and the simplest one that is as good. */
static const struct emb_explanation *simplest(const struct emb_diagnosis *d)
{
    const struct emb_explanation *best = &d->explanation[0];
    for (size_t i = 1; i < d->n_explanation; i++) {
        const struct emb_explanation *e = &d->explanation[i];
        best = e->as_good && e->n < best->n ? e : best;
    }
    return best;
}

static bool knob_in(const struct emb_explanation *e, size_t knob)
{
    return (e->n > 0 && e->part[0].knob == knob) || (e->n > 1 && e->part[1].knob == knob);
}

static void checks_print(const struct emb_diagnosis *d, FILE *f)
{
    bool told[EMB_N_KNOB_KIND] = {false};
    fputs("\nNext physical checks, in the order of the list\n", f);
    for (size_t i = 0; i < d->n_explanation; i++) {
        const struct emb_explanation *e = &d->explanation[i];
        for (size_t j = 0; e->as_good && j < e->n; j++) {
            const struct emb_knob *k = &d->knob[e->part[j].knob];
            if (!told[k->kind]) {
                fprintf(f, "- %s: %s\n", k->what, emb_knob_check(k->kind));
                told[k->kind] = true;
            }
        }
    }
}

static void alike_print(const struct emb_diagnosis *d, FILE *f)
{
    if (d->n_alike == 0) {
        return;
    }
    fputs("\nThese move the readings of this log nearly the same way; no fit of it can tell them "
          "apart:\n", f);
    for (size_t i = 0; i < d->n_alike; i++) {
        fprintf(f, "- %s  and  %s\n", d->knob[d->alike[i].a].what, d->knob[d->alike[i].b].what);
    }
}

static size_t singles_as_good(const struct emb_diagnosis *d, const struct emb_explanation *s)
{
    size_t n = 0;
    for (size_t i = 0; i < d->n_explanation; i++) {
        n += &d->explanation[i] != s && d->explanation[i].as_good && d->explanation[i].n <= s->n;
    }
    return n;
}

static void summary_print(const struct emb_diagnosis *d, FILE *f)
{
    const struct emb_explanation *s = simplest(d);
    const size_t others = singles_as_good(d, s);
    fputs("\nIn short: ", f);
    if (s->n == 0) {
        fprintf(f, "nothing needs explaining. The case as it is leaves %.1f K rms (%.1f °F), and "
                "no single\ncondition or pair explains clearly more.\n", s->rms, 1.8 * s->rms);
        return;
    }
    fputs("what fits best with the fewest assumptions is\n    ", f);
    explanation_print(d, s, f);
    if (others > 0) {
        fprintf(f, "but %zu other explanation%s fit%s as well (marked *). ", others,
                others == 1 ? "" : "s", others == 1 ? "s" : "");
    }
    for (size_t i = 0; i < d->n_alike; i++) {
        const size_t a = d->alike[i].a, b = d->alike[i].b;
        if (knob_in(s, a) || knob_in(s, b)) {
            fprintf(f, "It cannot be told from '%s' with these sensors.\n",
                    d->knob[knob_in(s, a) ? b : a].what);
        }
    }
    for (size_t i = 0; i < d->n_explanation; i++) {
        if (d->explanation[i].n == 0) {
            fprintf(f, "\nUnexplained it would be %.1f K rms (%.1f °F); explained so %.1f K "
                    "(%.1f °F) are left.\n", d->explanation[i].rms, 1.8 * d->explanation[i].rms,
                    s->rms, 1.8 * s->rms);
        }
    }
    if (s->rms > 15.0) { /* judgement: a model of typical parts should do better */
        fputs("That is a lot: the true cause may not be in this list, or the case does not "
              "describe this line.\n", f);
    }
}

void emb_diagnosis_text(const struct emb_diagnosis *d, FILE *f)
{
    fprintf(f, "%s\n", d->title);
    for (size_t i = 0; i < d->compared.n_note; i++) {
        fprintf(f, "note: %s\n", d->compared.note[i]);
    }
    fprintf(f, "%zu readings of %zu sensors, as independent as %.0f; %zu runs of the model.\n",
            d->n_observation, d->compared.n_sensor, d->effective, d->runs);
    summary_print(d, f);
    list_print(d, f);
    alike_print(d, f);
    checks_print(d, f);
    fputs("\nA fit names what would explain a log, not what is broken: causes outside this list "
          "may fit as well,\nand the intervals hold for this model and its typical parts. The "
          "engine has to run right first: misfire,\nboost leaks, wrong fuel or a stuck throttle "
          "change flow and heat and look like a bad exhaust part.\nReplace nothing before a "
          "physical check; the maker's procedure and local rules come first. Exhaust parts\n"
          "and the outlet get hot enough to burn and to start a fire; exhaust carries carbon "
          "monoxide.\n", f);
}

void emb_diagnosis_csv(const struct emb_diagnosis *d, FILE *f)
{
    fputs("rank,conditions,\"left [K]\",\"behind the best [-]\",\"as good as the best\",condition,"
          "value,lower,upper,unit\n", f);
    for (size_t i = 0; i < d->n_explanation; i++) {
        const struct emb_explanation *e = &d->explanation[i];
        for (size_t j = 0; j < e->n || (j == 0 && e->n == 0); j++) {
            fprintf(f, "%zu,%zu,%.6g,%.6g,%s,", i + 1, e->n, e->rms,
                    e->score - d->explanation[0].score, e->as_good ? "yes" : "no");
            if (e->n == 0) {
                fputs("the case as it is,,,,\n", f);
            } else {
                const struct emb_fitted *p = &e->part[j];
                fprintf(f, "\"%s\",%.6g,%.6g,%.6g,%s\n", d->knob[p->knob].what, p->value, p->lo,
                        p->hi, d->knob[p->knob].unit);
            }
        }
    }
}
