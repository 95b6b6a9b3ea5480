/* readings_text.c - the table for people and for spreadsheets. */
#include <math.h>

#include "emberpipe/readings.h"
#include "emberpipe/temperature.h"
#include "emberpipe/words.h"

enum { WIDE = 15, ACROSS = 6 };

static const char *kind_word(enum emb_reading_kind k)
{
    return k == EMB_READ_EXHAUST ? "gas, engine" : k == EMB_READ_SENSOR ? "sensor" : "brick, mean";
}

static size_t sensors(const struct emb_readings *r)
{
    size_t n = 0;
    for (size_t k = 0; k < r->n_column; k++) {
        n += r->column[k].kind == EMB_READ_SENSOR;
    }
    return n;
}

/* Names, what kind of reading where asked for, units. */
static void head(const struct emb_readings *r, size_t from, size_t to, int wide, bool kinds,
                 const char *units, FILE *f)
{
    fputs("     time", f);
    for (size_t k = from; k < to; k++) {
        emb_write_cell(r->column[k].name, wide, f);
    }
    fputs("\n         ", f);
    for (size_t k = from; kinds && k < to; k++) {
        emb_write_cell(kind_word(r->column[k].kind), wide, f);
    }
    fputs(kinds ? "\n         " : "", f);
    for (size_t k = from; k < to; k++) {
        emb_write_cell(units, wide, f);
    }
    fputs("\n", f);
}

static void rows(const struct emb_readings *r, size_t from, size_t to, FILE *f)
{
    for (size_t i = 0; i < r->n_row; i++) {
        char at[24];
        emb_write_cell(emb_text_clock(r->t[i], at), 9, f);
        for (size_t k = from; k < to; k++) {
            const double K = r->K[i * r->n_column + k];
            fprintf(f, "%*.0f (%4.0f)", WIDE - 7, emb_round0(emb_degC(K)), emb_round0(emb_degF(K)));
        }
        fputs("\n", f);
    }
}

/* The band in a table of its own: two numbers a cell in both units need the width. */
enum { BAND_WIDE = 27, BAND_ACROSS = 4 };
static void band_rows(const struct emb_readings *r, size_t from, size_t to, FILE *f)
{
    fputs("\n", f);
    head(r, from, to, BAND_WIDE, false, "°C         (  °F      )", f);
    for (size_t i = 0; i < r->n_row; i++) {
        char at[24], cell[64];
        emb_write_cell(emb_text_clock(r->t[i], at), 9, f);
        for (size_t k = from; k < to; k++) {
            const double lo = r->low[i * r->n_column + k], hi = r->high[i * r->n_column + k];
            snprintf(cell, sizeof cell, "%4.0f to %4.0f (%4.0f to %4.0f)", emb_round0(emb_degC(lo)),
                     emb_round0(emb_degC(hi)), emb_round0(emb_degF(lo)), emb_round0(emb_degF(hi)));
            emb_write_cell(cell, BAND_WIDE, f);
        }
        fputs("\n", f);
    }
}

static void band(const struct emb_readings *r, FILE *f)
{
    if (r->n_band == 0) {
        return;
    }
    fprintf(f, "\nBand: eight of ten healthy vehicles like this read within it at that minute. What "
            "the case does not state\n(weather, engine, condition, sensors within tolerance) was "
            "drawn from its plausible spread in %zu coarse runs.\nA band that is wide where fuel is "
            "dosed means that some of them are not dosed yet or any more.\n", r->n_band);
    for (size_t from = 0; from < r->n_column; from += BAND_ACROSS) {
        band_rows(r, from, from + BAND_ACROSS < r->n_column ? from + BAND_ACROSS : r->n_column, f);
    }
}

static void when_they_differ(const struct emb_readings *r, FILE *f)
{
    fputs(
        "\nWhen the readings differ\n"
        "  First: does the engine run right? Misfire, boost, EGR, thermostat and intake throttle "
        "come before\n"
        "  any part of the exhaust: wrong heat or flow from the engine shifts every column.\n"
        "  - Cold, engine off overnight: all sensors should agree with each other and with the "
        "air within some\n"
        "    5 K (9 °F). One that does not: the sensor, its connector or its wiring; or the sun "
        "on one side.\n"
        "  - All readings low together: less engine heat or more flow than assumed (idle speed, "
        "throttle, an air\n"
        "    or exhaust leak, wind, wet or missing heat shields). Compare the first sensor before "
        "anything behind it.\n"
        "  - The rise over the oxidation catalyst too small while fuel is dosed: less fuel "
        "delivered, OR an aged or\n"
        "    blocked catalyst, OR a sensor that reads low or sits wrong, OR more flow. One "
        "reading cannot tell these\n"
        "    apart. Next: measure the delivery by the maker's procedure, look at the face, swap "
        "the two sensors.\n"
        "  - Higher than the table: fuel or oil from the engine, an injector that leaks, soot "
        "that burns. Rising fast:\n"
        "    stop the regeneration as the maker says and keep clear of the outlet.\n"
        "  - Only later than the table: a sensor with a thicker or sooted tip, or heavier parts "
        "than in the case.\n"
        "  Set what you measured in the case (idle speed, air temperature, soot) and ask again "
        "before any part is\n"
        "  called bad.\n",
        f);
    if (r->mean_dosing > 0.0) {
        fputs("\nSAFETY: the outlet and all surfaces get hot enough to start a fire; ventilate "
              "(carbon monoxide); stay with\n"
              "the vehicle. The maker's procedure and local rules come first.\n",
              f);
    }
}

void emb_readings_text(const struct emb_readings *r, FILE *f)
{
    char at[24];
    fprintf(f, "Readings to expect%s%s\n", r->title[0] != '\0' ? ": " : "", r->title);
    fprintf(f, "Sensors: with their lag, without any offset. Parts: %s.\n",
            r->as_new ? "as new (faults of the case taken away)" : "in the condition of the case");
    if (r->mean_dosing > 0.0) {
        fprintf(f, "Fuel is dosed from %s on, %.2g g/s on average.\n",
                emb_text_clock(r->dosed_from, at), 1e3 * r->mean_dosing);
    }
    if (sensors(r) == 0) {
        fputs("The line of this case has no sensor: add one (- name: t1 / sensor: {}) where the "
              "vehicle has one.\n",
              f);
    }
    for (size_t from = 0; from < r->n_column; from += ACROSS) {
        const size_t to = from + ACROSS < r->n_column ? from + ACROSS : r->n_column;
        fputs("\n", f);
        head(r, from, to, WIDE, true, "°C (  °F)", f);
        rows(r, from, to, f);
    }
    band(r, f);
    fputs(r->n_band > 0
              ? "\nComputed with typical parts where the case gives none; the spreads are judgement, "
                "not validated on your vehicle.\n"
              : "\nComputed with typical parts where the case gives none: some 10 to 20 K (20 to 40 "
                "°F) of difference is normal\n(judgement, not validated on your vehicle).\n",
          f);
    when_they_differ(r, f);
}

void emb_readings_csv(const struct emb_readings *r, FILE *f)
{
    fputs("time [s]", f);
    for (size_t k = 0; k < r->n_column; k++) {
        const char *what = r->column[k].kind == EMB_READ_BRICK    ? "_mean"
                           : r->column[k].kind == EMB_READ_SENSOR ? "_reading"
                                                                  : "_gas";
        const char *name = r->column[k].name;
        fprintf(f, ",%s%s [degC],%s%s [degF]", name, what, name, what);
        if (r->n_band > 0) {
            fprintf(f, ",%s%s_low [degC],%s%s_high [degC]", name, what, name, what);
        }
    }
    fputs("\n", f);
    for (size_t i = 0; i < r->n_row; i++) {
        fprintf(f, "%.10g", r->t[i]);
        for (size_t k = 0; k < r->n_column; k++) {
            const double K = r->K[i * r->n_column + k];
            fprintf(f, ",%.2f,%.2f", emb_degC(K), emb_degF(K));
            if (r->n_band > 0) {
                fprintf(f, ",%.2f,%.2f", emb_degC(r->low[i * r->n_column + k]),
                        emb_degC(r->high[i * r->n_column + k]));
            }
        }
        fputs("\n", f);
    }
}
