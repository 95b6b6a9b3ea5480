/* text_books.c - totals in workshop units, the heat budget, and how well the books close. */
#include <math.h>
#include <string.h>

#include "write.h"

static const double fuel_density = 0.85; /* [kg/L] diesel; common practice, no source */

static void mass_text(double kg, char buf[48])
{
    const double a = fabs(kg);
    if (a >= 1.0) {
        snprintf(buf, 48, "%.2f kg", kg);
    } else if (a >= 1e-3) {
        snprintf(buf, 48, "%.3g g", 1e3 * kg);
    } else if (a >= 1e-6) {
        snprintf(buf, 48, "%.3g mg", 1e6 * kg);
    } else {
        snprintf(buf, 48, "%s", a > 0.0 ? "< 1 mg" : "0 g");
    }
}

const char *emb_text_total(const struct emb_total *t, char buf[48])
{
    if (strcmp(t->unit, "kg") == 0) {
        mass_text(t->value, buf);
    } else if (strcmp(t->unit, "J") == 0) {
        snprintf(buf, 48, "%.2f kWh", t->value / 3.6e6);
    } else if (strcmp(t->unit, "-") == 0) {
        snprintf(buf, 48, "%.1f %%", 100.0 * t->value);
    } else if (strcmp(t->unit, "kg/m3") == 0) {
        snprintf(buf, 48, "%.2f g/L", t->value); /* the same number */
    } else {
        snprintf(buf, 48, "%.4g %s", t->value, t->unit);
    }
    return buf;
}

void emb_text_totals(const struct emb_result *r, FILE *f)
{
    char buf[48];
    bool fuel = false;
    if (r->n_total > 0) {
        fputs("\nTotals\n", f);
    }
    for (size_t i = 0; i < r->n_total; i++) {
        const struct emb_total *t = &r->total[i];
        if (t->value == 0.0) {
            continue; /* what did not happen is not worth a line */
        }
        emb_write_cell(emb_text_total(t, buf), 12, f);
        fprintf(f, "  %s", t->meaning);
        const char *dot = strrchr(t->name, '.');
        if (dot != NULL) {
            fprintf(f, " (%.*s)", (int)(dot - t->name), t->name);
        }
        if (strstr(t->name, "fuel") != NULL && strcmp(t->unit, "kg") == 0) {
            fprintf(f, ": %.2f L", t->value / fuel_density);
            fuel = true;
        }
        fputc('\n', f);
    }
    if (fuel) {
        fprintf(f, "              (liters of fuel at %.2f kg/L)\n", fuel_density);
    }
}

void emb_text_heat(const struct emb_result *r, FILE *f)
{
    double source = 0.0;
    int width = 5;
    for (size_t i = 0; i < r->n_heat; i++) {
        const int n = (int)emb_text_width(r->heat[i].label);
        source += fmax(r->heat[i].joule, 0.0);
        width = n > width ? n : width;
    }
    if (r->n_heat == 0) {
        return;
    }
    fputs("\nHeat budget of the line (+ gained, - given away)\n  ", f);
    emb_write_cell("", -width, f);
    fputs("      kWh       MJ   share of gains\n", f);
    for (size_t i = 0; i < r->n_heat; i++) {
        const double J = r->heat[i].joule;
        fputs("  ", f);
        emb_write_cell(r->heat[i].label, -width, f);
        fprintf(f, "%+9.3f%+9.2f", J / 3.6e6, J / 1e6);
        if (source > 0.0) {
            fprintf(f, "%+9.1f %%", 100.0 * J / source);
        }
        fputc('\n', f);
    }
}

void emb_text_books(const struct emb_result *r, FILE *f)
{
    if (r->n_book == 0) {
        return;
    }
    fputs("\nBooks (in - out - stored, relative to what passed through)\n ", f);
    for (size_t i = 0; i < r->n_book; i++) {
        fprintf(f, " %s %.1e%s", r->book[i].name, r->book[i].relative,
                i + 1 < r->n_book ? "," : "\n");
    }
    if (r->method == EMB_METHOD_TRAPEZOID) {
        fputs("  Integrated row by row: faster, and some kelvin off what lies between the rows "
              "(README, Limits);\n  solver.method: bdf follows every row's bend.\n", f);
    }
    for (size_t i = 0; i < r->n_book; i++) {
        if (!(fabs(r->book[i].relative) <= r->book_limit)) { /* NaN is loud too */
            fprintf(f,
                    "  *** THE %s BOOK DOES NOT CLOSE: %.1e, limit %.0e. Do not trust these "
                    "numbers. ***\n",
                    r->book[i].name, r->book[i].relative, r->book_limit);
        }
    }
}
