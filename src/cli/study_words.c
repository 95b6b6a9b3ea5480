/* study_words.c - axes of a study as people read them. */
#include <math.h>
#include <string.h>

#include "study_verbs.h"

const char *emb_study_axis_words(const char *key, char buf[96])
{
    static const char *const dropped[] = {"line.", "regeneration.levers.", "solver."};
    for (size_t i = 0; i < sizeof dropped / sizeof *dropped; i++) {
        const size_t n = strlen(dropped[i]);
        key += strncmp(key, dropped[i], n) == 0 ? n : 0;
    }
    snprintf(buf, 96, "%s", key);
    for (char *c = buf; *c != '\0'; c++) {
        *c = *c == '.' || *c == '_' ? ' ' : *c;
    }
    return buf;
}

static void texts_join(const struct emb_axis *a, char buf[160])
{
    size_t used = 0;
    buf[0] = '\0';
    for (size_t i = 0; i < a->n_level && used < 150; i++) {
        const int n =
            snprintf(buf + used, 160 - used, "%s%.60s", i > 0 ? ", " : "", a->text[i]);
        used += n > 0 ? (size_t)n : 0;
    }
}

const char *emb_study_range(const struct emb_axis *a, const struct emb_units *u, char buf[160])
{
    struct emb_plot_scale s;
    char lo[64], hi[64];
    double from = a->lo, to = a->hi;
    if (a->choice) {
        texts_join(a, buf);
        return buf;
    }
    for (size_t i = 0; i < a->n_level; i++) {
        from = i == 0 ? a->level[0] : fmin(from, a->level[i]);
        to = i == 0 ? a->level[0] : fmax(to, a->level[i]);
    }
    const bool normal = a->n_level == 0 && a->distribution == EMB_NORMAL;
    if (normal) { /* two standard deviations either way */
        from = fmax(a->mean - 2.0 * a->sd, a->lo);
        to = fmin(a->mean + 2.0 * a->sd, a->hi);
        from = a->spacing == EMB_LOG ? exp(from) : from;
        to = a->spacing == EMB_LOG ? exp(to) : to;
    }
    emb_shown_scale(u, a->unit, NULL, fmax(fabs(from), fabs(to)), &s);
    snprintf(buf, 160, "%s%s to %s", normal ? "normal, most within " : "",
             emb_shown_value(&s, a->unit, from, lo), emb_shown_value(&s, a->unit, to, hi));
    return buf;
}
