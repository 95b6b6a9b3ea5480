#include "shown.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/words.h"

/* What an SI unit is shown in unless asked otherwise. */
static const struct {
    const char *si, *shown;
} usual[] = {{"K", "degC"},    {"kg/s", "g/s"}, {"Pa", "kPa"}, {"rad/s", "rpm"},
             {"kg/m3", "g/L"}, {"kg", "kg"},    {"-", "%"}};

static enum emb_dim dim_of(const char *si)
{
    enum emb_dim d = 0;
    while (d < EMB_NDIM && strcmp(emb_dim_si(d), si) != 0) {
        d++;
    }
    return d;
}

/* Two points tell a linear scale: what 0 and 1 of the unit are in SI. */
static bool scale_make(const struct emb_units *u, enum emb_dim d, const char *unit,
                       struct emb_plot_scale *s)
{
    char text[64], msg[EMB_UNIT_MSG];
    double zero = 0.0, one = 1.0;
    if (strlen(unit) >= sizeof s->unit) {
        return false;
    }
    snprintf(text, sizeof text, "0 %s", unit);
    if (emb_quantity_parse(u, text, d, &zero, msg) != 0) {
        return false;
    }
    snprintf(text, sizeof text, "1 %s", unit);
    if (emb_quantity_parse(u, text, d, &one, msg) != 0 || one == zero) {
        return false;
    }
    s->factor = 1.0 / (one - zero);
    s->shift = -zero * s->factor;
    const char *shown = strcmp(unit, "degC") == 0   ? "°C"
                        : strcmp(unit, "degF") == 0 ? "°F"
                                                    : unit;
    snprintf(s->unit, sizeof s->unit, "%s", shown);
    return true;
}

static const char *usual_unit(const char *si, double largest)
{
    if (strcmp(si, "s") == 0) {
        return largest <= 180.0 ? "s" : largest <= 4.0 * 3600.0 ? "min" : "h";
    }
    if (strcmp(si, "-") == 0 && largest < 0.01) {
        return "ppm";
    }
    if (strcmp(si, "kg") == 0 && largest < 1.0) {
        return "g";
    }
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        if (strcmp(usual[i].si, si) == 0) {
            return usual[i].shown;
        }
    }
    return si;
}

int emb_shown_scale(const struct emb_units *u, const char *si, const char *wanted, double largest,
                    struct emb_plot_scale *out)
{
    si = strcmp(si, "1") == 0 ? "-" : si; /* as CF writes a number without unit */
    const enum emb_dim d = dim_of(si);
    for (int i = 0; wanted != NULL && d < EMB_NDIM && *wanted != '\0'; i++) {
        char unit[24];
        const size_t n = strcspn(wanted, ",");
        snprintf(unit, sizeof unit, "%.*s", (int)(n < 23 ? n : 23), wanted);
        wanted += n + (wanted[n] == ',');
        if (scale_make(u, d, unit, out)) {
            return i;
        }
    }
    if (d == EMB_NDIM || !scale_make(u, d, usual_unit(si, largest), out)) {
        *out = (struct emb_plot_scale){"", 1.0, 0.0};
        snprintf(out->unit, sizeof out->unit, "%.23s", si);
    }
    return -1;
}

bool emb_shown_kelvin(const char *si)
{
    return strcmp(si, "K") == 0;
}

const char *emb_shown_value(const struct emb_plot_scale *s, const char *si, double value,
                            char buf[64])
{
    if (!isfinite(value)) {
        snprintf(buf, 64, "none");
    } else if (emb_shown_kelvin(si)) {
        emb_text_temperature(value, buf);
    } else {
        snprintf(buf, 64, "%.4g %s", s->factor * value + s->shift, s->unit);
    }
    return buf;
}

const char *emb_shown_change(const struct emb_plot_scale *s, const char *si, double value, bool sign,
                             char buf[64])
{
    const char *const plus = sign && value > 0.0 ? "+" : "";
    if (!isfinite(value)) {
        snprintf(buf, 64, "none");
    } else if (emb_shown_kelvin(si)) {
        snprintf(buf, 64, "%s%.3g K (%s%.3g °F)", plus, value, plus, 1.8 * value);
    } else {
        snprintf(buf, 64, "%s%.3g %s", plus, s->factor * value, s->unit);
    }
    return buf;
}

const char *emb_shown_band(const struct emb_plot_scale *s, const char *si, double lo, double hi,
                           char buf[64])
{
    if (!isfinite(lo) || !isfinite(hi)) {
        snprintf(buf, 64, "none");
    } else if (emb_shown_kelvin(si)) {
        snprintf(buf, 64, "%.3g .. %.3g K (%.3g .. %.3g °F)", lo, hi, 1.8 * lo, 1.8 * hi);
    } else {
        snprintf(buf, 64, "%.3g .. %.3g %s", s->factor * lo, s->factor * hi, s->unit);
    }
    return buf;
}

enum emb_status emb_shown_size(const struct emb_cli_args *a, double *width, double *height,
                               struct emb_err *err)
{
    const char *rest = NULL;
    char w[32];
    if (a->size == NULL) {
        return EMB_OK;
    }
    const size_t n = strcspn(a->size, "x");
    snprintf(w, sizeof w, "%.*s", (int)(n < 31 ? n : 31), a->size);
    if (a->size[n] != 'x' || emb_number_parse(w, width, NULL) != 0 ||
        emb_number_parse(a->size + n + 1, height, &rest) != 0 || *rest != '\0' || *width < 300.0 ||
        *height < 200.0 || *width > 8000.0 || *height > 8000.0) {
        return emb_fail(err, EMB_ERR_USAGE, "--size",
                        "got '%.40s'; give WIDTHxHEIGHT in pixels, 300x200 to 8000x8000", a->size);
    }
    return EMB_OK;
}

enum format { SVG, PNG, PDF, NO_FORMAT };
static enum format format_of(const char *path)
{
    static const char *const ending[] = {".svg", ".png", ".pdf"};
    const size_t n = path != NULL ? strlen(path) : 0;
    for (int i = 0; i < NO_FORMAT; i++) {
        if (n > 4 && strcmp(path + n - 4, ending[i]) == 0) {
            return (enum format)i;
        }
    }
    return NO_FORMAT;
}

enum emb_status emb_shown_ending(const struct emb_cli_args *a, struct emb_err *err)
{
    return format_of(a->to) != NO_FORMAT
               ? EMB_OK
               : emb_fail(err, EMB_ERR_USAGE, "--to",
                          "needs a file that ends in .svg, .png or .pdf%s%.80s",
                          a->to != NULL ? "; got " : "", a->to != NULL ? a->to : "");
}

enum emb_status emb_shown_picture(void (*draw)(const void *what, FILE *f), const void *what,
                                  double width, double height, struct emb_cli_file *to,
                                  struct emb_err *err)
{
    char *svg = NULL;
    size_t n = 0;
    FILE *f = open_memstream(&svg, &n);
    const enum format format = format_of(to->path);
    enum emb_status st = EMB_OK;
    if (f == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "picture", "out of memory");
    }
    draw(what, f);
    if (fclose(f) != 0 || svg == NULL) {
        free(svg);
        return emb_fail(err, EMB_ERR_NOMEM, "picture", "out of memory");
    }
    if (format == SVG) {
        fwrite(svg, 1, n, to->f);
    } else {
        st = emb_picture_write(svg, n, format == PDF, width, height, to->f, err);
    }
    free(svg);
    return st == EMB_OK ? emb_cli_file_keep(to, err) : st;
}
