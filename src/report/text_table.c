/* text_table.c - temperatures over time, small enough to read: at most 16 rows, 6 columns a block.
 */
#include <math.h>
#include <string.h>

#include "emberpipe/temperature.h"
#include "write.h"

enum { MAX_ROWS = 16, BLOCK = 6, MAX_SERIES = 48 };

static bool ends_with(const char *s, const char *end)
{
    const size_t n = strlen(s), k = strlen(end);
    return n > k && strcmp(s + n - k, end) == 0;
}

static size_t pick_series(const struct emb_result *r, size_t index[MAX_SERIES])
{
    size_t n = 0;
    for (size_t j = 1; j < r->n_column && n < MAX_SERIES; j++) {
        const char *name = r->column[j].name;
        if (strcmp(r->column[j].unit, "K") == 0 &&
            (strcmp(name, "exhaust.temperature") == 0 || ends_with(name, ".reading") ||
             ends_with(name, ".mean_temperature"))) {
            index[n++] = j;
        }
    }
    return n;
}

/* A round step [s] so that the marks, the start and the end fit. */
static double choose_step(double t_end)
{
    static const double nice[] = {1,   2,   5,    10,   15,   30,   60,    120,  300,
                                  600, 900, 1200, 1800, 3600, 7200, 14400, 43200};
    double step = 86400.0;
    for (size_t i = 0; i < sizeof nice / sizeof *nice; i++) {
        if (t_end / nice[i] <= MAX_ROWS - 2) {
            return nice[i];
        }
    }
    while (t_end / step > MAX_ROWS - 2) {
        step *= 2.0;
    }
    return step;
}

static double value_at(const struct emb_result *r, size_t j, double t)
{
    size_t lo = 0, hi = r->n_row - 1;
    while (hi - lo > 1) {
        const size_t mid = (lo + hi) / 2;
        if (r->row[mid * r->n_column] <= t) {
            lo = mid;
        } else {
            hi = mid;
        }
    }
    const double *a = r->row + lo * r->n_column, *b = r->row + hi * r->n_column;
    const double span = b[0] - a[0], g = span > 0.0 ? fmin(fmax((t - a[0]) / span, 0.0), 1.0) : 0.0;
    return g <= 0.0 ? a[j] : g >= 1.0 ? b[j] : a[j] + g * (b[j] - a[j]);
}

static void short_name(const struct emb_column *c, char *buf, size_t size)
{
    const char *dot = strrchr(c->name, '.');
    snprintf(buf, size, "%.*s", dot != NULL ? (int)(dot - c->name) : (int)strlen(c->name), c->name);
}

static int column_width(const struct emb_column *c)
{
    char name[80];
    short_name(c, name, sizeof name);
    const int n = (int)emb_text_width(name);
    return (n > 11 ? n : 11) + 2;
}

static void print_row(const struct emb_result *r, const size_t *index, size_t n, double t, FILE *f)
{
    char buf[48];
    emb_write_cell(emb_text_clock(t, buf), 9, f);
    for (size_t k = 0; k < n; k++) {
        const double K = value_at(r, index[k], t);
        if (isfinite(K)) {
            snprintf(buf, sizeof buf, "%4.0f (%4.0f)", emb_round0(emb_degC(K)), emb_round0(emb_degF(K)));
        } else {
            snprintf(buf, sizeof buf, "-");
        }
        emb_write_cell(buf, column_width(&r->column[index[k]]), f);
    }
    fputc('\n', f);
}

static void print_block(const struct emb_result *r, const size_t *index, size_t n, FILE *f)
{
    const double last = r->row[(r->n_row - 1) * r->n_column], step = choose_step(last);
    char name[80];
    emb_write_cell("time", 9, f);
    for (size_t k = 0; k < n; k++) {
        short_name(&r->column[index[k]], name, sizeof name);
        emb_write_cell(name, column_width(&r->column[index[k]]), f);
    }
    fputc('\n', f);
    emb_write_cell(last < 6000.0 ? "mm:ss" : "h:mm:ss", 9, f);
    for (size_t k = 0; k < n; k++) {
        emb_write_cell("°C (  °F)", column_width(&r->column[index[k]]), f);
    }
    fputc('\n', f);
    for (int i = 0; i * step < last; i++) {
        print_row(r, index, n, i * step, f);
    }
    print_row(r, index, n, last, f);
}

void emb_text_table(const struct emb_result *r, FILE *f)
{
    size_t index[MAX_SERIES];
    const size_t n = pick_series(r, index);
    if (n == 0 || r->n_row == 0) {
        return;
    }
    fputs("\nTemperatures (bricks, walls: mean of the solid; sensors: what they read; exhaust: gas "
          "into the line)\n",
          f);
    for (size_t k = 0; k < n; k += BLOCK) {
        fputs(k > 0 ? "\n" : "", f);
        print_block(r, index + k, n - k < BLOCK ? n - k : BLOCK, f);
    }
}

void emb_text_peaks(const struct emb_result *r, FILE *f)
{
    char peak[48], at[24], end[48];
    int width = 4;
    for (size_t i = 0; i < r->n_element; i++) {
        const int n = (int)emb_text_width(r->element[i].name);
        width = n > width ? n : width;
    }
    if (r->n_element > 0) {
        fputs("\nHottest\n", f);
    }
    for (size_t i = 0; i < r->n_element; i++) {
        const struct emb_element_note *e = &r->element[i];
        fputs("  ", f);
        emb_write_cell(e->name, -width, f);
        emb_write_cell(emb_text_temperature(e->peak, peak), 20, f);
        fputs(" at ", f);
        emb_write_cell(emb_text_clock(e->t_peak, at), 7, f);
        fprintf(f, ", gas leaves it at %s in the end\n", emb_text_temperature(e->end, end));
    }
}
