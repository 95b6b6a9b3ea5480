/* words.c - numbers as text. */
#include "emberpipe/temperature.h"
#include "emberpipe/words.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { NUMBER = 40 };

/* The program never calls setlocale, so printf and strtod both use the point. */
static bool reads_back(double v, int digits, char buf[NUMBER])
{
    snprintf(buf, NUMBER, "%.*g", digits, v);
    return strtod(buf, NULL) == v;
}

/* Mostly 16 digits do. Fifteen read back only if they are within half a unit of v's last bit, so
 * within 1.4 units of the sixteenth digit: then that is a 0, a 1 or a 9. Ten thousands of numbers
 * make a file: trying 15, 16 and 17 in turn took twice as long. */
void emb_write_number(double v, FILE *f)
{
    char buf[NUMBER], shorter[NUMBER];
    if (!reads_back(v, 16, buf)) {
        snprintf(buf, sizeof buf, "%.17g", v);
    } else {
        const size_t mantissa = strcspn(buf, "e");
        const char last = mantissa > 0 ? buf[mantissa - 1] : '0';
        if (strchr("019", last) != NULL && reads_back(v, 15, shorter)) {
            fputs(shorter, f);
            return;
        }
    }
    fputs(buf, f);
}

size_t emb_text_width(const char *s)
{
    size_t n = 0;
    for (; *s != '\0'; s++) {
        n += ((unsigned char)*s & 0xC0U) != 0x80U; /* continuation bytes take no room */
    }
    return n;
}

void emb_write_cell(const char *s, int width, FILE *f)
{
    const int n = (int)emb_text_width(s);
    if (width >= 0) {
        fprintf(f, "%*s%s", width > n ? width - n : 0, "", s);
    } else {
        fprintf(f, "%s%*s", s, -width > n ? -width - n : 0, "");
    }
}

const char *emb_text_clock(double t, char buf[24])
{
    if (!isfinite(t)) {
        snprintf(buf, 24, "never");
        return buf;
    }
    const double s = floor(t + 0.5), minute = floor(s / 60.0), hour = floor(s / 3600.0);
    if (s < 6000.0) {
        snprintf(buf, 24, "%02.0f:%02.0f", minute, s - 60.0 * minute);
    } else {
        snprintf(buf, 24, "%.0f:%02.0f:%02.0f", hour, minute - 60.0 * hour, s - 60.0 * minute);
    }
    return buf;
}

double emb_round0(double v)
{
    const double r = round(v);
    return r == 0.0 ? 0.0 : r;
}

const char *emb_text_temperature(double K, char buf[48])
{
    if (!isfinite(K)) {
        snprintf(buf, 48, "not known");
        return buf;
    }
    snprintf(buf, 48, "%.0f °C (%.0f °F)", emb_round0(emb_degC(K)), emb_round0(emb_degF(K)));
    return buf;
}
