/* compare.c - several cases as text: what differs, and what that changed. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "page.h"
#include "write.h"

static void letters(size_t n, int first, int width, FILE *f)
{
    char name[24];
    emb_write_cell("", first, f);
    for (size_t k = 0; k < n; k++) {
        snprintf(name, sizeof name, "%zu", k + 1);
        fputs("  ", f);
        emb_write_cell(name, width, f);
    }
    fputc('\n', f);
}

/* The order of the line is an input too, and the one that matters most. */
static void orders(const struct emb_page_case *c, size_t n, FILE *f)
{
    for (size_t k = 0; k < n; k++) {
        fprintf(f, "  %zu line: ", k + 1);
        for (size_t i = 0; i < c[k].result->n_place; i++) {
            fprintf(f, "%s%s", i > 0 ? " > " : "", c[k].result->place[i].name);
        }
        fputc('\n', f);
    }
}

static void differing_inputs(const struct emb_page_case *c, size_t n, FILE *f)
{
    size_t count = 0;
    struct emb_difference *d = emb_differences(c, n, &count);
    fputs("\nWhat differs\n", f);
    orders(c, n, f);
    if (d == NULL) {
        fputs(count == 0 ? "  no other input differs\n" : "  out of memory\n", f);
    }
    for (size_t i = 0; d != NULL && i < count; i++) {
        fprintf(f, "  %s\n", d[i].path);
        for (size_t k = 0; k < n; k++) {
            fprintf(f, "      %zu: %s\n", k + 1, d[i].text[k] != NULL ? d[i].text[k] : "(not there)");
        }
    }
    emb_differences_free(d, count);
}

/* Is v the first of its name among the cases before k? */
static bool told_before(const struct emb_page_case *c, size_t k, const char *name)
{
    for (size_t m = 0; m < k; m++) {
        if (emb_verdict_find(c[m].result, name) != NULL) {
            return true;
        }
    }
    return false;
}

static void one_target(const struct emb_page_case *c, size_t n, const char *name, FILE *f)
{
    char at[24], best[48];
    fprintf(f, "  %s\n", name);
    for (size_t k = 0; k < n; k++) {
        const struct emb_verdict *v = emb_verdict_find(c[k].result, name);
        fprintf(f, "      %zu: ", k + 1);
        if (v == NULL) {
            fputs("not asked\n", f);
        } else if (v->reached) {
            fprintf(f, "reached at %s (%s of '%s')\n", emb_text_clock(v->t_reached, at), v->what,
                    v->at);
        } else {
            fprintf(f, "never: best %s (%s of '%s')\n", emb_text_verdict_value(v, v->best, best),
                    v->what, v->at);
        }
    }
}

static void targets(const struct emb_page_case *c, size_t n, FILE *f)
{
    fputs("\nWhat that changed: targets\n", f);
    for (size_t k = 0; k < n; k++) {
        for (size_t i = 0; i < c[k].result->n_verdict; i++) {
            if (!told_before(c, k, c[k].result->verdict[i].name)) {
                one_target(c, n, c[k].result->verdict[i].name, f);
            }
        }
    }
}

static const struct emb_total *total_find(const struct emb_result *r, const char *name)
{
    for (size_t i = 0; i < r->n_total; i++) {
        if (strcmp(r->total[i].name, name) == 0) {
            return &r->total[i];
        }
    }
    return NULL;
}

static void total_row(const struct emb_page_case *c, size_t n, const struct emb_total *t, FILE *f)
{
    char buf[48], label[140];
    const char *dot = strrchr(t->name, '.');
    bool any = false;
    for (size_t k = 0; k < n; k++) {
        const struct emb_total *v = total_find(c[k].result, t->name);
        any = any || (v != NULL && v->value != 0.0);
    }
    if (!any) {
        return;
    }
    snprintf(label, sizeof label, "%.90s%s%.*s", t->meaning, dot != NULL ? ", " : "",
             dot != NULL ? (int)(dot - t->name) : 0, t->name);
    fputs("  ", f);
    emb_write_cell(label, -50, f);
    for (size_t k = 0; k < n; k++) {
        const struct emb_total *v = total_find(c[k].result, t->name);
        fputs("  ", f);
        emb_write_cell(v != NULL ? emb_text_total(v, buf) : "-", 12, f);
    }
    fputc('\n', f);
}

static void totals(const struct emb_page_case *c, size_t n, FILE *f)
{
    fputs("\nWhat that changed: totals\n", f);
    letters(n, 52, 12, f);
    for (size_t k = 0; k < n; k++) {
        for (size_t i = 0; i < c[k].result->n_total; i++) {
            const struct emb_total *t = &c[k].result->total[i];
            bool before = false;
            for (size_t m = 0; m < k; m++) {
                before = before || total_find(c[m].result, t->name) != NULL;
            }
            if (!before) {
                total_row(c, n, t, f);
            }
        }
    }
}

static const struct emb_element_note *element_find(const struct emb_result *r, const char *name)
{
    for (size_t i = 0; i < r->n_element; i++) {
        if (strcmp(r->element[i].name, name) == 0) {
            return &r->element[i];
        }
    }
    return NULL;
}

static void peaks(const struct emb_page_case *c, size_t n, FILE *f)
{
    char buf[48];
    fputs("\nWhat that changed: hottest\n", f);
    letters(n, 52, 18, f);
    for (size_t k = 0; k < n; k++) {
        for (size_t i = 0; i < c[k].result->n_element; i++) {
            const char *name = c[k].result->element[i].name;
            bool before = false;
            for (size_t m = 0; m < k; m++) {
                before = before || element_find(c[m].result, name) != NULL;
            }
            if (before) {
                continue;
            }
            fputs("  ", f);
            emb_write_cell(name, -50, f);
            for (size_t m = 0; m < n; m++) {
                const struct emb_element_note *e = element_find(c[m].result, name);
                fputs("  ", f);
                emb_write_cell(e != NULL ? emb_text_temperature(e->peak, buf) : "-", 18, f);
            }
            fputc('\n', f);
        }
    }
}

/* Gains and losses of heat, by kind, since the parts of two lines need not be the same. */
static void heat(const struct emb_page_case *c, size_t n, FILE *f)
{
    static const char *const kind[] = {"engine heat", "chemistry", "lost to the air", "turbine", "stored"};
    char buf[48];
    fputs("\nWhat that changed: heat (+ gained, - given away)\n", f);
    letters(n, 52, 12, f);
    for (size_t j = 0; j < sizeof kind / sizeof kind[0]; j++) {
        fputs("  ", f);
        emb_write_cell(kind[j], -50, f);
        for (size_t k = 0; k < n; k++) {
            double sum = 0.0;
            for (size_t i = 0; i < c[k].result->n_heat; i++) {
                const struct emb_heat_item *h = &c[k].result->heat[i];
                sum += strstr(h->label, kind[j]) != NULL ? h->joule : 0.0;
            }
            snprintf(buf, sizeof buf, "%+.2f MJ", sum / 1e6);
            fputs("  ", f);
            emb_write_cell(buf, 12, f);
        }
        fputc('\n', f);
    }
}

void emb_compare_text(const struct emb_page_case *c, size_t n, FILE *f)
{
    char sentence[700];
    fprintf(f, "%s\n\n", emb_text_compared(c, n, sentence, sizeof sentence));
    for (size_t k = 0; k < n; k++) {
        fprintf(f, "%zu  %s: %s\n   %s\n", k + 1, c[k].label, c[k].result->title,
                emb_text_sentence(c[k].result, sentence, sizeof sentence));
    }
    differing_inputs(c, n, f);
    targets(c, n, f);
    totals(c, n, f);
    peaks(c, n, f);
    heat(c, n, f);
}
