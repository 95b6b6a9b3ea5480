/* log_map.c - the mapping file: which column of a log is what. Read like a case, from the table of
 * fields. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/log.h"
#include "input.h"
#include "rows.h"

static const struct emb_field entry[] = {
    {"column", EMB_FIELD_TEXT, EMB_DIM_FRACTION, NULL, 0, 0, offsetof(struct emb_log_entry, column),
     "name of the column in the log's header, without its unit", NULL, 0, NULL, NULL, false, NULL},
    {"is", EMB_FIELD_TEXT, EMB_DIM_FRACTION, NULL, 0, 0, offsetof(struct emb_log_entry, is),
     "time, flow, air_flow, fuel, speed, inlet_temperature, ambient_temperature, dose, unused; or "
     "an element of the line, or one of its readings: dpf.pressure_drop",
     NULL, 0, NULL, NULL, false, NULL},
    ROW_TEXT(emb_log_entry, unit, EMB_UNSET, "unit of the column, if its header has none"),
};
EMB_BLOCK(log_entry, "log.columns[]", "One column of a recorded log.", entry);

#define M(...) ROW_Q(emb_log_map, __VA_ARGS__)
static const struct emb_field log_map[] = {
    ROW_LIST("columns", log_entry, "what the columns of the log are"),
    M(longest_gap, TIME, "60 s", 0.1, 1e5,
      "longest pause of a driving signal that is bridged by a straight line", SRC_JUDGED, 0),
    M(from, TIME, EMB_UNSET, 0, 1e9, "leave out what the log has before this, counted from its first row",
      NULL, 0),
    M(to, TIME, EMB_UNSET, 0, 1e9, "leave out what the log has after this, counted from its first row",
      NULL, 0),
    M(thin, TIME, "0.5 s", 0, 600, "rows closer together than this are averaged", SRC_JUDGED, 0),
};
EMB_BLOCK(log, "log", "How a recorded log is to be read (a file of its own, given with --map).",
          log_map);

static void map_decode(struct emb_loader *l, void **rec, struct emb_log_map *out)
{
    const struct emb_block *b = &emb_block_log;
    const int i = emb_field_find(b, "columns");
    emb_decode_block(l, b, rec, out, "", false);
    const size_t n = rec[i] != NULL ? *emb_slot_count(b, rec, (size_t)i) : 0;
    out->entry = n > 0 ? calloc(n, sizeof *out->entry) : NULL;
    out->n_entry = out->entry != NULL ? n : 0;
    l->no_memory = l->no_memory || (n > 0 && out->entry == NULL);
    for (size_t k = 0; k < out->n_entry; k++) {
        char path[EMB_PATH];
        snprintf(path, sizeof path, "columns[%zu]", k);
        emb_decode_block(l, &emb_block_log_entry, (void **)rec[i] + k * 2 * emb_block_log_entry.n,
                         &out->entry[k], path, false);
        if (out->entry[k].column == NULL || out->entry[k].is == NULL) {
            emb_problem_add(l, path, "needs both 'column' and 'is'");
        }
    }
    if (out->to <= out->from) {
        emb_problem_add(l, "to", "must be later than 'from'");
    }
}

enum emb_status emb_log_map_load(const char *file, struct emb_log_map *out,
                                 struct emb_problems *problems, struct emb_err *err)
{
    struct emb_problems own = {0};
    struct emb_loader l = {.file = file != NULL ? file : "",
                           .problems = problems != NULL ? problems : &own};
    size_t index = 0;
    *l.problems = (struct emb_problems){0};
    *out = (struct emb_log_map){0};
    l.units = emb_units_new();
    if (l.units == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, l.file, "out of memory");
    }
    void **rec = NULL;
    if (file == NULL) {
        rec = emb_record_new(&emb_block_log);
    } else if (emb_doc_load(&l, file, "", &emb_block_log, &index) == 0) {
        rec = emb_record_read(&l, &l.doc[index], &emb_block_log);
    }
    if (rec != NULL) {
        map_decode(&l, rec, out);
        emb_record_free(&emb_block_log, rec);
    }
    const enum emb_status st = emb_loader_verdict(&l, err);
    if (st != EMB_OK) {
        emb_log_map_free(out);
    }
    emb_loader_free(&l);
    emb_problems_free(&own);
    return st;
}

void emb_log_map_free(struct emb_log_map *m)
{
    for (size_t i = 0; i < m->n_entry; i++) {
        free(m->entry[i].column);
        free(m->entry[i].is);
        free(m->entry[i].unit);
    }
    free(m->entry);
    *m = (struct emb_log_map){0};
}
