/* page.h - between the files of the page. Private to the report room. */
#ifndef EMB_REPORT_PAGE_H
#define EMB_REPORT_PAGE_H
#include <stddef.h>
#include "emberpipe/page.h"

enum {
    EMB_PAGE_ROWS = 1024, /* rows kept in a page: more than a screen has columns of pixels */
    EMB_PAGE_NOTES = 200
};
/* Put together at build time from the files in page/: before and behind the data. */
extern const unsigned char emb_page_head[], emb_page_tail[];
extern const size_t emb_page_head_size, emb_page_tail_size;

/* Rows worth keeping, in order: all of them, or the first, the last, and of every bunch between the
 * one that departs most from the straight line through its ends, so that short peaks survive.
 * Returns how many. */
size_t emb_page_rows(const struct emb_result *r, size_t row[EMB_PAGE_ROWS]);

const struct emb_verdict *emb_verdict_find(const struct emb_result *r, const char *name);
/* What differs between n cases and what that decides, in one or two sentences. Returns buf. */
const char *emb_text_compared(const struct emb_page_case *c, size_t n, char *buf, size_t size);
#endif
