/* columns.h - a small matrix times a vector, for what is done millions of times. */
#ifndef EMB_COLUMNS_H
#define EMB_COLUMNS_H
#include <stddef.h>

/* out += the sum of x times columns of n; four at a time spare three of four visits to out. */
static inline void emb_add_columns(const double *restrict column, const double *restrict x,
                                   size_t n_column, double *restrict out, size_t n)
{
    size_t j = 0;
    for (; j + 4 <= n_column; j += 4, column += 4 * n) {
        for (size_t i = 0; i < n; i++) {
            out[i] += (column[i] * x[j] + column[n + i] * x[j + 1]) +
                      (column[2 * n + i] * x[j + 2] + column[3 * n + i] * x[j + 3]);
        }
    }
    for (; j < n_column; j++, column += n) {
        for (size_t i = 0; i < n; i++) {
            out[i] += column[i] * x[j];
        }
    }
}
#endif
