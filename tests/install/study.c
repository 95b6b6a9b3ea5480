/* A program of someone else's: runs a study on two threads, without a study file of its own it
 * would also do with emb_case_copy, emb_place_set and emb_batch_run. Prints the best case.
 *
 *   cc study.c $(pkg-config --cflags --libs emberpipe) -o study && ./study FILE.yaml FILE.journal */
#include <math.h>
#include <stdio.h>
#include <emberpipe/journal.h>
#include <emberpipe/study_run.h>
#include <emberpipe/version.h>

static int complain(const struct emb_err *err)
{
    fprintf(stderr, "%s: %s\n", err->where, err->msg);
    return 1;
}

/* The case with the largest first output. */
static int best_print(struct emb_journal *j, struct emb_err *err)
{
    const struct emb_journal_info *info = emb_journal_info(j);
    struct emb_record r;
    double best = -INFINITY; /* [SI unit of the output] */
    size_t at = 0;
    bool more = true;
    if (emb_record_make(info->n_axis, info->n_output, 0, &r, err) != EMB_OK) {
        return complain(err);
    }
    while (emb_journal_next(j, &r, &more, err) == EMB_OK && more) {
        if (r.status == EMB_OK && r.outputs[0] > best) {
            best = r.outputs[0];
            at = r.id;
        }
    }
    emb_record_drop(&r);
    printf("best of %zu: case %zu, %s = %g %s\n", info->done, at, info->output[0].name, best,
           info->output[0].unit);
    return err->status == EMB_OK && isfinite(best) ? 0 : complain(err);
}

int main(int argc, char **argv)
{
    struct emb_study s;
    struct emb_study_progress p;
    struct emb_journal *j;
    struct emb_err err = {EMB_OK, "", ""};
    if (emb_abi() != EMB_ABI || argc < 3) {
        fprintf(stderr, "library %s has another ABI, or: study FILE.yaml FILE.journal\n", emb_version());
        return 1;
    }
    if (emb_study_load(argv[1], &s, NULL, &err) != EMB_OK) {
        return complain(&err);
    }
    const struct emb_study_options o = {.journal = argv[2], .threads = 2};
    const enum emb_status st = emb_study_run(&s, &o, &p, &err);
    emb_study_free(&s);
    if (st != EMB_OK || emb_journal_read(argv[2], &j, &err) != EMB_OK) {
        return complain(&err);
    }
    const int rc = best_print(j, &err);
    emb_journal_close(j);
    return rc;
}
