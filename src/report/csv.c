/* csv.c - the recorded series as a table: one header line `name [unit]`, one line per row, SI
 * units. */
#include <math.h>
#include <string.h>

#include "emberpipe/report.h"
#include "write.h"

static void header_cell(const struct emb_column *c, FILE *f)
{
    const bool quote = strpbrk(c->name, ",\"\r\n") != NULL || strpbrk(c->unit, ",\"\r\n") != NULL;
    if (!quote) {
        fprintf(f, "%s [%s]", c->name, c->unit);
        return;
    }
    fputc('"', f);
    for (const char *p = c->name; *p != '\0'; p++) {
        fputs(*p == '"' ? "\"\"" : (char[2]){*p, '\0'}, f);
    }
    fprintf(f, " [%s]\"", c->unit);
}

void emb_report_csv(const struct emb_result *r, const struct emb_report_options *o, FILE *f)
{
    (void)o;
    for (size_t j = 0; j < r->n_column; j++) {
        fputs(j > 0 ? "," : "", f);
        header_cell(&r->column[j], f);
    }
    fputc('\n', f);
    for (size_t i = 0; i < r->n_row; i++) {
        for (size_t j = 0; j < r->n_column; j++) {
            const double v = r->row[i * r->n_column + j];
            fputs(j > 0 ? "," : "", f);
            if (isfinite(v)) { /* a cell without a value stays empty */
                emb_write_number(v, f);
            }
        }
        fputc('\n', f);
    }
}
