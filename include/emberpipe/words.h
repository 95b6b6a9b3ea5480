/* words.h - numbers as people and files read them; one place for all reports. */
#ifndef EMB_WORDS_H
#define EMB_WORDS_H
#include <stddef.h>
#include <stdio.h>

/* Shortest of 15, 16 or 17 digits that reads back as the same number; v must be finite. */
void emb_write_number(double v, FILE *f);
/* Pads s on the left (width > 0) or on the right (width < 0), counting characters, not bytes. */
void emb_write_cell(const char *s, int width, FILE *f);
size_t emb_text_width(const char *s); /* characters of UTF-8 text */
/* t [s] as "12:05"; "2:03:20" from 100 minutes on; "never" for NaN. Returns buf. */
const char *emb_text_clock(double t, char buf[24]);
/* K [K] as "312 °C (594 °F)". Returns buf. */
const char *emb_text_temperature(double K, char buf[48]);
double emb_round0(double v); /* to whole numbers, never -0 */
#endif
