/* page.h - results to look at: a self-contained page, a comparison, a picture.
 *
 * The same reports serve one case and several side by side. Writers read what they are given, keep
 * nothing and free nothing. A full disk shows when the stream is flushed (emb_report_flush). */
#ifndef EMB_PAGE_H
#define EMB_PAGE_H
#include <stdbool.h>
#include <stdio.h>
#include "emberpipe/config.h"
#include "emberpipe/result.h"

struct emb_page_case {
    const char *label; /* how the reader calls it: the file's name */
    const struct emb_result *result;
    const struct emb_input_values *values; /* its inputs */
};
/* One HTML file that needs nothing else: no network, no other file. n >= 1. */
void emb_page_write(const struct emb_page_case *c, size_t n, FILE *f);
/* What differs between the inputs of the cases, and what that changed, as text. n >= 2. */
void emb_compare_text(const struct emb_page_case *c, size_t n, FILE *f);

struct emb_difference {
    const char *path;  /* borrowed from the values */
    const char **text; /* n entries, NULL where a case has no such input */
};
/* Inputs whose text differs or that only some of the cases have; titles apart. NULL with *count 0:
 * none; NULL with *count > 0: out of memory. Free with emb_differences_free. */
struct emb_difference *emb_differences(const struct emb_page_case *c, size_t n, size_t *count);
void emb_differences_free(struct emb_difference *d, size_t count);
#endif
