/* study_map.h - a map while it is being made from a journal. */
#ifndef EMB_STUDY_MAP_H
#define EMB_STUDY_MAP_H
#include "cli.h"
#include "emberpipe/chart.h"
#include "emberpipe/plot.h"
#include "emberpipe/study_run.h"

struct emb_sheet {
    const struct emb_cli_args *a;
    const struct emb_journal_info *info;
    struct emb_units *u;
    struct emb_map map;
    size_t x, y, output;          /* axes; number of the output */
    size_t *stride;               /* cases from one level of an axis to the next */
    double *raw, *status, *value; /* n each: [SI], 0 done or 1 failed, [shown unit] */
    /* n, of a target that has no time: how close it came [SI], how long it was there [s]; or NULL */
    double *best, *longest;
    size_t best_output;
    unsigned char *cell;
    const char **remark; /* EMB_MAP_REMARKS n */
    char **text;         /* all owned texts */
    size_t n_text;
    struct emb_plot_scale scale;
    char what[400], note[300], labels[2][120];
};

/* As asked for (--x), else what suits most; sets x, y, stride and the number of panels. */
enum emb_status emb_sheet_axes(struct emb_sheet *s, struct emb_err *err);
enum emb_status emb_sheet_output(struct emb_sheet *s, struct emb_err *err); /* --of, else the first */
#endif
