/* replay_text.c - the comparison for people and for spreadsheets. */
#include <math.h>
#include <string.h>

#include "emberpipe/replay.h"
#include "emberpipe/temperature.h"

static void clock_print(double s, FILE *f)
{
    if (isnan(s)) {
        fputs("  never", f);
    } else {
        fprintf(f, " %3d:%02d", (int)(s / 60.0), (int)fmod(s, 60.0));
    }
}

/* A difference: kelvin steps also in degF, shares in points, pressures in kPa. */
static void difference_print(const char *unit, double v, FILE *f)
{
    if (strcmp(unit, "K") == 0) {
        fprintf(f, " %+6.1f K (%+6.1f °F)", v, 1.8 * v);
    } else if (strcmp(unit, "Pa") == 0) {
        fprintf(f, " %+6.2f kPa         ", 1e-3 * v);
    } else {
        fprintf(f, " %+9.3g %-10s", v, strcmp(unit, "-") == 0 ? "(of 1)" : unit);
    }
}

static void sensors_print(const struct emb_replay *r, FILE *f)
{
    fputs("Computed minus measured        rows             mean   root mean square           "
          "largest  at mm:ss\n", f);
    for (size_t i = 0; i < r->n_sensor; i++) {
        const struct emb_replay_sensor *s = &r->sensor[i];
        fprintf(f, "%-28.28s %6zu", s->reads, s->n);
        if (s->n == 0) {
            fputs("  nothing left to compare\n", f);
            continue;
        }
        difference_print(s->unit, s->bias, f);
        difference_print(s->unit, s->rmse, f);
        difference_print(s->unit, s->worst, f);
        clock_print(s->t_worst, f);
        fputc('\n', f);
    }
}

static void thresholds_print(const struct emb_replay *r, FILE *f)
{
    fputs("\nWhen a reading first passes a temperature\n"
          "                                 passes   measured   computed   computed is\n", f);
    for (size_t i = 0; i < r->n_sensor; i++) {
        const struct emb_replay_sensor *s = &r->sensor[i];
        for (size_t k = 0; k < s->n_threshold; k++) {
            const struct emb_replay_threshold *h = &s->threshold[k];
            const double d = h->computed - h->measured;
            fprintf(f, "%-24.24s %4.0f °C (%4.0f °F)   ", s->reads, emb_degC(h->value),
                    emb_degF(h->value));
            clock_print(h->measured, f);
            fputs("     ", f);
            clock_print(h->computed, f);
            if (isnan(d)) {
                fputs("   never there\n", f);
            } else {
                fprintf(f, "   %.0f s %s\n", fabs(d), d < 0.0 ? "early" : "late");
            }
        }
    }
}

/* Judgement: typical parts are off by some tens of kelvins, a wrong unit by more. */
static const double unit_doubt = 100.0; /* [K] */

static void units_doubt(const struct emb_replay *r, FILE *f)
{
    double most = 0.0;
    for (size_t i = 0; i < r->n_sensor; i++) {
        most = fmax(most, strcmp(r->sensor[i].unit, "K") == 0 ? r->sensor[i].rmse : 0.0);
    }
    if (most > unit_doubt) {
        fputs("\nThis is far off. Look first at the units in the log's header (°C or °F, kg/h or g/s, "
              "fuel dosed per second\nor per hour), then at the start: was the line as warm as the case "
              "says?\n", f);
    }
    for (size_t i = 0; i < r->n_sensor; i++) {
        const struct emb_replay_sensor *s = &r->sensor[i];
        if (s->rmse > unit_doubt && 2.0 * s->rmse_if_degF < s->rmse) {
            fprintf(f, "'%.90s' would be %.0f K (%.0f °F) off instead of %.0f K (%.0f °F) if its values "
                    "were °F and only its header said °C.\n",
                    s->name, s->rmse_if_degF, 1.8 * s->rmse_if_degF, s->rmse, 1.8 * s->rmse);
        }
    }
}

void emb_replay_text(const struct emb_replay *r, FILE *f)
{
    fprintf(f, "%s\nThe log drives the model; %zu rows, %.1f min.\n", r->title, r->n_row,
            r->n_row > 0 ? r->t[r->n_row - 1] / 60.0 : 0.0);
    for (size_t i = 0; i < r->n_note; i++) {
        fprintf(f, "note: %s\n", r->note[i]);
    }
    fputc('\n', f);
    sensors_print(r, f);
    thresholds_print(r, f);
    units_doubt(r, f);
    fputs("\nA difference is no fault yet: the model has typical parts where the case gives none, "
          "and sensors lag\nand err. First make sure that the engine runs right; then "
          "`emberpipe diagnose` weighs explanations.\n", f);
}

static void name_print(const char *name, const char *what, const char *unit, FILE *f)
{
    fputs(",\"", f);
    for (const char *p = name; *p != '\0'; p++) {
        fputs(*p == '"' ? "\"\"" : (char[2]){*p, '\0'}, f);
    }
    fprintf(f, " %s [%s]\"", what, unit);
}

void emb_replay_csv(const struct emb_replay *r, FILE *f)
{
    fputs("time [s]", f);
    for (size_t k = 0; k < r->n_sensor; k++) {
        name_print(r->sensor[k].name, "measured", r->sensor[k].unit, f);
        name_print(r->sensor[k].name, "computed", r->sensor[k].unit, f);
    }
    fputc('\n', f);
    for (size_t i = 0; i < r->n_row; i++) {
        fprintf(f, "%.9g", r->t[i]);
        for (size_t k = 0; k < r->n_sensor; k++) {
            const double v[2] = {r->sensor[k].measured[i], r->sensor[k].computed[i]};
            for (int j = 0; j < 2; j++) {
                fputc(',', f);
                if (isfinite(v[j])) {
                    fprintf(f, "%.9g", v[j]);
                }
            }
        }
        fputc('\n', f);
    }
}
