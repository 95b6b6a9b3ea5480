/* problems.c - collects everything that is wrong, with file, line and the nearest known words. */
#include "input.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

void emb_problems_free(struct emb_problems *p)
{
    if (p != NULL) {
        free(p->item);
        *p = (struct emb_problems){0};
    }
}

static struct emb_problem *problem_new(struct emb_loader *l, const char *path)
{
    struct emb_problems *p = l->problems;
    if (p->n >= EMB_MAX_PROBLEMS) {
        return NULL;
    }
    struct emb_problem *grown = realloc(p->item, (p->n + 1) * sizeof *grown);
    if (grown == NULL) {
        l->no_memory = true;
        return NULL;
    }
    p->item = grown;
    struct emb_problem *item = &p->item[p->n++];
    *item = (struct emb_problem){0};
    snprintf(item->path, sizeof item->path, "%s", path);
    snprintf(item->file, sizeof item->file, "%s", l->file);
    return item;
}

bool emb_problem_below(const struct emb_loader *l, const char *path)
{
    const size_t n = strlen(path);
    for (size_t i = 0; i < l->problems->n; i++) {
        if (strncmp(l->problems->item[i].path, path, n) == 0) {
            return true;
        }
    }
    return false;
}

/* The user's bytes may end up on a terminal: no control characters, no broken UTF-8 tail is worth more care. */
static void text_clean(char *s)
{
    for (; *s != '\0'; s++) {
        if (iscntrl((unsigned char)*s)) {
            *s = '?';
        }
    }
}

static bool path_was_set(const struct emb_loader *l, const char *path)
{
    for (size_t i = 0; i < l->n_set; i++) {
        if (strcmp(l->set[i], path) == 0) {
            return true;
        }
    }
    return false;
}

/* The first document that knows the whole path wins; else the deepest known ancestor in the case file. */
static void problem_place(struct emb_loader *l, struct emb_problem *item)
{
    if (strcmp(item->path, "--set") == 0 || path_was_set(l, item->path)) {
        snprintf(item->file, sizeof item->file, "--set");
        return;
    }
    for (size_t i = 0; i < l->n_doc; i++) {
        bool exact = false;
        const yaml_node_t *node = emb_doc_find(&l->doc[i], item->path, &exact);
        if (node != NULL && (exact || i == 0)) {
            snprintf(item->file, sizeof item->file, "%s", l->doc[i].file);
            item->line = (int)node->start_mark.line + 1;
            item->column = (int)node->start_mark.column + 1;
        }
        if (exact) {
            return;
        }
    }
}

/* A new problem with its text and no place yet; NULL when the list is full or memory is out. */
static struct emb_problem *problem_told(struct emb_loader *l, const char *path, const char *fmt, va_list ap)
{
    struct emb_problem *item = problem_new(l, path);
    if (item != NULL) {
        vsnprintf(item->text, sizeof item->text, fmt, ap);
        text_clean(item->text);
    }
    return item;
}

void emb_problem_add(struct emb_loader *l, const char *path, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    struct emb_problem *item = problem_told(l, path, fmt, ap);
    va_end(ap);
    if (item != NULL) {
        problem_place(l, item);
    }
}

void emb_problem_at(struct emb_loader *l, const char *file, yaml_mark_t mark, const char *path, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    struct emb_problem *item = problem_told(l, path, fmt, ap);
    va_end(ap);
    if (item != NULL) {
        snprintf(item->file, sizeof item->file, "%s", file);
        item->line = (int)mark.line + 1;
        item->column = (int)mark.column + 1;
    }
}

/* Levenshtein distance, for words up to 40 bytes. */
static size_t word_distance(const char *a, const char *b)
{
    size_t row[42];
    const size_t n = strlen(b) > 40 ? 40 : strlen(b);
    for (size_t j = 0; j <= n; j++) {
        row[j] = j;
    }
    for (size_t i = 1; a[i - 1] != '\0' && i <= 40; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= n; j++) {
            const size_t change = diagonal + (tolower((unsigned char)a[i - 1]) != tolower((unsigned char)b[j - 1]));
            const size_t insert = row[j] + 1, drop = row[j - 1] + 1;
            diagonal = row[j];
            row[j] = change < insert ? (change < drop ? change : drop) : (insert < drop ? insert : drop);
        }
    }
    return row[n];
}

static size_t word_score(const char *word, const char *known)
{
    const size_t d = word_distance(word, known);
    const bool part = strlen(word) >= 3 && (strstr(known, word) != NULL || strstr(word, known) != NULL);
    return part && d > 2 ? 2 : d;
}

void emb_suggest(const char *word, const char *const *among, size_t n, char *buf, size_t size)
{
    const size_t limit = strlen(word) / 2 + 1;
    size_t used = 0, shown = 0;
    buf[0] = '\0';
    for (size_t d = 0; d <= limit && shown < 3; d++) {
        for (size_t i = 0; i < n && shown < 3; i++) {
            bool fresh = true;
            for (size_t k = 0; k < i; k++) {
                fresh = fresh && strcmp(among[k], among[i]) != 0;
            }
            if (fresh && word_score(word, among[i]) == d && used < size) {
                const int w = snprintf(buf + used, size - used, "%s%s", shown == 0 ? "; did you mean " : " or ", among[i]);
                used += w > 0 ? (size_t)w : 0;
                shown++;
            }
        }
        if (shown > 0 && d < 2) {
            break; /* one clear winner needs no rivals */
        }
    }
    if (shown > 0 && used + 1 < size) {
        snprintf(buf + used, size - used, "?");
    }
}

void emb_suggest_key(const struct emb_block *b, const char *word, char *buf, size_t size)
{
    const char *keys[64] = {NULL};
    size_t n = 0;
    for (; n < b->n && n < sizeof keys / sizeof keys[0]; n++) {
        keys[n] = b->field[n].key;
    }
    emb_suggest(word, keys, n, buf, size);
    if (buf[0] == '\0') { /* nothing near: name them all, as far as they fit */
        size_t used = 0;
        for (size_t i = 0; i < n && used < size; i++) {
            const int w = snprintf(buf + used, size - used, "%s%s", i == 0 ? "; known: " : ", ", keys[i]);
            used += w > 0 ? (size_t)w : 0;
        }
    }
}
