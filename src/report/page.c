/* page.c - the page: its own text, which the build has put together from the files in page/, and in
 * its middle the data of the cases as one block of JSON. Every string goes through emb_json_text
 * and is set as text by the page, so that no name can leave its place. */
#include "emberpipe/page.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "page.h"
#include "write.h"

static void key_text(const char *key, const char *value, FILE *f)
{
    fprintf(f, "\"%s\":", key);
    emb_json_text(value, true, f);
}

static void number(double v, FILE *f)
{
    if (isfinite(v)) {
        fprintf(f, "%.6g", v);
    } else {
        fputs("null", f);
    }
}

static void key_number(const char *key, double v, FILE *f)
{
    fprintf(f, ",\"%s\":", key);
    number(v, f);
}

static void verdicts(const struct emb_result *r, FILE *f)
{
    fputs(",\"verdicts\":[", f);
    for (size_t i = 0; i < r->n_verdict; i++) {
        const struct emb_verdict *v = &r->verdict[i];
        char best[48], gap[64];
        const bool passed = v->below ? v->best < v->value : v->best > v->value;
        fputs(i > 0 ? ",{" : "{", f);
        key_text("name", v->name, f);
        fputc(',', f);
        key_text("at", v->at, f);
        fputc(',', f);
        key_text("what", v->what, f);
        fputc(',', f);
        key_text("why", v->why, f);
        fputc(',', f);
        key_text("best_text", emb_text_verdict_value(v, v->best, best), f);
        fputc(',', f);
        key_text("gap_text", passed || !isfinite(v->best) ? "" : emb_text_verdict_gap(v, gap), f);
        fprintf(f, ",\"reached\":%s,\"below\":%s,\"kelvin\":%s", v->reached ? "true" : "false",
                v->below ? "true" : "false", v->is_temperature ? "true" : "false");
        key_number("value", v->value, f);
        key_number("t", v->t_reached, f);
        key_number("t_best", v->t_best, f);
        key_number("longest", v->longest, f);
        key_number("hold", v->hold, f);
        fputc('}', f);
    }
    fputc(']', f);
}

static void places(const struct emb_result *r, FILE *f)
{
    fputs(",\"places\":[", f);
    for (size_t i = 0; i < r->n_place; i++) {
        const struct emb_part *p = &r->place[i];
        fputs(i > 0 ? ",{" : "{", f);
        key_text("name", p->name, f);
        fputc(',', f);
        key_text("kind", p->kind, f);
        key_number("length", p->length, f);
        key_number("diameter", p->diameter, f);
        fprintf(f, ",\"first\":%zu,\"n\":%zu}", p->first, p->n_cell);
    }
    fputc(']', f);
}

static void series(const struct emb_result *r, const size_t *row, size_t n_row, FILE *f)
{
    fputs(",\"series\":[", f);
    for (size_t j = 0; j < r->n_column; j++) {
        fputs(j > 0 ? ",\n{" : "{", f);
        key_text("name", r->column[j].name, f);
        fputc(',', f);
        key_text("unit", r->column[j].unit, f);
        fputc(',', f);
        key_text("meaning", r->column[j].meaning, f);
        fputs(",\"v\":[", f);
        for (size_t i = 0; i < n_row; i++) {
            fputs(i > 0 ? "," : "", f);
            number(r->row[row[i] * r->n_column + j], f);
        }
        fputs("]}", f);
    }
    fputc(']', f);
}

/* Whole kelvin are enough for colours; the numbers that are read come from the series. */
static void profile(const struct emb_result *r, const size_t *row, size_t n_row, FILE *f)
{
    fprintf(f, ",\"cells\":%zu,\"profile\":[", r->n_cell);
    for (size_t i = 0; i < n_row; i++) {
        for (size_t k = 0; k < r->n_cell; k++) {
            const double T = (double)r->profile[row[i] * r->n_cell + k];
            fprintf(f, "%s%.0f", i + k > 0 ? "," : "", isfinite(T) ? T : 0.0);
        }
        fputc('\n', f);
    }
    fputc(']', f);
}

static void small_lists(const struct emb_result *r, FILE *f)
{
    char buf[48];
    fputs(",\"warnings\":[", f);
    for (size_t i = 0; i < r->n_warning; i++) {
        fputs(i > 0 ? ",{" : "{", f);
        key_text("text", r->warning[i].text, f);
        fputc(',', f);
        key_text("advice", r->warning[i].advice, f);
        fputc('}', f);
    }
    fputs("],\"notes\":[", f);
    for (size_t i = 0; i < r->n_note && i < EMB_PAGE_NOTES; i++) {
        fputs(i > 0 ? ",{" : "{", f);
        key_text("text", r->note[i].text, f);
        key_number("t", r->note[i].t, f);
        fputc('}', f);
    }
    fputs("],\"spans\":[", f);
    for (size_t i = 0; i < r->n_span; i++) {
        fputs(i > 0 ? ",{" : "{", f);
        key_text("name", r->span[i].name, f);
        key_number("t0", r->span[i].t0, f);
        key_number("t1", r->span[i].t1, f);
        fputc('}', f);
    }
    fputs("],\"totals\":[", f);
    for (size_t i = 0; i < r->n_total; i++) {
        fputs(i > 0 ? ",{" : "{", f);
        key_text("name", r->total[i].name, f);
        fputc(',', f);
        key_text("unit", r->total[i].unit, f);
        fputc(',', f);
        key_text("meaning", r->total[i].meaning, f);
        fputc(',', f);
        key_text("text", emb_text_total(&r->total[i], buf), f);
        key_number("value", r->total[i].value, f);
        fputc('}', f);
    }
    fputc(']', f);
}

static void heat_and_books(const struct emb_result *r, FILE *f)
{
    fputs(",\"heat\":[", f);
    for (size_t i = 0; i < r->n_heat; i++) {
        fputs(i > 0 ? ",{" : "{", f);
        key_text("label", r->heat[i].label, f);
        key_number("J", r->heat[i].joule, f);
        fputc('}', f);
    }
    fputs("]", f);
    key_number("book_limit", r->book_limit, f);
    fprintf(f, ",\"by_rows\":%s,\"books\":[",
            r->method == EMB_METHOD_TRAPEZOID ? "true" : "false");
    for (size_t i = 0; i < r->n_book; i++) {
        fputs(i > 0 ? ",{" : "{", f);
        key_text("name", r->book[i].name, f);
        key_number("relative", r->book[i].relative, f);
        fputc('}', f);
    }
    fputs("],\"elements\":[", f);
    for (size_t i = 0; i < r->n_element; i++) {
        fputs(i > 0 ? ",{" : "{", f);
        key_text("name", r->element[i].name, f);
        key_number("peak", r->element[i].peak, f);
        key_number("t_peak", r->element[i].t_peak, f);
        key_number("end", r->element[i].end, f);
        fputc('}', f);
    }
    fputc(']', f);
}

static void inputs(const struct emb_input_values *v, FILE *f)
{
    fputs(",\"inputs\":[", f);
    for (size_t i = 0; v != NULL && i < v->n; i++) {
        const struct emb_input_value *k = &v->item[i];
        fputs(i > 0 ? ",{" : "{", f);
        key_text("path", k->path, f);
        fputc(',', f);
        key_text("text", k->text, f);
        fputc(',', f);
        key_text("help", k->help != NULL ? k->help : "", f);
        fputc(',', f);
        key_text("source", k->source != NULL ? k->source : "", f);
        fprintf(f, ",\"given\":%s}", k->given ? "true" : "false");
    }
    fputc(']', f);
}

static void one_case(const struct emb_page_case *c, FILE *f)
{
    const struct emb_result *r = c->result;
    char sentence[700];
    size_t row[EMB_PAGE_ROWS];
    const size_t n_row = emb_page_rows(r, row);
    fputc('{', f);
    key_text("label", c->label, f);
    fputc(',', f);
    key_text("title", r->title, f);
    fputc(',', f);
    key_text("sentence", emb_text_sentence(r, sentence, sizeof sentence), f);
    fprintf(f, ",\"complete\":%s,\"hot_work\":%s", r->complete ? "true" : "false",
            emb_text_hot_work(r) ? "true" : "false");
    key_number("t_end", r->t_end, f);
    verdicts(r, f);
    places(r, f);
    small_lists(r, f);
    heat_and_books(r, f);
    inputs(c->values, f);
    series(r, row, n_row, f);
    profile(r, row, n_row, f);
    fputs("}\n", f);
}

static void differences(const struct emb_page_case *c, size_t n, FILE *f)
{
    char sentence[1200];
    size_t count = 0;
    struct emb_difference *d = emb_differences(c, n, &count);
    fputs(",\"differences\":[", f);
    for (size_t i = 0; d != NULL && i < count; i++) {
        fputs(i > 0 ? ",{" : "{", f);
        key_text("path", d[i].path, f);
        fputs(",\"text\":[", f);
        for (size_t k = 0; k < n; k++) {
            fputs(k > 0 ? "," : "", f);
            if (d[i].text[k] != NULL) {
                emb_json_text(d[i].text[k], true, f);
            } else {
                fputs("null", f);
            }
        }
        fputs("]}", f);
    }
    fputc(']', f);
    emb_differences_free(d, count);
    fputc(',', f);
    key_text("compared", emb_text_compared(c, n, sentence, sizeof sentence), f);
}

void emb_page_write(const struct emb_page_case *c, size_t n, FILE *f)
{
    fwrite(emb_page_head, 1, emb_page_head_size, f);
    fputs("{\"version\":\"" EMB_VERSION "\",\"cases\":[", f);
    for (size_t i = 0; i < n; i++) {
        fputs(i > 0 ? "," : "", f);
        one_case(&c[i], f);
    }
    fputs("],\"cautions\":[", f);
    for (size_t i = 0; emb_cautions[i] != NULL; i++) {
        fputs(i > 0 ? "," : "", f);
        emb_json_text(emb_cautions[i], true, f);
    }
    fputs("],\"standing\":[", f);
    for (size_t i = 0; emb_standing[i][0] != NULL; i++) {
        fputs(i > 0 ? ",[" : "[", f);
        emb_json_text(emb_standing[i][0], true, f);
        fputc(',', f);
        emb_json_text(emb_standing[i][1], true, f);
        fputc(']', f);
    }
    fputc(']', f);
    differences(c, n, f);
    fputc('}', f);
    fwrite(emb_page_tail, 1, emb_page_tail_size, f);
}
