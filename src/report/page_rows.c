/* page_rows.c - fewer rows for the page, without losing the peaks. */
#include <math.h>

#include "page.h"

/* How far row i is from the line between rows a and b, in shares of each column's range, summed. */
static double departure(const struct emb_result *r, const double *range, size_t a, size_t b,
                        size_t i)
{
    const double *va = r->row + a * r->n_column, *vb = r->row + b * r->n_column,
                 *v = r->row + i * r->n_column;
    const double span = vb[0] - va[0], g = span > 0.0 ? (v[0] - va[0]) / span : 0.0;
    double sum = 0.0;
    for (size_t j = 1; j < r->n_column && j < EMB_PAGE_ROWS; j++) {
        const double d = fabs(v[j] - (va[j] + g * (vb[j] - va[j])));
        sum += range[j] > 0.0 && isfinite(d) ? d / range[j] : 0.0;
    }
    return sum;
}

static void ranges(const struct emb_result *r, double *range)
{
    for (size_t j = 0; j < r->n_column && j < EMB_PAGE_ROWS; j++) {
        double lo = INFINITY, hi = -INFINITY;
        for (size_t i = 0; i < r->n_row; i++) {
            const double v = r->row[i * r->n_column + j];
            lo = fmin(lo, v);
            hi = fmax(hi, v);
        }
        range[j] = hi - lo;
    }
}

size_t emb_page_rows(const struct emb_result *r, size_t row[EMB_PAGE_ROWS])
{
    double range[EMB_PAGE_ROWS] = {0.0};
    size_t n = 0;
    if (r->n_row <= EMB_PAGE_ROWS) {
        for (; n < r->n_row; n++) {
            row[n] = n;
        }
        return n;
    }
    ranges(r, range);
    row[n++] = 0;
    const size_t bunches = EMB_PAGE_ROWS - 2, inner = r->n_row - 2;
    for (size_t k = 0; k < bunches; k++) {
        const size_t from = 1 + k * inner / bunches, to = 1 + (k + 1) * inner / bunches;
        size_t best = from;
        double most = -1.0;
        for (size_t i = from; i < to; i++) {
            const double d = departure(r, range, from - 1, to, i);
            best = d > most ? i : best;
            most = fmax(most, d);
        }
        row[n++] = best;
    }
    row[n++] = r->n_row - 1;
    return n;
}
