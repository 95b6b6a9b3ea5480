/* analyse.c - the outputs of a journal through the estimators of sensitivity.c. */
#include <math.h>
#include <stdlib.h>

#include "emberpipe/sensitivity.h"
#include "study_impl.h"

static enum emb_status check(const struct emb_study *s, const struct emb_journal *j,
                             struct emb_err *err)
{
    if (s->cfg.design != EMB_DESIGN_SCREEN && s->cfg.design != EMB_DESIGN_VARIANCE) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "design: sensitivities need design: screening (few cases: which axes matter) "
                        "or variance (many: which share of the variance each causes)");
    }
    if (emb_journal_info(j)->digest != s->digest) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "has changed since its journal was written; emberpipe study run FILE --fresh "
                        "starts over");
    }
    return EMB_OK;
}

/* One output; too few blocks leave used at 0. */
static enum emb_status output_analyse(const struct emb_study *s, size_t blocks, const double *cube,
                                      const double *y, struct emb_sensitivity *out,
                                      struct emb_err *err)
{
    struct emb_err own = {EMB_OK, "", ""};
    enum emb_status st = EMB_OK;
    out->axis = calloc(s->n_axis + 1, sizeof *out->axis);
    if (out->axis == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    st = s->cfg.design == EMB_DESIGN_SCREEN
             ? emb_screening_compute(s->n_axis, blocks, cube, y, out, &own)
             : emb_variance_compute(s->n_axis, blocks, y, out, &own);
    if (st == EMB_ERR_CONFIG) {
        out->used = 0;
        return EMB_OK;
    }
    return st == EMB_OK ? st : emb_fail(err, st, own.where, "%s", own.msg);
}

enum emb_status emb_analysis_make(const struct emb_study *s, struct emb_journal *j,
                                  struct emb_analysis *out, struct emb_err *err)
{
    *out = (struct emb_analysis){.design = s->cfg.design, .n_axis = s->n_axis};
    enum emb_status st = check(s, j, err);
    if (st != EMB_OK) {
        return st;
    }
    const bool paths = s->cfg.design == EMB_DESIGN_SCREEN; /* only these need their points */
    double *y = calloc(s->n + 1, sizeof *y);
    double *cube = calloc(paths ? s->n * s->n_axis + 1 : 1, sizeof *cube);
    out->output = calloc(s->n_output + 1, sizeof *out->output);
    out->blocks = s->n / emb_study_block(s);
    if (y == NULL || cube == NULL || out->output == NULL) {
        st = emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory for %zu cases", s->n);
    }
    for (size_t i = 0; st == EMB_OK && paths && i < s->n; i++) {
        emb_sampler_point(s->sampler, i, cube + i * s->n_axis);
    }
    for (; st == EMB_OK && out->n_output < s->n_output; out->n_output++) {
        const size_t i = out->n_output;
        st = emb_journal_column(j, EMB_JOURNAL_OUTPUT, i, y, err);
        st = st == EMB_OK ? output_analyse(s, out->blocks, cube, y, &out->output[i], err) : st;
    }
    free(y);
    free(cube);
    if (st != EMB_OK) {
        emb_analysis_free(out);
    }
    return st;
}

void emb_analysis_free(struct emb_analysis *a)
{
    for (size_t i = 0; a->output != NULL && i < a->n_output; i++) {
        free(a->output[i].axis);
    }
    free(a->output);
    *a = (struct emb_analysis){0};
}
