/* study_file.c - reads a study file through the same table, schema and problems as a case. */
#include "emberpipe/study_file.h"

#include <stdlib.h>
#include <string.h>

#include "input.h"

static void texts_free(struct emb_texts *t)
{
    for (size_t i = 0; i < t->n; i++) {
        free(t->item[i]);
    }
    free(t->item);
}

void emb_study_file_free(struct emb_study_cfg *s)
{
    for (size_t i = 0; i < s->n_axis; i++) {
        struct emb_axis_cfg *a = &s->axis[i];
        texts_free(&a->also);
        texts_free(&a->values);
        free(a->key);
        free(a->from);
        free(a->to);
        free(a->mean);
        free(a->sd);
    }
    texts_free(&s->set);
    texts_free(&s->outputs);
    texts_free(&s->traces);
    texts_free(&s->search.limits);
    free(s->search.minimise);
    free(s->search.maximise);
    free(s->axis);
    free(s->file);
    free(s->text);
    free(s->title);
    free(s->base);
    free(s->table);
    *s = (struct emb_study_cfg){0};
}

char *emb_study_file_beside(const struct emb_study_cfg *s, const char *file)
{
    const char *slash = file[0] != '/' ? strrchr(s->file, '/') : NULL;
    const size_t dir = slash != NULL ? (size_t)(slash - s->file) + 1 : 0, n = strlen(file) + 1;
    char *full = malloc(dir + n);
    if (full != NULL) {
        memcpy(full, s->file, dir);
        memcpy(full + dir, file, n);
    }
    return full;
}

static void axis_check(struct emb_loader *l, const struct emb_axis_cfg *a, const char *path)
{
    const bool range = a->from != NULL || a->to != NULL;
    if (a->key == NULL || a->key[0] == '\0') {
        emb_problem_add(l, path, "needs key: what varies, for example  key: ambient.temperature");
    }
    if (a->values.n > 0 && (range || a->mean != NULL || a->sd != NULL)) {
        emb_problem_add(l, path, "give either values, or from and to, or mean and sd");
    }
    if ((a->from == NULL) != (a->to == NULL)) {
        emb_problem_add(l, path, "needs both from and to");
    }
}

static void study_check(struct emb_loader *l, const struct emb_study_cfg *s)
{
    const bool table = s->design == EMB_DESIGN_TABLE;
    if (s->base == NULL) {
        emb_problem_add(l, "", "needs base: the case file that is varied");
    }
    if (s->outputs.n == 0) {
        emb_problem_add(l, "",
                        "needs outputs: what to keep of every case, for example  "
                        "outputs: [target.NAME.time, total.dosed_fuel]");
    }
    if (!table && s->n_axis == 0) {
        emb_problem_add(l, "", "needs axes: what varies");
    }
    if (table != (s->table != NULL) || (table && s->n_axis > 0)) {
        emb_problem_add(l, "table",
                        "design: table takes its cases from table: FILE.csv and has no axes");
    }
    const bool search = s->design == EMB_DESIGN_SEARCH;
    if (search && (s->search.minimise == NULL) == (s->search.maximise == NULL)) {
        emb_problem_add(l, "search",
                        "design: search needs search: with minimise or maximise, an output");
    }
    if (!table && !search && s->design != EMB_DESIGN_GRID && s->samples < 1) {
        emb_problem_add(l, "samples", "this design needs samples: the number of cases");
    }
}

static void study_decode(struct emb_loader *l, void **root, struct emb_study_cfg *s)
{
    const int i = emb_field_find(&emb_block_study, "axes");
    const size_t n = root[i] != NULL ? *emb_slot_count(&emb_block_study, root, (size_t)i) : 0;
    emb_decode_block(l, &emb_block_study, root, s, "", false);
    s->axis = n > 0 ? calloc(n, sizeof *s->axis) : NULL;
    l->no_memory = l->no_memory || (n > 0 && s->axis == NULL);
    for (; s->axis != NULL && s->n_axis < n; s->n_axis++) {
        char path[EMB_PATH];
        snprintf(path, sizeof path, "axes[%zu]", s->n_axis);
        emb_decode_block(l, &emb_block_axis, (void **)root[i] + s->n_axis * 2 * emb_block_axis.n,
                         &s->axis[s->n_axis], path, false);
        axis_check(l, &s->axis[s->n_axis], path);
    }
    study_check(l, s);
}

static char *bytes_text(const void *bytes, size_t n)
{
    char *text = malloc(n + 1);
    if (text != NULL) {
        memcpy(text, bytes, n);
        text[n] = '\0';
    }
    return text;
}

enum emb_status emb_study_file_load(const char *file, struct emb_study_cfg *out,
                                    struct emb_problems *problems, struct emb_err *err)
{
    struct emb_problems own = {0};
    struct emb_loader l = {.file = file, .problems = problems != NULL ? problems : &own};
    size_t index = 0;
    *l.problems = (struct emb_problems){0};
    *out = (struct emb_study_cfg){0};
    l.units = emb_units_new();
    l.no_memory = l.units == NULL;
    if (!l.no_memory && emb_doc_load(&l, file, "", &emb_block_study, &index) == 0) {
        void **root = emb_record_read(&l, &l.doc[index], &emb_block_study);
        if (root != NULL) {
            study_decode(&l, root, out);
            emb_record_free(&emb_block_study, root);
        }
        out->file = bytes_text(file, strlen(file));
        out->text = bytes_text(l.doc[index].bytes, l.doc[index].n);
        l.no_memory = l.no_memory || out->file == NULL || out->text == NULL;
    }
    const enum emb_status status = emb_loader_verdict(&l, err);
    if (status != EMB_OK) {
        emb_study_file_free(out);
    }
    emb_loader_free(&l);
    emb_problems_free(&own);
    return status;
}
