/* cases.c - case i of a study: its values, its case, and what is kept of its result. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study_impl.h"

void emb_study_point(const struct emb_study *s, const double *unit_cube, double *values)
{
    for (size_t i = 0; i < s->n_axis; i++) {
        values[i] = emb_axis_value(&s->axis[i], unit_cube[i]);
    }
}

size_t emb_study_block(const struct emb_study *s)
{
    return emb_sampler_block(s->cfg.design, s->n_axis);
}

/* The last axis runs fastest. */
static void grid_values(const struct emb_study *s, size_t i, double *values)
{
    for (size_t k = s->n_axis; k-- > 0;) {
        const struct emb_axis *a = &s->axis[k];
        const size_t level = i % a->n_level;
        values[k] = a->choice ? (double)level : a->level[level];
        i /= a->n_level;
    }
}

void emb_study_values(const struct emb_study *s, size_t i, double *values)
{
    if (s->table != NULL) {
        memcpy(values, s->table + i * s->n_axis, s->n_axis * sizeof *values);
    } else if (s->sampler == NULL) {
        grid_values(s, i, values);
    } else {
        emb_sampler_point(s->sampler, i, values);
        for (size_t k = 0; s->cfg.design == EMB_DESIGN_SCREEN && k < s->n_axis; k++) {
            /* a normal distribution has no ends to go to: from its 5 % to its 95 % */
            values[k] = s->axis[k].n_level == 0 && s->axis[k].distribution == EMB_NORMAL
                            ? 0.05 + 0.9 * values[k]
                            : values[k];
        }
        emb_study_point(s, values, values);
    }
}

enum emb_status emb_study_make(const struct emb_study *s, const double *values,
                               struct emb_case *out, struct emb_err *err)
{
    size_t b = 0;
    for (size_t i = 0; i < s->n_axis; i++) {
        b = s->axis[i].choice ? b * s->axis[i].n_level + (size_t)values[i] : b;
    }
    enum emb_status st = emb_case_copy(&s->base.item[b], out, err);
    if (st != EMB_OK) {
        return st;
    }
    const struct emb_place *p = s->place + b * s->n_place;
    for (size_t i = 0; st == EMB_OK && i < s->n_axis; i++) {
        for (size_t k = 0; st == EMB_OK && k < s->axis[i].n_key; k++) {
            st = emb_place_set(out, p++, values[i], err);
        }
    }
    st = st == EMB_OK ? emb_case_verify(out, err) : st;
    if (st != EMB_OK) {
        emb_case_free(out);
    }
    return st;
}

/* Linear between the recorded rows, which rise in time; the last row may lie just before the end. */
static void trace_keep(const struct emb_result *r, size_t column, double interval, size_t n,
                       float *out)
{
    size_t row = 0;
    for (size_t i = 0; i < n; i++) {
        const double t = interval * (double)i;
        while (row + 1 < r->n_row && r->row[(row + 1) * r->n_column] < t) {
            row++;
        }
        const double *a = r->row + row * r->n_column;
        const double *b = row + 1 < r->n_row ? a + r->n_column : a;
        const double w = b[0] > a[0] ? (t - a[0]) / (b[0] - a[0]) : 0.0;
        out[i] = t > r->t_end * (1.0 + 1e-9) ? NAN : (float)(a[column] + w * (b[column] - a[column]));
    }
}

void emb_study_keep(const struct emb_study *s, const struct emb_result *r, double *outputs,
                    float *traces)
{
    for (size_t i = 0; i < s->n_output; i++) {
        outputs[i] = emb_measure_value(&s->output[i].measure, r);
    }
    for (size_t i = 0; traces != NULL && i < s->n_trace; i++) {
        const int column = r->n_row > 0 ? emb_result_find(r, s->trace[i].name) : -1;
        float *out = traces + i * s->n_time;
        if (column >= 0) {
            trace_keep(r, (size_t)column, s->cfg.trace_interval, s->n_time, out);
        }
        for (size_t k = 0; column < 0 && k < s->n_time; k++) {
            out[k] = NAN;
        }
    }
}
