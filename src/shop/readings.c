/* readings.c - one run with healthy sensors, its columns picked for a person with a scan tool. */
#include "emberpipe/readings.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/duty.h"
#include "emberpipe/run.h"
#include "find.h"
#include "readings_pick.h"

enum { MAX_ROWS = 4000 }; /* a run thins its rows out beyond some 4096 */

static void sensors_heal(struct emb_case *c)
{
    for (size_t i = 0; i < c->n_line; i++) {
        if (c->line[i].kind == EMB_SENSOR) {
            c->line[i].u.sensor.offset = 0.0;
        }
    }
}

void emb_readings_renew(struct emb_case *c)
{
    for (size_t i = 0; i < c->n_line; i++) {
        struct emb_element_cfg *e = &c->line[i];
        switch (e->kind) {
        case EMB_OXICAT:
        case EMB_REDCAT:
            e->u.brick.activity = 1.0;
            e->u.brick.blocked = 0.0;
            break;
        case EMB_DOSER:
            e->u.doser.delivery = 1.0;
            break;
        case EMB_DEF:
            e->u.def.delivery = 1.0;
            break;
        case EMB_LEAK:
            e->u.leak.share = 0.0;
            break;
        case EMB_FILTER:
        case EMB_PIPE:
        case EMB_MASS:
        case EMB_SENSOR:
            break;
        }
    }
    c->engine.dead_cylinders = 0;
    c->engine.boost_leak = 0.0;
    c->engine.oil_burn = 0.0;
}

void emb_readings_heal(struct emb_case *c, bool as_new)
{
    sensors_heal(c);
    if (as_new) {
        emb_readings_renew(c);
    }
}

/* Which column of the result an element is read from; -1: none. */
static int element_column(const struct emb_result *r, const struct emb_element_cfg *e)
{
    const bool brick = e->kind == EMB_OXICAT || e->kind == EMB_REDCAT || e->kind == EMB_FILTER;
    return e->kind == EMB_SENSOR ? emb_shop_column(r, e->name, "reading")
           : brick               ? emb_shop_column(r, e->name, "mean_temperature")
                                 : -1;
}

static void column_add(struct emb_readings *o, const char *name, enum emb_reading_kind kind)
{
    struct emb_reading *c = &o->column[o->n_column++];
    snprintf(c->name, sizeof c->name, "%s", name);
    c->kind = kind;
}

/* The log knows when dosing began and ended; the rows may be far apart. */
static void dosing_note(const struct emb_result *r, struct emb_readings *o)
{
    double until = r->t_end;
    o->dosed_from = NAN;
    for (size_t i = 0; i < r->n_note; i++) {
        const bool stage = strncmp(r->note[i].text, "regeneration: ", 14) == 0;
        if (stage && strncmp(r->note[i].text + 14, "dosing", 6) == 0) {
            o->dosed_from = isnan(o->dosed_from) ? r->note[i].t : o->dosed_from;
        } else if (stage && !isnan(o->dosed_from) && until >= r->t_end) {
            until = r->note[i].t;
        }
    }
    const double fuel = emb_shop_total(r, "dosed_fuel") + emb_shop_total(r, "late_post_fuel");
    o->mean_dosing = until > o->dosed_from ? fuel / (until - o->dosed_from) : 0.0;
}

enum emb_status emb_readings_pick(const struct emb_case *c, const struct emb_result *r,
                                  struct emb_readings *o, struct emb_err *err)
{
    size_t *from = calloc(c->n_line + 1, sizeof *from);
    o->column = calloc(c->n_line + 1, sizeof *o->column);
    o->t = calloc(r->n_row + 1, sizeof *o->t);
    o->K = calloc((r->n_row + 1) * (c->n_line + 1), sizeof *o->K);
    if (from == NULL || o->column == NULL || o->t == NULL || o->K == NULL) {
        free(from);
        return emb_fail(err, EMB_ERR_NOMEM, "readings", "out of memory");
    }
    from[0] = (size_t)emb_result_find(r, "exhaust.temperature");
    column_add(o, "exhaust", EMB_READ_EXHAUST);
    for (size_t i = 0; i < c->n_line; i++) {
        const int col = element_column(r, &c->line[i]);
        if (col >= 0) {
            from[o->n_column] = (size_t)col;
            column_add(o, c->line[i].name,
                       c->line[i].kind == EMB_SENSOR ? EMB_READ_SENSOR : EMB_READ_BRICK);
        }
    }
    o->n_row = r->n_row;
    for (size_t i = 0; i < r->n_row; i++) {
        o->t[i] = r->row[i * r->n_column];
        for (size_t k = 0; k < o->n_column; k++) {
            o->K[i * o->n_column + k] = r->row[i * r->n_column + from[k]];
        }
    }
    free(from);
    return EMB_OK;
}

enum emb_status emb_readings_make(const struct emb_case *c, double every, bool as_new,
                                  struct emb_readings *out, struct emb_err *err)
{
    struct emb_case s;
    struct emb_result r;
    const double length = emb_duty_length(c);
    *out = (struct emb_readings){.as_new = as_new};
    if (!(every > 0.0) || length / every > MAX_ROWS) {
        return emb_fail(err, EMB_ERR_USAGE, "--every",
                        "gives more than %d rows for a duty of %.0f s; use %.3g s or more",
                        MAX_ROWS, length, ceil(length / MAX_ROWS));
    }
    enum emb_status st = emb_case_copy(c, &s, err);
    if (st != EMB_OK) {
        return st;
    }
    emb_readings_heal(&s, as_new);
    s.output_interval = every;
    st = emb_run(&s, NULL, &r, err);
    if (st == EMB_OK) {
        snprintf(out->title, sizeof out->title, "%s", r.title);
        out->complete = r.complete;
        dosing_note(&r, out);
        st = emb_readings_pick(&s, &r, out, err);
    }
    emb_result_free(&r);
    emb_case_free(&s);
    if (st != EMB_OK) {
        emb_readings_free(out);
    }
    return st;
}

void emb_readings_free(struct emb_readings *r)
{
    free(r->column);
    free(r->t);
    free(r->K);
    free(r->low);
    free(r->high);
    *r = (struct emb_readings){0};
}
