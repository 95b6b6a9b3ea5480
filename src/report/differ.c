/* differ.c - which inputs differ between cases, and the comparison in one sentence. */
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "page.h"
#include "write.h"

static const struct emb_input_value *value_find(const struct emb_input_values *v, const char *path)
{
    for (size_t i = 0; v != NULL && i < v->n; i++) {
        if (strcmp(v->item[i].path, path) == 0) {
            return &v->item[i];
        }
    }
    return NULL;
}

static bool add(const struct emb_page_case *c, size_t n, const char *path,
                struct emb_difference **list, size_t *count)
{
    struct emb_difference *p = realloc(*list, (*count + 1) * sizeof *p);
    if (p == NULL) {
        return false;
    }
    *list = p;
    p[*count].path = path;
    p[*count].text = calloc(n, sizeof *p[*count].text);
    if (p[*count].text == NULL) {
        return false;
    }
    for (size_t k = 0; k < n; k++) {
        const struct emb_input_value *v = value_find(c[k].values, path);
        p[*count].text[k] = v != NULL ? v->text : NULL;
    }
    (*count)++;
    return true;
}

/* Differs in any of the cases? Told once, by the first case that has the path. */
static bool differs(const struct emb_page_case *c, size_t n, size_t k, const char *path)
{
    bool any = false;
    const struct emb_input_value *own = value_find(c[k].values, path);
    for (size_t m = 0; m < n; m++) {
        const struct emb_input_value *v = m == k ? own : value_find(c[m].values, path);
        if (m < k && v != NULL) {
            return false;
        }
        any = any || v == NULL || strcmp(v->text, own->text) != 0;
    }
    return any;
}

struct emb_difference *emb_differences(const struct emb_page_case *c, size_t n, size_t *count)
{
    struct emb_difference *list = NULL;
    *count = 0;
    for (size_t k = 0; k < n; k++) {
        for (size_t i = 0; c[k].values != NULL && i < c[k].values->n; i++) {
            const char *path = c[k].values->item[i].path;
            if (strcmp(path, "title") != 0 && differs(c, n, k, path) &&
                !add(c, n, path, &list, count)) {
                emb_differences_free(list, *count);
                *count = 1;
                return NULL;
            }
        }
    }
    return list;
}

void emb_differences_free(struct emb_difference *d, size_t count)
{
    for (size_t i = 0; d != NULL && i < count; i++) {
        free(d[i].text);
    }
    free(d);
}

const struct emb_verdict *emb_verdict_find(const struct emb_result *r, const char *name)
{
    for (size_t i = 0; i < r->n_verdict; i++) {
        if (strcmp(r->verdict[i].name, name) == 0) {
            return &r->verdict[i];
        }
    }
    return NULL;
}

/* Where an element stands in a line: behind whom. */
static const char *before_it(const struct emb_result *r, const char *name)
{
    for (size_t i = 0; i < r->n_place; i++) {
        if (strcmp(r->place[i].name, name) == 0) {
            return i > 0 ? r->place[i - 1].name : "the engine";
        }
    }
    return NULL;
}

/* Are the lines the same once `name` is taken out of both? */
static bool same_without(const struct emb_result *a, const struct emb_result *b, const char *name)
{
    size_t i = 0, k = 0;
    while (i < a->n_place || k < b->n_place) {
        if (i < a->n_place && strcmp(a->place[i].name, name) == 0) {
            i++;
        } else if (k < b->n_place && strcmp(b->place[k].name, name) == 0) {
            k++;
        } else if (i < a->n_place && k < b->n_place &&
                   strcmp(a->place[i].name, b->place[k].name) == 0) {
            i++;
            k++;
        } else {
            return false;
        }
    }
    return true;
}

/* The one element whose place differs between the first case and another; NULL: none, or more. */
static const char *moved(const struct emb_page_case *c, size_t n)
{
    for (size_t k = 1; k < n; k++) {
        const struct emb_result *a = c[0].result, *b = c[k].result;
        for (size_t i = 0; i < a->n_place && !same_without(a, b, ""); i++) {
            if (before_it(b, a->place[i].name) != NULL && same_without(a, b, a->place[i].name)) {
                return a->place[i].name;
            }
        }
    }
    return NULL;
}

/* Appends, and stops quietly at the end of the room. */
__attribute__((format(printf, 3, 4))) static void append(char *buf, size_t size, const char *fmt,
                                                         ...)
{
    const size_t used = strlen(buf);
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(buf + used, size - used, fmt, ap);
    va_end(ap);
}

static void say_difference(const struct emb_page_case *c, size_t n, char *buf, size_t size)
{
    size_t count = 0;
    struct emb_difference *d = emb_differences(c, n, &count);
    const char *name = moved(c, n);
    if (name != NULL) {
        append(buf, size, "%s place of '%s' differs:", count == 0 ? "Only the" : "The", name);
        for (size_t k = 0; k < n; k++) {
            const char *at = before_it(c[k].result, name);
            append(buf, size, "%s %zu behind %s", k > 0 ? "," : "", k + 1, at != NULL ? at : "nothing");
        }
        append(buf, size, count == 0 ? ". " : "; and %zu other input%s. ", count, count == 1 ? "" : "s");
    } else if (d != NULL && count == 1) {
        append(buf, size, "Only %s differs:", d[0].path);
        for (size_t k = 0; k < n; k++) {
            append(buf, size, "%s %zu %.60s", k > 0 ? "," : "", k + 1,
                   d[0].text[k] != NULL ? d[0].text[k] : "not there");
        }
        append(buf, size, ". ");
    } else if (count == 0) {
        append(buf, size, "No input differs. ");
    } else {
        append(buf, size, "%zu inputs differ. ", count);
    }
    emb_differences_free(d, count);
}

/* A target that some of the cases reach and others do not. */
static bool parts_ways(const struct emb_page_case *c, size_t n, const char *name)
{
    size_t met = 0, asked = 0;
    for (size_t k = 0; k < n; k++) {
        const struct emb_verdict *v = emb_verdict_find(c[k].result, name);
        asked += v != NULL;
        met += v != NULL && v->reached;
    }
    return asked == n && met > 0 && met < n;
}

const char *emb_text_compared(const struct emb_page_case *c, size_t n, char *buf, size_t size)
{
    char at[24];
    bool any = false;
    buf[0] = '\0';
    say_difference(c, n, buf, size);
    for (size_t i = 0; i < c[0].result->n_verdict; i++) {
        const char *name = c[0].result->verdict[i].name;
        if (!parts_ways(c, n, name)) {
            continue;
        }
        append(buf, size, "%s'%s':", any ? "; " : "That decides ", name);
        for (size_t k = 0; k < n; k++) {
            const struct emb_verdict *v = emb_verdict_find(c[k].result, name);
            append(buf, size, "%s %zu %s%s", k > 0 ? "," : "", k + 1, v->reached ? "at " : "",
                   emb_text_clock(v->t_reached, at));
        }
        any = true;
    }
    append(buf, size, any ? "." : "No target is reached by some and missed by others.");
    return buf;
}
