/* json.c - everything in the result, each number with its unit beside it. NaN becomes null. */
#include <math.h>
#include <string.h>

#include "emberpipe/report.h"
#include "write.h"

static void number(double v, FILE *f)
{
    if (isfinite(v)) {
        emb_write_number(v, f);
    } else {
        fputs("null", f);
    }
}

static void key_text(const char *key, const char *value, FILE *f)
{
    fprintf(f, "\"%s\": ", key);
    emb_json_text(value, false, f);
    fputs(", ", f);
}

static void key_value(const char *key, double v, const char *unit, FILE *f)
{
    fprintf(f, "\"%s\": {\"value\": ", key);
    number(v, f);
    fputs(", \"unit\": ", f);
    emb_json_text(unit, false, f);
    fputc('}', f);
}

static void verdict(const struct emb_verdict *v, FILE *f)
{
    const char *unit = v->unit[0] != '\0' ? v->unit : v->is_temperature ? "K" : "-";
    key_text("name", v->name, f);
    key_text("at", v->at, f);
    key_text("what", v->what, f);
    fprintf(f, "\"reached\": %s, \"below\": %s, ", v->reached ? "true" : "false",
            v->below ? "true" : "false");
    key_value("threshold", v->value, unit, f);
    fputs(", ", f);
    key_value("hold", v->hold, "s", f);
    fputs(", ", f);
    key_value("t_reached", v->t_reached, "s", f);
    fputs(", ", f);
    key_value("best", v->best, unit, f);
    fputs(", ", f);
    key_value("t_best", v->t_best, "s", f);
    fputs(", ", f);
    key_value("longest", v->longest, "s", f);
    fputs(", \"why\": ", f);
    emb_json_text(v->why, false, f);
}

static void book(const struct emb_book *b, FILE *f)
{
    key_text("name", b->name, f);
    key_value("in", b->in, b->unit, f);
    fputs(", ", f);
    key_value("out", b->out, b->unit, f);
    fputs(", ", f);
    key_value("stored", b->stored, b->unit, f);
    fputs(", ", f);
    key_value("residual", b->residual, b->unit, f);
    fputs(", ", f);
    key_value("relative", b->relative, "-", f);
}

static void element(const struct emb_element_note *e, FILE *f)
{
    key_text("name", e->name, f);
    key_text("kind", e->kind, f);
    key_value("peak", e->peak, "K", f);
    fputs(", ", f);
    key_value("t_peak", e->t_peak, "s", f);
    fputs(", ", f);
    key_value("peak_at", e->peak_at, "-", f);
    fputs(", ", f);
    key_value("end", e->end, "K", f);
}

static void series(const struct emb_result *r, size_t j, FILE *f)
{
    key_text("name", r->column[j].name, f);
    key_text("unit", r->column[j].unit, f);
    key_text("meaning", r->column[j].meaning, f);
    fputs("\"values\": [", f);
    for (size_t i = 0; i < r->n_row; i++) {
        fputs(i > 0 ? "," : "", f);
        number(r->row[i * r->n_column + j], f);
    }
    fputc(']', f);
}

enum part { VERDICTS, WARNINGS, ELEMENTS, TOTALS, HEAT, BOOKS, NOTES, SPANS, SERIES, N_PART };

static size_t part_size(const struct emb_result *r, enum part p)
{
    const size_t n[N_PART] = {r->n_verdict, r->n_warning, r->n_element, r->n_total, r->n_heat,
                              r->n_book,    r->n_note,    r->n_span,    r->n_column};
    return n[p];
}

static void entry(const struct emb_result *r, enum part p, size_t i, FILE *f)
{
    switch (p) {
    case VERDICTS:
        verdict(&r->verdict[i], f);
        break;
    case WARNINGS:
        key_text("text", r->warning[i].text, f);
        fputs("\"advice\": ", f);
        emb_json_text(r->warning[i].advice, false, f);
        break;
    case ELEMENTS:
        element(&r->element[i], f);
        break;
    case TOTALS:
        key_text("name", r->total[i].name, f);
        key_text("meaning", r->total[i].meaning, f);
        key_value("total", r->total[i].value, r->total[i].unit, f);
        break;
    case HEAT:
        key_text("label", r->heat[i].label, f);
        key_value("heat", r->heat[i].joule, "J", f);
        break;
    case BOOKS:
        book(&r->book[i], f);
        break;
    case NOTES:
        key_text("text", r->note[i].text, f);
        key_value("t", r->note[i].t, "s", f);
        break;
    case SPANS:
        key_text("name", r->span[i].name, f);
        key_value("t0", r->span[i].t0, "s", f);
        fputs(", ", f);
        key_value("t1", r->span[i].t1, "s", f);
        break;
    case SERIES:
        series(r, i, f);
        break;
    case N_PART:
        break;
    }
}

static void counters(const struct emb_result *r, FILE *f)
{
    const struct emb_counters *c = &r->counters;
    fprintf(f,
            "  \"solver\": {\"method\": \"%s\", \"unit\": \"count\", \"steps\": %ld, "
            "\"rhs\": %ld, \"jac\": %ld, \"restarts\": %ld, "
            "\"err_fails\": %ld, \"newton_fails\": %ld, \"roots\": %ld},\n",
            r->method == EMB_METHOD_TRAPEZOID ? "trapezoid" : "bdf", c->steps, c->rhs, c->jac,
            c->restarts, c->err_fails, c->newton_fails, c->roots);
}

void emb_report_json(const struct emb_result *r, const struct emb_report_options *o, FILE *f)
{
    static const char *const name[N_PART] = {"verdicts", "warnings", "elements", "totals", "heat",
                                             "books",    "log",      "phases",   "series"};
    fputs("{\n  \"format\": \"emberpipe result 1\",\n  \"title\": ", f);
    emb_json_text(r->title, false, f);
    fprintf(f, ",\n  \"complete\": %s,\n  \"message\": ", r->complete ? "true" : "false");
    emb_json_text(r->message, false, f);
    fputs(",\n  ", f);
    key_value("t_end", r->t_end, "s", f);
    fputs(",\n", f);
    counters(r, f);
    if (o->stats) {
        fputs("  ", f);
        key_value("wall_time", r->wall_seconds, "s", f);
        fputs(",\n", f);
    }
    for (enum part p = VERDICTS; p < N_PART; p++) {
        fprintf(f, "  \"%s\": [", name[p]);
        for (size_t i = 0; i < part_size(r, p); i++) {
            fputs(i > 0 ? ",\n    {" : "\n    {", f);
            entry(r, p, i, f);
            fputc('}', f);
        }
        fputs(part_size(r, p) > 0 ? "\n  ]" : "]", f);
        fputs(p + 1 < N_PART ? ",\n" : "\n", f);
    }
    fputs("}\n", f);
}
