/* hostile.c - writes a page whose every name tries to break out of it: hostile FILE.html */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/page.h"

/* Ends the script, starts another, loads an image, turns the text around, cuts a line of script. */
static const char nasty[] = "</script><script>window.broken=1</script><img src=x onerror=broken=2>"
                            "'\"&lt;<!--\xE2\x80\xAE\xE2\x80\xA8\xF0\x9F\x94\xA5\xD7\x90\\u003c\xFF";

enum { ROWS = 3, CELLS = 2, LONG = 10000 };

/* As much as fits, even if that cuts a character in two. */
static void put(char *to, size_t size)
{
    const size_t n = strlen(nasty) < size - 1 ? strlen(nasty) : size - 1;
    memcpy(to, nasty, n);
    to[n] = '\0';
}

static void names(struct emb_result *r)
{
    put(r->title, sizeof r->title);
    put(r->verdict[0].name, sizeof r->verdict[0].name);
    put(r->verdict[0].at, sizeof r->verdict[0].at);
    put(r->verdict[0].what, sizeof r->verdict[0].what);
    put(r->verdict[0].why, sizeof r->verdict[0].why);
    put(r->warning[0].text, sizeof r->warning[0].text);
    put(r->warning[0].advice, sizeof r->warning[0].advice);
    snprintf(r->note[0].text, sizeof r->note[0].text, "regeneration %s", nasty);
    put(r->span[0].name, sizeof r->span[0].name);
    put(r->place[0].name, sizeof r->place[0].name);
    snprintf(r->place[0].kind, sizeof r->place[0].kind, "filter");
    put(r->element[0].name, sizeof r->element[0].name);
    put(r->heat[0].label, sizeof r->heat[0].label);
    put(r->total[0].name, sizeof r->total[0].name);
    put(r->total[0].meaning, sizeof r->total[0].meaning);
    snprintf(r->column[1].name, sizeof r->column[1].name, "%.47s.mean_temperature", nasty);
    put(r->column[1].meaning, sizeof r->column[1].meaning);
}

int main(int argc, char **argv)
{
    static char lengthy[LONG + 1];
    struct emb_column column[2] = {{"time", "s", "time"}, {"", "K", ""}};
    double row[2 * ROWS] = {0.0, 300.0, 60.0, 500.0, 120.0, 400.0};
    float profile[CELLS * ROWS] = {300, 300, 500, 450, 400, 410};
    struct emb_verdict verdict[1] = {{.is_temperature = true, .value = 600.0, .best = 500.0, .unit = "K"}};
    struct emb_warning warning[1] = {{"", ""}};
    struct emb_note note[1] = {{30.0, ""}};
    struct emb_span span[1] = {{"", 0.0, 120.0}};
    struct emb_part place[1] = {{.length = 0.3, .diameter = 0.3, .first = 0, .n_cell = CELLS}};
    struct emb_element_note element[1] = {{.peak = 500.0, .t_peak = 60.0, .end = 400.0}};
    struct emb_heat_item heat[2] = {{"", 2e6}, {"lost", -2e6}};
    struct emb_total total[1] = {{.unit = "kg", .value = 1.0}};
    struct emb_result r = {.complete = true, .t_end = 120.0, .n_column = 2, .n_row = ROWS,
                           .column = column, .row = row, .n_verdict = 1, .verdict = verdict,
                           .n_warning = 1, .warning = warning, .n_note = 1, .note = note,
                           .n_span = 1, .span = span, .n_place = 1, .place = place,
                           .n_element = 1, .element = element, .n_heat = 2, .heat = heat,
                           .n_total = 1, .total = total, .n_cell = CELLS, .profile = profile};
    memset(lengthy, 'W', LONG);
    struct emb_input_value value[2] = {{"title", (char[]){"</script><b>"}, true, nasty, nasty},
                                       {"line.x.very.long", lengthy, true, nasty, NULL}};
    const struct emb_input_values values = {2, value};
    const struct emb_page_case told[2] = {{nasty, &r, &values}, {lengthy, &r, &values}};
    FILE *f = argc == 2 ? fopen(argv[1], "wb") : NULL;
    if (f == NULL) {
        return 1;
    }
    names(&r);
    emb_page_write(told, 2, f);
    return fclose(f) == 0 ? 0 : 1;
}
