/* log.h - a recording from a vehicle or a test bench: what drives the line, and what its sensors
 * read.
 *
 * A text table whose header cells are `name [unit]`. Commas, semicolons or tabs between the cells;
 * with the latter two the whole file may use decimal commas. Names are our own, those of a mapping
 * file, or signal names of SAE J1939-71 and SAE J1979. What cannot be read without guessing is
 * refused with its line and column. */
#ifndef EMB_LOG_H
#define EMB_LOG_H
#include <stddef.h>
#include "emberpipe/case.h"
#include "emberpipe/config.h"
#include "emberpipe/status.h"
#include "emberpipe/units.h"

enum emb_log_role {
    EMB_LOG_UNUSED,
    EMB_LOG_TIME,
    EMB_LOG_FLOW,    /* exhaust mass flow */
    EMB_LOG_AIR,     /* intake air mass flow */
    EMB_LOG_FUEL,    /* engine fuel */
    EMB_LOG_SPEED,   /* engine speed */
    EMB_LOG_INLET,   /* gas into the line */
    EMB_LOG_AMBIENT, /* air temperature */
    EMB_LOG_DOSE,    /* fuel commanded into the line */
    EMB_LOG_READING, /* compared with a column of the result */
    EMB_N_LOG_ROLE
};

struct emb_log_entry {
    char *column; /* header name without its unit */
    char *is;     /* role, element or element.observation */
    char *unit;   /* NULL: as in the header */
};
struct emb_log_map {
    size_t n_entry;
    struct emb_log_entry *entry;
    double longest_gap; /* [s] of the driving signals that is bridged by a straight line */
    double from, to;    /* [s] of the log's own clock, NaN: all */
    double thin;        /* [s] rows closer together than this are averaged */
};

enum { EMB_LOG_NAME = 96, EMB_LOG_MAX_COLUMNS = 24, EMB_LOG_MAX_NOTES = 16 };
struct emb_log_column {
    char name[EMB_LOG_NAME];  /* as in the file */
    char reads[EMB_LOG_NAME]; /* column of the result it stands for; "" for driving signals */
    char unit[16];            /* SI */
    enum emb_log_role role;
    size_t at;        /* column in the file, from 0 */
    size_t n_missing; /* cells without a value */
    double *v;        /* [SI] n values; NaN: missing */
};
struct emb_log {
    size_t n, n_column;
    double *t;      /* [s] from 0 */
    unsigned *line; /* in the file, for messages */
    struct emb_log_column column[EMB_LOG_MAX_COLUMNS];
    size_t n_note;
    char note[EMB_LOG_MAX_NOTES][240]; /* what was taken how, ready to print */
};

/* file NULL: the defaults. Problems as in emb_config_load. */
enum emb_status emb_log_map_load(const char *file, struct emb_log_map *out,
                                 struct emb_problems *problems, struct emb_err *err);
void emb_log_map_free(struct emb_log_map *m);

/* The line of `c` decides what a sensor's name stands for. On failure out holds nothing. */
enum emb_status emb_log_read(const char *file, const struct emb_case *c,
                             const struct emb_log_map *map, struct emb_log *out,
                             struct emb_err *err);
void emb_log_free(struct emb_log *l);
/* The first column with this role, or NULL. */
const struct emb_log_column *emb_log_find(const struct emb_log *l, enum emb_log_role role);
void emb_log_note(struct emb_log *l, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
#endif
