/* remedy_text.c - remedies in words, with the lines to try them. */
#include <math.h>
#include <string.h>

#include "emberpipe/remedy.h"
#include "emberpipe/words.h"

static void best_text(const struct emb_verdict *v, char buf[120])
{
    char T[48];
    const double gap = fabs(v->best - v->value);
    const bool passed = v->below ? v->best < v->value : v->best > v->value;
    if (!isfinite(v->best)) {
        snprintf(buf, 120, "no value was seen");
    } else if (passed) {
        snprintf(buf, 120, "held for %.0f s of the %.0f s asked for", v->longest, v->hold);
    } else if (v->is_temperature) {
        snprintf(buf, 120, "best %s, %.0f K (%.0f °F) %s", emb_text_temperature(v->best, T), gap,
                 1.8 * gap, v->below ? "too high" : "short");
    } else if (strcmp(v->unit, "kg/s") == 0) {
        snprintf(buf, 120, "best %.3g g/s", 1e3 * v->best);
    } else {
        snprintf(buf, 120, "best %.1f %%, %.1f points %s", 100.0 * v->best, 100.0 * gap,
                 v->below ? "too high" : "short");
    }
}

static void try_line(const struct emb_remedy *m, const char *file, FILE *f)
{
    fprintf(f, "       emberpipe run %s", file);
    for (size_t i = 0; i < m->n_set; i++) {
        fprintf(f, " --set \"%s\"", m->set[i]);
    }
    fputs("\n", f);
}

static void works(const struct emb_remedy *m, const struct emb_effect *now, size_t number,
                  const char *file, FILE *f)
{
    char at[24], T[48], was[48];
    fprintf(f,
            "  %zu. %s\n       reached at %s; fuel %.2f kg (%+.2f kg); hottest brick '%s' %s, "
            "was %s\n",
            number, m->what, emb_text_clock(m->effect.verdict.t_reached, at), m->effect.fuel,
            m->effect.fuel - now->fuel, m->effect.peak_at, emb_text_temperature(m->effect.peak, T),
            emb_text_temperature(now->peak, was));
    if (m->caution[0] != '\0') {
        fprintf(f, "       mind: %s\n", m->caution);
    }
    try_line(m, file, f);
}

static void works_not(const struct emb_remedy *m, const struct emb_effect *now, FILE *f)
{
    char best[120], T[48];
    const struct emb_verdict *v = &m->effect.verdict;
    const double more = v->below ? now->verdict.best - v->best : v->best - now->verdict.best;
    if (m->failed) {
        fprintf(f, "  - %s: could not be computed: %s\n", m->what, m->message);
    } else if (m->effect.too_hot) {
        fprintf(f,
                "  - %s: %s '%s' gets to %s, above the limit in the case: not advised\n",
                m->what, v->reached ? "reaches it, but" : "does not reach it, and",
                m->effect.peak_at, emb_text_temperature(m->effect.peak, T));
    } else {
        best_text(v, best);
        fprintf(f, "  - %s: %s%s\n", m->what, best,
                more < -1e-3 * fabs(v->value) ? ", worse than now" : "");
    }
}

static size_t list(const struct emb_remedy *m, size_t n, const struct emb_effect *now,
                   const char *file, const char *head, FILE *f)
{
    size_t good = 0;
    for (size_t i = 0; i < n && m[i].works; i++) {
        if (good++ == 0) {
            fprintf(f, "%s\n", head);
        }
        works(&m[i], now, good, file, f);
    }
    return good;
}

static void target_text(const struct emb_remedies *t, const char *file, FILE *f)
{
    char best[120];
    best_text(&t->now.verdict, best);
    fprintf(f, "%s: %s of '%s': not reached: %s\n", t->target, t->what, t->at, best);
    const size_t good =
        list(t->item, t->n, &t->now, file,
             " Each of these alone reaches it (smallest change, easiest first):", f);
    if (good == 0) {
        fputs(" No single change within sensible limits reaches it.\n", f);
        if (list(t->pair, t->n_pair, &t->now, file, " Two changes together do:", f) == 0 &&
            t->n_pair > 0) {
            fputs(" Nor does any pair of those that help most.\n", f);
        }
    }
    if (good < t->n) {
        fputs(" These do not, even as far as they go (or half as far, where that is better):\n", f);
    }
    for (size_t i = good; i < t->n; i++) {
        works_not(&t->item[i], &t->now, f);
    }
    fputs("\n", f);
}

void emb_remedy_text(const struct emb_remedy_report *r, const char *file, FILE *f)
{
    if (r->n == 0) {
        fprintf(f, "%zu target%s looked at: reached as the case stands, nothing to change.\n",
                r->n_reached, r->n_reached == 1 ? "" : "s");
        return;
    }
    fprintf(f, "%s%s", r->title, r->title[0] != '\0' ? "\n\n" : "");
    if (r->faults[0] != '\0') {
        fprintf(f, "This vehicle has a fault: %s.\nA change that works around it leaves it there. "
                "Repair it even where that alone is no help below.\n\n",
                r->faults);
    }
    for (size_t i = 0; i < r->n; i++) {
        target_text(&r->target[i], file, f);
    }
    fputs("Values lie just on the good side of what the model needs: leave a margin, they are no "
          "settings to dial in.\nHow far each change may go is judgement. A model with typical "
          "parts where none were given: measure before\nparts are bought; the engine has to run "
          "right first.\n\n"
          "SAFETY: the outlet and all surfaces get hot enough to start a fire; ventilate (carbon "
          "monoxide); stay with\nthe vehicle; never start with an oil- or fuel-soaked filter. The "
          "maker's procedure and local rules come first.\n",
          f);
}
