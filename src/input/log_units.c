/* log_units.c - units in a line of their own below the names. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "log.h"

/* A letter, a percent sign, a degree sign: what no number has. */
static bool like_unit(const char *cell)
{
    for (const char *p = cell; *p != '\0'; p++) {
        const char low = (char)(*p | 0x20);
        if ((low >= 'a' && low <= 'z') || *p == '%' || (unsigned char)*p >= 0x80) {
            return true;
        }
    }
    return strcmp(cell, "-") == 0;
}

bool emb_log_units_row(const char *names, const char *line)
{
    char *cell[EMB_LOG_CELLS], *copy = strdup(line);
    size_t n = copy != NULL ? emb_log_cells(copy, emb_log_delimiter(names), cell) : 0, units = 0;
    for (size_t i = 0; i < n; i++) {
        if (cell[i][0] != '\0' && !like_unit(cell[i])) {
            n = 0;
        }
        units += n > 0 && cell[i][0] != '\0';
    }
    free(copy);
    return n > 0 && units > 1;
}

char *emb_log_units_join(char *names, char *line)
{
    char *name[EMB_LOG_CELLS], *unit[EMB_LOG_CELLS], *both = NULL;
    const char delimiter = emb_log_delimiter(names);
    const size_t n = emb_log_cells(names, delimiter, name),
                 m = emb_log_cells(line, delimiter, unit);
    size_t size = 0;
    FILE *f = open_memstream(&both, &size);
    for (size_t i = 0; i < n && f != NULL; i++) {
        const bool has = i < m && unit[i][0] != '\0' && name[i][0] != '\0';
        if (i > 0) {
            fputc(delimiter, f);
        }
        if (has) {
            fprintf(f, "\"%s [%s]\"", name[i], unit[i]);
        } else {
            fprintf(f, "\"%s\"", name[i]);
        }
    }
    if (f == NULL || fclose(f) != 0) {
        free(both);
        return NULL;
    }
    return both;
}
