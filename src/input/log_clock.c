/* log_clock.c - the time of a row: seconds or minutes since anything, or a clock, with or without a
 * date. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "log.h"

enum { MOST_REPEATS = 100 };            /* rows of one time: no recorder is faster, judgement */
static const double most_early_s = 1.5; /* how far such rows may be from their time, judgement */

struct clock {
    char date[16]; /* as written; "" if none */
    double part[3];
    int n; /* parts: minutes and seconds, or hours too */
    bool noon, twelve;
};

/* "2026-11-25T" or "25.11.2026 " ahead of the clock. Only that it changes matters, not how it is
 * written: no guess which number is the month. */
static char *date_cut(char *cell, struct clock *c)
{
    char *p = strchr(cell, ':');
    while (p != NULL && p > cell && p[-1] >= '0' && p[-1] <= '9') {
        p--;
    }
    if (p == NULL || p == cell || strchr(" T", p[-1]) == NULL) {
        return cell;
    }
    size_t n = (size_t)(p - cell) - 1;
    while (n > 0 && cell[n - 1] == ' ') {
        n--;
    }
    if (n >= sizeof c->date || strspn(cell, "0123456789-./") < n) {
        return cell; /* refused as a number */
    }
    snprintf(c->date, sizeof c->date, "%.*s", (int)n, cell);
    return p;
}

/* "PM" and the zone, which is the same in all rows, off the end. */
static void tail_cut(char *clock, struct clock *c)
{
    clock[strcspn(clock, "Z+-")] = '\0';
    size_t n = strlen(clock);
    c->noon = n > 2 && strcasecmp(clock + n - 2, "pm") == 0;
    c->twelve = c->noon || (n > 2 && strcasecmp(clock + n - 2, "am") == 0);
    n -= c->twelve ? 2 : 0;
    while (n > 0 && clock[n - 1] == ' ') {
        n--;
    }
    clock[n] = '\0';
}

/* NULL, or what is wrong. Fractions of seconds have a point or a comma, whatever the file has. */
static const char *clock_parse(char *cell, struct clock *c)
{
    char *p = date_cut(cell, c);
    tail_cut(p, c);
    for (; p != NULL; c->n++) {
        char *colon = strchr(p, ':'), *comma = strchr(p, ',');
        if (colon != NULL) {
            *colon = '\0';
        }
        if (comma != NULL && colon == NULL) {
            *comma = '.';
        }
        if (c->n == 3 || emb_number_parse(p, &c->part[c->n], NULL) != 0) {
            return "is no clock; write h:m:s";
        }
        p = colon != NULL ? colon + 1 : NULL;
    }
    if (c->n < 2) {
        return "is a time without a unit; name the column 'time [s]'";
    }
    if (c->n == 2 && (c->date[0] != '\0' || c->twelve)) {
        return "has no seconds; let the spreadsheet show h:m:s and export again";
    }
    if (c->twelve && !(c->part[0] >= 1.0 && c->part[0] <= 12.0)) {
        return "is no clock of twelve hours";
    }
    return NULL;
}

/* Days are counted when the clock passes midnight; a date must change just then. */
static const char *clock_read(struct emb_log_reader *r, char *cell, double *t)
{
    struct clock c = {.n = 0};
    const char *why = clock_parse(cell, &c);
    if (why != NULL) {
        return why;
    }
    r->coarse_clock = c.n == 2;
    c.part[0] = c.twelve ? fmod(c.part[0], 12.0) + (c.noon ? 12.0 : 0.0) : c.part[0];
    *t = (c.n == 3 ? 3600.0 * c.part[0] + 60.0 * c.part[1] + c.part[2]
                   : 60.0 * c.part[0] + c.part[1]) +
         r->midnight;
    const bool back = c.n == 3 && r->read > 0 && *t < r->t_last - 82800.0; /* by 23 h or more */
    const bool dated = c.date[0] != '\0', other = r->read > 0 && strcmp(c.date, r->date) != 0;
    if (other && !back) {
        return "has another date than the row before it, but not at midnight; cut the log there";
    }
    if (back && (!dated || other)) {
        r->midnight += 86400.0;
        *t += 86400.0;
    }
    memcpy(r->date, c.date, sizeof r->date);
    return NULL;
}

/* A clock of whole seconds stamps several rows alike; they are averaged. Refused when that would
 * move them far, and when nobody can say how far: "15:02" may be minutes and hours. */
static const char *order_check(struct emb_log_reader *r, double t, char *why, size_t room)
{
    const unsigned same = r->same;
    if (r->read == 0) {
        return NULL;
    }
    if (t < r->t_last) {
        return "does not come after the time before it: the clock jumps back; cut the log there";
    }
    if (t == r->t_last) {
        r->same++;
        r->repeated++;
        return r->coarse_clock || same >= MOST_REPEATS
                   ? "does not come after the time before it: the clock stands still"
                   : NULL;
    }
    r->same = 0;
    if (0.5 * (t - r->t_last) * same / (same + 1.0) > most_early_s) {
        snprintf(why, room,
                 "comes %g s after %u rows of one time: the clock stood still; cut the log there",
                 t - r->t_last, same + 1);
        return why;
    }
    return NULL;
}

enum emb_status emb_log_time(struct emb_log_reader *r, char *cell, double *t)
{
    char whole[48], text[120];
    const double slope = r->slope[r->time_column];
    const char *why = emb_log_missing(cell) ? "is no time" : NULL;
    if (why == NULL && slope != 0.0) {
        if (emb_log_number(r, r->time_at, cell, t) != EMB_OK) {
            return EMB_ERR_CONFIG;
        }
        *t = slope * *t + r->origin[r->time_column];
    } else if (why == NULL) {
        snprintf(whole, sizeof whole, "%.47s", cell);
        why = clock_read(r, cell, t);
        cell = whole;
    }
    why = why == NULL ? order_check(r, *t, text, sizeof text) : why;
    return why == NULL ? EMB_OK : emb_log_bad_cell(r, r->time_at, cell, why);
}
