/* export_netcdf.c - a journal as NetCDF-4. A full grid gets its axes as dimensions, so that a map
 * is one indexing away; other designs get one dimension, case. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/study_export.h"
#include "export.h"
#include "netcdf_dl.h"

enum { MAX_DIMS = 64, NAME = 200 };
struct out {
    struct emb_netcdf nc;
    struct emb_journal *j;
    const struct emb_journal_info *info;
    int id, n_dim, dim[MAX_DIMS + 1]; /* of the cases; the last but one is followed by time */
    size_t size[MAX_DIMS];
    int *axis, *label, *output, *trace, status, time;
    bool grid;
    const char *file;
    struct emb_err *err;
    bool failed;
};

/* Remembers the first failure; the calls that follow it do nothing. */
static bool ok(struct out *o, int rc)
{
    if (rc != NC_NOERR && !o->failed) {
        o->failed = true;
        emb_fail(o->err, EMB_ERR_IO, o->file, "cannot be written: %s", o->nc.nc_strerror(rc));
    }
    return !o->failed;
}

/* CF asks for letters, digits and underscores, beginning with a letter. */
static void cf_name(const char *from, char *to)
{
    size_t n = 0;
    if (!isalpha((unsigned char)from[0])) {
        to[n++] = 'x';
    }
    for (; *from != '\0' && n + 1 < NAME; from++) {
        const bool plain = isalnum((unsigned char)*from);
        if (plain || (n > 0 && to[n - 1] != '_')) {
            to[n++] = plain ? *from : '_';
        }
    }
    while (n > 1 && to[n - 1] == '_') {
        n--;
    }
    to[n] = '\0';
}

static void attribute(struct out *o, int var, const char *key, const char *text)
{
    if (!o->failed && text[0] != '\0') {
        ok(o, o->nc.nc_put_att_text(o->id, var, key, strlen(text), text));
    }
}

/* A second variable of one CF name gets its number behind it. */
static int define(struct out *o, const struct emb_journal_name *n, size_t i, nc_type type, int dims,
                  const int *dim, bool numbered)
{
    char name[NAME + 24], base[NAME];
    int var = -1;
    if (o->failed) {
        return -1;
    }
    cf_name(n->name, base);
    snprintf(name, sizeof name, numbered ? "%s_%zu" : "%s", base, i);
    const int rc = o->nc.nc_def_var(o->id, name, type, dims, dim, &var);
    if (rc == NC_ENAMEINUSE && !numbered) {
        return define(o, n, i, type, dims, dim, true);
    }
    ok(o, rc);
    attribute(o, var, "long_name", n->meaning);
    attribute(o, var, "emberpipe_name", n->name);
    return var;
}

/* flag_values and flag_meanings tell what the integers of a choice mean. */
static void flags(struct out *o, int var, const struct emb_journal_name *a)
{
    int *values = calloc(a->n_level + 1, sizeof *values);
    char *words = calloc(a->n_level + 1, NAME), one[NAME];
    if (values == NULL || words == NULL) {
        o->failed = true;
        emb_fail(o->err, EMB_ERR_NOMEM, o->file, "out of memory");
    }
    for (size_t k = 0; !o->failed && k < a->n_level; k++) {
        values[k] = (int)k;
        cf_name(a->level[k], one);
        const size_t used = strlen(words);
        snprintf(words + used, (a->n_level + 1) * NAME - used, "%s%s", k > 0 ? " " : "", one);
    }
    if (!o->failed) {
        ok(o, o->nc.nc_put_att_int(o->id, var, "flag_values", NC_INT, a->n_level, values));
        attribute(o, var, "flag_meanings", words);
    }
    free(values);
    free(words);
}

static void define_dims(struct out *o)
{
    const struct emb_journal_info *info = o->info;
    o->grid = strcmp(info->design, "grid") == 0 && info->n_axis <= MAX_DIMS;
    o->n_dim = o->grid ? (int)info->n_axis : 1;
    for (int i = 0; i < o->n_dim && !o->failed; i++) {
        char name[NAME] = "case";
        o->size[i] = o->grid ? info->axis[i].n_level : info->n;
        if (o->grid) {
            cf_name(info->axis[i].name, name);
        }
        ok(o, o->nc.nc_def_dim(o->id, name, o->size[i], &o->dim[i]));
    }
    if (info->n_trace > 0 && !o->failed) {
        ok(o, o->nc.nc_def_dim(o->id, "time", info->n_time, &o->dim[o->n_dim]));
    }
}

static void define_axes(struct out *o)
{
    for (size_t i = 0; i < o->info->n_axis; i++) {
        const struct emb_journal_name *a = &o->info->axis[i];
        o->axis[i] = define(o, a, i, a->text ? NC_INT : NC_DOUBLE, 1,
                            o->grid ? &o->dim[i] : &o->dim[0], false);
        if (a->text) {
            struct emb_journal_name label = *a;
            flags(o, o->axis[i], a);
            snprintf(label.name, sizeof label.name, "%.160s_label", a->name);
            o->label[i] = o->grid ? define(o, &label, i, NC_STRING, 1, &o->dim[i], false) : -1;
        } else {
            attribute(o, o->axis[i], "units", a->unit);
        }
    }
}

static void define_results(struct out *o)
{
    static const struct emb_journal_name status = {.name = "status",
                                                   .meaning = "what became of the case"};
    static const struct emb_journal_name time = {.name = "time", .meaning = "simulated time"};
    static const int codes[] = {-1,         EMB_OK,        EMB_ERR_CONFIG, EMB_ERR_SOLVER,
                                EMB_ERR_IO, EMB_ERR_NOMEM, EMB_ERR_BUG};
    const float none = NAN;
    const double missing = NAN;
    for (size_t i = 0; i < o->info->n_output; i++) {
        o->output[i] = define(o, &o->info->output[i], i, NC_DOUBLE, o->n_dim, o->dim, false);
        attribute(o, o->output[i], "units", o->info->output[i].unit);
        if (!o->failed) {
            ok(o,
               o->nc.nc_put_att_double(o->id, o->output[i], "_FillValue", NC_DOUBLE, 1, &missing));
        }
    }
    for (size_t i = 0; i < o->info->n_trace; i++) {
        o->trace[i] = define(o, &o->info->trace[i], i, NC_FLOAT, o->n_dim + 1, o->dim, false);
        attribute(o, o->trace[i], "units", o->info->trace[i].unit);
        if (!o->failed) {
            ok(o, o->nc.nc_put_att_float(o->id, o->trace[i], "_FillValue", NC_FLOAT, 1, &none));
        }
    }
    if (o->info->n_trace > 0) {
        o->time = define(o, &time, 0, NC_DOUBLE, 1, &o->dim[o->n_dim], false);
        attribute(o, o->time, "units", "s");
    }
    o->status = define(o, &status, 0, NC_INT, o->n_dim, o->dim, false);
    if (!o->failed) {
        ok(o, o->nc.nc_put_att_int(o->id, o->status, "flag_values", NC_INT,
                                   sizeof codes / sizeof *codes, codes));
    }
    attribute(o, o->status, "flag_meanings",
              "not_run done rejected integration_failed file_error no_memory internal_error");
}

static void define_about(struct out *o)
{
    char source[64];
    snprintf(source, sizeof source, "emberpipe %s", o->info->version);
    attribute(o, NC_GLOBAL, "Conventions", "CF-1.10");
    attribute(o, NC_GLOBAL, "title", o->info->title);
    attribute(o, NC_GLOBAL, "source", source);
    attribute(o, NC_GLOBAL, "design", o->info->design);
    attribute(o, NC_GLOBAL, "study_file", o->info->study_text);
    attribute(o, NC_GLOBAL, "comment",
              "Computed with a model, not measured; README of the program says what is validated.");
}

static void write_levels(struct out *o)
{
    for (size_t i = 0; i < o->info->n_axis && o->grid && !o->failed; i++) {
        const struct emb_journal_name *a = &o->info->axis[i];
        ok(o, o->nc.nc_put_var_double(o->id, o->axis[i], a->value));
        if (a->text && !o->failed) {
            ok(o, o->nc.nc_put_var_string(o->id, o->label[i], (const char **)a->level));
        }
    }
    double *time = calloc(o->info->n_time + 1, sizeof *time);
    for (size_t k = 0; time != NULL && k < o->info->n_time; k++) {
        time[k] = o->info->trace_interval * (double)k;
    }
    if (o->info->n_trace > 0 && time != NULL && !o->failed) {
        ok(o, o->nc.nc_put_var_double(o->id, o->time, time));
    }
    free(time);
}

static void write_column(struct out *o, enum emb_journal_column of, size_t i, int var, double *buf)
{
    if (o->failed || emb_journal_column(o->j, of, i, buf, o->err) != EMB_OK) {
        o->failed = true;
        return;
    }
    for (size_t k = 0; of == EMB_JOURNAL_STATUS && k < o->info->n; k++) {
        buf[k] = isnan(buf[k]) ? -1.0 : buf[k];
    }
    ok(o, o->nc.nc_put_var_double(o->id, var, buf));
}

static void write_traces(struct out *o)
{
    size_t start[MAX_DIMS + 1] = {0}, count[MAX_DIMS + 1];
    struct emb_record r;
    bool more = true;
    const struct emb_journal_info *info = o->info;
    if (info->n_trace == 0 || o->failed ||
        emb_record_make(info->n_axis, info->n_output, info->n_trace * info->n_time, &r, o->err)) {
        o->failed = o->failed || info->n_trace > 0;
        return;
    }
    while (!o->failed && more) {
        o->failed = emb_journal_next(o->j, &r, &more, o->err) != EMB_OK;
        size_t rest = r.id;
        for (int d = o->n_dim; d-- > 0;) {
            start[d] = rest % o->size[d];
            rest /= o->size[d];
            count[d] = 1;
        }
        count[o->n_dim] = info->n_time;
        for (size_t i = 0; more && !o->failed && i < info->n_trace; i++) {
            ok(o, o->nc.nc_put_vara_float(o->id, o->trace[i], start, count,
                                          r.traces + i * info->n_time));
        }
    }
    emb_record_drop(&r);
}

static void write_all(struct out *o)
{
    double *buf = calloc(o->info->n + 1, sizeof *buf); /* one column at a time: 8 bytes a case */
    if (buf == NULL) {
        o->failed = true;
        emb_fail(o->err, EMB_ERR_NOMEM, o->file, "out of memory for %zu cases", o->info->n);
        return;
    }
    write_levels(o);
    for (size_t i = 0; !o->grid && i < o->info->n_axis; i++) {
        write_column(o, EMB_JOURNAL_VALUE, i, o->axis[i], buf);
    }
    for (size_t i = 0; i < o->info->n_output; i++) {
        write_column(o, EMB_JOURNAL_OUTPUT, i, o->output[i], buf);
    }
    write_column(o, EMB_JOURNAL_STATUS, 0, o->status, buf);
    free(buf);
    write_traces(o);
}

static enum emb_status file_make(struct out *o, const char *beside)
{
    if (ok(o, o->nc.nc_create(beside, NC_NETCDF4 | NC_CLOBBER, &o->id))) {
        define_dims(o);
        define_axes(o);
        define_results(o);
        define_about(o);
        if (!o->failed && ok(o, o->nc.nc_enddef(o->id))) {
            write_all(o);
        }
        const int rc = o->nc.nc_close(o->id);
        ok(o, rc);
    }
    return o->failed ? EMB_ERR_IO : EMB_OK;
}

enum emb_status emb_study_export_netcdf(struct emb_journal *j, const char *file,
                                        struct emb_err *err)
{
    const struct emb_journal_info *info = emb_journal_info(j);
    struct out o = {.j = j, .info = info, .file = file, .err = err};
    char beside[400];
    enum emb_status st = emb_export_begin(file, beside, sizeof beside, err);
    st = st == EMB_OK ? emb_netcdf_open(&o.nc, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    o.axis = calloc(2 * info->n_axis + info->n_output + info->n_trace + 1, sizeof *o.axis);
    if (o.axis == NULL) {
        st = emb_fail(err, EMB_ERR_NOMEM, file, "out of memory");
    } else {
        o.label = o.axis + info->n_axis;
        o.output = o.label + info->n_axis;
        o.trace = o.output + info->n_output;
        st = file_make(&o, beside);
    }
    free(o.axis);
    return emb_export_end(file, beside, st, err);
}
