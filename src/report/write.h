/* write.h - small helpers that the writers share. Private to the report room. */
#ifndef EMB_WRITE_H
#define EMB_WRITE_H
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include "emberpipe/result.h"
#include "emberpipe/words.h"

/* s in quotes. page: nothing in it can end or leave the script element of a page either. */
void emb_json_text(const char *s, bool page, FILE *f);
/* "129 °C (263 °F)", "41.7 %", "0.01 g/s": a value of this verdict's kind. Returns buf. */
const char *emb_text_verdict_value(const struct emb_verdict *v, double x, char buf[48]);
/* "71 K (129 °F)": how far the best value is from the threshold. Returns buf. */
const char *emb_text_verdict_gap(const struct emb_verdict *v, char buf[64]);
/* The whole run in one sentence. Returns buf. */
const char *emb_text_sentence(const struct emb_result *r, char *buf, size_t size);
/* "2.31 kg", "4.2 MJ" ...: a total in workshop units. Returns buf. */
const char *emb_text_total(const struct emb_total *t, char buf[48]);
bool emb_text_hot_work(const struct emb_result *r); /* fuel was dosed or a regeneration asked for */

/* What a reader must be told, whatever the numbers. */
extern const char *const emb_cautions[];  /* NULL-terminated */
extern const char *const emb_standing[][2]; /* part, how far it is checked; {NULL, NULL} ends it */

/* Parts of the text report, in the order in which they are printed. */
void emb_text_table(const struct emb_result *r, FILE *f);
void emb_text_peaks(const struct emb_result *r, FILE *f);
void emb_text_totals(const struct emb_result *r, FILE *f);
void emb_text_heat(const struct emb_result *r, FILE *f);
void emb_text_books(const struct emb_result *r, FILE *f);
#endif
