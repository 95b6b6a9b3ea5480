/* sentence.c - verdicts in words: the value, the gap, and the whole run in one sentence. */
#include <math.h>
#include <string.h>

#include "emberpipe/temperature.h"
#include "write.h"

const char *emb_text_verdict_value(const struct emb_verdict *v, double x, char buf[48])
{
    if (v->is_temperature) {
        return emb_text_temperature(x, buf);
    }
    if (!isfinite(x)) {
        snprintf(buf, 48, "not known");
    } else if (strcmp(v->unit, "kg/s") == 0) {
        snprintf(buf, 48, "%.3g g/s", 1e3 * x);
    } else {
        snprintf(buf, 48, "%.1f %%", 100.0 * x);
    }
    return buf;
}

const char *emb_text_verdict_gap(const struct emb_verdict *v, char buf[64])
{
    const double gap = v->below ? v->best - v->value : v->value - v->best;
    if (v->is_temperature) {
        snprintf(buf, 64, "%.0f K (%.0f °F)", emb_round0(gap), emb_round0(1.8 * gap));
    } else if (strcmp(v->unit, "kg/s") == 0) {
        snprintf(buf, 64, "%.3g g/s", 1e3 * gap);
    } else {
        snprintf(buf, 64, "%.1f points", 100.0 * gap);
    }
    return buf;
}

bool emb_text_hot_work(const struct emb_result *r)
{
    for (size_t i = 0; i < r->n_total; i++) {
        if (r->total[i].value > 0.0 && (strcmp(r->total[i].name, "dosed_fuel") == 0 ||
                                        strcmp(r->total[i].name, "late_post_fuel") == 0)) {
            return true;
        }
    }
    for (size_t i = 0; i < r->n_note; i++) {
        if (strstr(r->note[i].text, "regeneration") != NULL) {
            return true;
        }
    }
    return false;
}

/* "'dpf' stays at 120 °C (248 °F), 401 K (722 °F) short of what 'soot burns' needs" */
static void missed(const struct emb_verdict *v, char *buf, size_t size)
{
    char best[48], gap[64];
    const bool passed = v->below ? v->best < v->value : v->best > v->value;
    emb_text_verdict_value(v, v->best, best);
    if (!isfinite(v->best)) {
        snprintf(buf, size, "no value was seen for '%s' at '%s'", v->name, v->at);
    } else if (passed) {
        snprintf(buf, size, "'%s' is not held: %.0f s at most of the %.0f s asked for", v->name,
                 v->longest, v->hold);
    } else {
        snprintf(buf, size, "'%s' is never reached: %s is the best seen at '%s', %s %s", v->name,
                 best, v->at, emb_text_verdict_gap(v, gap), v->below ? "too high" : "short");
    }
}

static void no_targets(const struct emb_result *r, char *buf, size_t size)
{
    const struct emb_element_note *hot = NULL;
    char peak[48], at[24];
    for (size_t i = 0; i < r->n_element; i++) {
        hot = hot == NULL || r->element[i].peak > hot->peak ? &r->element[i] : hot;
    }
    if (hot == NULL) {
        snprintf(buf, size, "The case names no targets.");
        return;
    }
    snprintf(buf, size, "The case names no targets; the hottest part is '%s' with %s at %s.",
             hot->name, emb_text_temperature(hot->peak, peak), emb_text_clock(hot->t_peak, at));
}

const char *emb_text_sentence(const struct emb_result *r, char *buf, size_t size)
{
    const struct emb_verdict *first = NULL, *last = NULL;
    size_t met = 0;
    char at[24], why[400] = "";
    for (size_t i = 0; i < r->n_verdict; i++) {
        const struct emb_verdict *v = &r->verdict[i];
        met += v->reached;
        first = first == NULL && !v->reached ? v : first;
        last = v->reached && (last == NULL || v->t_reached > last->t_reached) ? v : last;
    }
    if (!r->complete) {
        snprintf(buf, size, "The run stopped early, at %s: %s", emb_text_clock(r->t_end, at),
                 r->message);
    } else if (r->n_verdict == 0) {
        no_targets(r, buf, size);
    } else if (first == NULL) {
        snprintf(buf, size, r->n_verdict == 1 ? "Reached: '%s' after %s." : "Everything asked for is reached; the last is '%s' after %s.",
                 last->name, emb_text_clock(last->t_reached, at));
    } else {
        missed(first, why, sizeof why);
        if (met == 0) {
            snprintf(buf, size, "%s: %s.", r->n_verdict == 1 ? "No" : "Nothing asked for is reached", why);
        } else {
            snprintf(buf, size, "%zu of %zu reached; %s.", met, r->n_verdict, why);
        }
    }
    return buf;
}
