/* log.h - private to the reader of logs: what a header cell means, and the reader's state. */
#ifndef EMB_INPUT_LOG_H
#define EMB_INPUT_LOG_H
#include <stdbool.h>
#include "emberpipe/log.h"

enum { EMB_LOG_CELLS = 256 };

/* What a role carries, and the range outside of which its unit must be wrong. */
struct emb_log_kind {
    const char *word; /* in a mapping file */
    enum emb_dim dim;
    const char *unit; /* SI */
    double lo, hi;    /* [SI] plausible */
    bool drives;
};
const struct emb_log_kind *emb_log_kind(enum emb_log_role role);

/* What the header cell `name` stands for. 0, or -1 with a message for an entry of the mapping file
 * that points nowhere. */
int emb_log_bind(const struct emb_case *c, const struct emb_log_map *map, const char *name,
                 struct emb_log_column *out, const char **unit, struct emb_err *err);

struct emb_log_reader {
    const char *file;
    const struct emb_case *c;
    const struct emb_log_map *map;
    struct emb_units *units;
    struct emb_log *log;
    struct emb_err *err;
    char delimiter;   /* ',', ';' or tab */
    char decimal;     /* '.', ',' or 0: not known yet */
    size_t n_header;  /* cells of the header */
    char *names;      /* header without units that waited for the next line; NULL: none did */
    size_t names_at;  /* its line of the file */
    size_t number;    /* line of the file */
    size_t time_at, time_column; /* column of the time in the file and in the log */
    double slope[EMB_LOG_MAX_COLUMNS], origin[EMB_LOG_MAX_COLUMNS]; /* SI = slope x + origin */
    double lo[EMB_LOG_MAX_COLUMNS], hi[EMB_LOG_MAX_COLUMNS];        /* [SI] plausible */
    double seen[EMB_LOG_MAX_COLUMNS]; /* [s] when a driving signal last had a value */
    double sum[EMB_LOG_MAX_COLUMNS];  /* of the rows being averaged */
    unsigned count[EMB_LOG_MAX_COLUMNS];
    double t_first, t_last, bin, t_sum; /* [s] first row, last row, start of the average, its sum */
    double midnight;                    /* [s] days that a clock has passed */
    char date[16];                      /* of the last row, as written; "" if none */
    bool coarse_clock;                  /* m:s, or maybe h:m */
    unsigned same, repeated;            /* rows of one time: in succession, in all */
    unsigned in_bin, bin_line;
    size_t capacity, read;
};
enum emb_status emb_log_header(struct emb_log_reader *r, char *line);
/* Whether `line` below `names` holds units and nothing else; both as one header, NULL: no memory. */
bool emb_log_units_row(const char *names, const char *line);
char *emb_log_units_join(char *names, char *line);
enum emb_status emb_log_row(struct emb_log_reader *r, char *line);
enum emb_status emb_log_flush(struct emb_log_reader *r); /* the rows averaged so far become one */
enum emb_status emb_log_time(struct emb_log_reader *r, char *cell, double *t); /* [s] */
enum emb_status emb_log_number(struct emb_log_reader *r, size_t at, char *cell, double *v);
enum emb_status emb_log_bad_cell(struct emb_log_reader *r, size_t at, const char *cell,
                                 const char *why);
bool emb_log_missing(const char *cell);
enum emb_dim emb_log_dim(const struct emb_log_column *c);
char emb_log_delimiter(const char *line);
size_t emb_log_cells(char *line, char delimiter, char **cell);
/* After the last row: gaps bridged, stuck driving signals refused. */
enum emb_status emb_log_finish(struct emb_log_reader *r);
#endif
