/* units.c - a small unit system made in code: no file to find, and only symbols that mean one thing here.
 * rad is a base unit of its own, so 1/s (a rate) is never taken for rad/s (a speed). */
#include "emberpipe/units.h"

#include <ctype.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <udunits2.h>

struct emb_units {
    ut_system *system;
    ut_unit *si[EMB_NDIM];
};

struct dim_row { const char *name, *si, *units; };
static const struct dim_row dims[EMB_NDIM] = {
    [EMB_DIM_FRACTION] = {"fraction", "-", "a bare number, %, ppm"},
    [EMB_DIM_LENGTH] = {"length", "m", "mm, cm, m, in, ft, um, nm"},
    [EMB_DIM_TIME] = {"time", "s", "ms, s, min, h, day"},
    [EMB_DIM_MASS] = {"mass", "kg", "mg, g, kg, t, lb"},
    [EMB_DIM_TEMPERATURE] = {"temperature", "K", "degC, degF, K"},
    [EMB_DIM_DELTA] = {"temperature difference", "K", "K, degC, degF (steps, no offset)"},
    [EMB_DIM_PRESSURE] = {"pressure", "Pa", "Pa, kPa, mbar, bar, psi, inH2O, atm"},
    [EMB_DIM_SPEED] = {"speed", "m/s", "m/s, km/h, mph"},
    [EMB_DIM_ROTATION] = {"rotational speed", "rad/s", "rpm, rad/s"},
    [EMB_DIM_TORQUE] = {"torque", "N m", "N m, Nm, lbf ft"},
    [EMB_DIM_POWER] = {"power", "W", "W, kW, hp"},
    [EMB_DIM_VOLUME] = {"volume", "m3", "L, mL, cc, m3, gal"},
    [EMB_DIM_DENSITY] = {"mass per volume", "kg/m3", "g/L, kg/m3"},
    [EMB_DIM_MASS_FLOW] = {"mass flow", "kg/s", "g/s, mg/s, kg/s, kg/h, g/h, g/min"},
    [EMB_DIM_CELL_DENSITY] = {"cell density", "1/m2", "cpsi, 1/m2"},
    [EMB_DIM_CONDUCTIVITY] = {"thermal conductivity", "W/(m K)", "W/(m K)"},
    [EMB_DIM_CONDUCTANCE] = {"conductance per area", "W/(m2 K)", "W/(m2 K)"},
    [EMB_DIM_SPECIFIC_HEAT] = {"specific heat", "J/(kg K)", "J/(kg K), kJ/(kg K)"},
    [EMB_DIM_HEAT_CAPACITY] = {"heat capacity", "J/K", "J/K, kJ/K"},
    [EMB_DIM_AREA_HEAT] = {"heat capacity per area", "J/(m2 K)", "J/(m2 K), kJ/(m2 K)"},
    [EMB_DIM_INSULATION] = {"insulation", "m2 K/W", "m2 K/W"},
    [EMB_DIM_MOLAR_ENERGY] = {"energy per mole", "J/mol", "J/mol, kJ/mol, K R (activation temperature times gas constant)"},
    [EMB_DIM_RATE] = {"rate", "1/s", "1/s, 1/min"},
    [EMB_DIM_MOLAR_DENSITY] = {"moles per volume", "mol/m3", "mol/m3, mol/L"},
    [EMB_DIM_INDEX] = {"mass per mass of fuel", "kg/kg", "g/kg, kg/kg, mg/kg"},
    [EMB_DIM_SPECIFIC_ENERGY] = {"energy per mass", "J/kg", "J/kg, kJ/kg"},
    [EMB_DIM_AREA] = {"area", "m2", "m2, cm2, mm2"},
    [EMB_DIM_FRICTION_SLOPE] = {"pressure per rotational speed", "Pa s/rad", "Pa s/rad, kPa s/rad"},
    [EMB_DIM_HEAT_SLOPE] = {"growth of specific heat", "J/(kg K2)", "J/(kg K2)"},
    [EMB_DIM_HEAT_INVERSE] = {"inverse-square term of specific heat", "J K/kg", "J K/kg"},
    [EMB_DIM_SLEW] = {"growth of a mass flow", "kg/s2", "g/s2, kg/s2"},
    [EMB_DIM_GAIN] = {"mass flow per kelvin", "kg/(s K)", "g/(s K), mg/(s K), kg/(s K)"},
    [EMB_DIM_INTEGRAL] = {"mass flow per kelvin and second", "kg/(s2 K)", "g/(s2 K), mg/(s2 K), kg/(s2 K)"},
    [EMB_DIM_COEFFICIENT] = {"inverse length", "1/m", "1/m, 1/cm"},
    [EMB_DIM_RATE_VOLUME] = {"rate per volume", "mol/(m3 s)", "mol/(m3 s), mol/(cm3 s)"},
    [EMB_DIM_RATE_AREA] = {"rate per area", "mol/(m2 s)", "mol/(m2 s), mol/(cm2 s)"},
    [EMB_DIM_RATE_VOLUME_K] = {"rate per volume times temperature", "mol K/(m3 s)", "mol K/(m3 s), mol K/(cm3 s)"},
    [EMB_DIM_RATE_AREA_K] = {"rate per area times temperature", "mol K/(m2 s)", "mol K/(m2 s), mol K/(cm2 s)"},
    [EMB_DIM_DIFFUSIVITY] = {"diffusivity", "m2/s", "cm2/s, mm2/s, m2/s"},
    [EMB_DIM_RATE_CONCENTRATION] = {"rate per concentration", "m3/(mol s)", "m3/(mol s), cm3/(mol s)"},
};

struct unit_row { const char *symbol, *of; double factor, origin; };
/* Exact factors: BIPM SI Brochure 9th ed. 2019 and NIST SP 811 (2008) appendix B. */
static const struct unit_row units[] = {
    {"nm", "m", 1e-9, 0}, {"um", "m", 1e-6, 0}, {"mm", "m", 1e-3, 0}, {"cm", "m", 1e-2, 0}, {"km", "m", 1e3, 0},
    {"in", "m", 0.0254, 0}, {"ft", "m", 0.3048, 0},
    {"mile", "m", 1609.344, 0}, {"ms", "s", 1e-3, 0}, {"min", "s", 60, 0}, {"h", "s", 3600, 0}, {"day", "s", 86400, 0},
    {"g", "kg", 1e-3, 0}, {"mg", "kg", 1e-6, 0}, {"lb", "kg", 0.45359237, 0}, {"t", "kg", 1e3, 0},
    {"degC", "K", 1, 273.15}, {"degF", "K", 5.0 / 9.0, 459.67}, {"N", "kg m/s2", 1, 0}, {"kN", "N", 1e3, 0},
    {"lbf", "N", 4.4482216152605, 0}, {"Nm", "N m", 1, 0}, {"Pa", "N/m2", 1, 0}, {"kPa", "Pa", 1e3, 0},
    {"MPa", "Pa", 1e6, 0}, {"bar", "Pa", 1e5, 0}, {"mbar", "Pa", 100, 0}, {"atm", "Pa", 101325, 0},
    {"psi", "lbf/in2", 1, 0}, {"inH2O", "Pa", 249.08891, 0}, /* conventional, 4 degC: NIST SP 811 */
    {"mph", "mile/h", 1, 0}, {"rpm", "rad/min", 6.283185307179586, 0}, {"J", "N m", 1, 0}, {"kJ", "J", 1e3, 0},
    {"MJ", "J", 1e6, 0}, {"W", "J/s", 1, 0}, {"kW", "W", 1e3, 0}, {"hp", "ft lbf/s", 550, 0}, {"kWh", "kW h", 1, 0},
    {"L", "m3", 1e-3, 0}, {"mL", "L", 1e-3, 0}, {"cc", "mL", 1, 0}, {"gal", "in3", 231, 0}, {"%", "1", 1e-2, 0},
    {"ppm", "1", 1e-6, 0}, {"cpsi", "1/in2", 1, 0}, {"mmol", "mol", 1e-3, 0},
    {"R", "J/(mol K)", 8.31446261815324, 0}, /* gas constant, CODATA 2018: "12556 K R" is an activation temperature */
};

const char *emb_dim_name(enum emb_dim dim) { return dims[dim].name; }
const char *emb_dim_si(enum emb_dim dim) { return dims[dim].si; }
const char *emb_dim_units(enum emb_dim dim) { return dims[dim].units; }

static bool unit_map(ut_system *s, const char *symbol, ut_unit *unit)
{
    const bool ok = unit != NULL && ut_map_symbol_to_unit(symbol, UT_ASCII, unit) == UT_SUCCESS;
    (void)s;
    ut_free(unit);
    return ok;
}

static bool unit_define(ut_system *s, const struct unit_row *row)
{
    ut_unit *of = ut_parse(s, row->of, UT_ASCII);
    ut_unit *scaled = of != NULL ? ut_scale(row->factor, of) : NULL;
    ut_free(of);
    if (scaled != NULL && row->origin != 0.0) {
        ut_unit *moved = ut_offset(scaled, row->origin);
        ut_free(scaled);
        scaled = moved;
    }
    return unit_map(s, row->symbol, scaled);
}

struct emb_units *emb_units_new(void)
{
    static const char *const base[] = {"m", "s", "kg", "K", "mol", "rad"};
    struct emb_units *u = calloc(1, sizeof *u);
    ut_set_error_message_handler(ut_ignore);
    if (u == NULL || (u->system = ut_new_system()) == NULL) {
        free(u);
        return NULL;
    }
    bool ok = true;
    for (size_t i = 0; i < sizeof base / sizeof base[0]; i++) {
        ok = ok && unit_map(u->system, base[i], ut_new_base_unit(u->system));
    }
    for (size_t i = 0; ok && i < sizeof units / sizeof units[0]; i++) {
        ok = unit_define(u->system, &units[i]);
    }
    for (size_t i = 0; ok && i < EMB_NDIM; i++) {
        u->si[i] = ut_parse(u->system, i == EMB_DIM_FRACTION ? "1" : dims[i].si, UT_ASCII);
        ok = u->si[i] != NULL;
    }
    if (!ok) {
        emb_units_free(u);
        return NULL;
    }
    return u;
}

void emb_units_free(struct emb_units *u)
{
    if (u == NULL) {
        return;
    }
    for (size_t i = 0; i < EMB_NDIM; i++) {
        ut_free(u->si[i]);
    }
    ut_free_system(u->system);
    free(u);
}

/* Up to 15 digits and a point: whole number and power of ten are exact, so one division rounds
 * correctly (Clinger 1990, PLDI '90, p. 92). Millions of cells of a log are such. */
static bool short_number(const char *text, size_t n, double *value)
{
    static const double power[] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                   1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    const bool negative = *text == '-';
    unsigned long long whole = 0;
    size_t digits = 0, behind = 0;
    bool point = false;
    for (size_t i = (size_t)(negative || *text == '+'); i < n; i++) {
        if (text[i] == '.') {
            point = true;
            continue;
        }
        if (!isdigit((unsigned char)text[i]) || ++digits > 15) {
            return false;
        }
        whole = 10 * whole + (unsigned long long)(text[i] - '0');
        behind += point;
    }
    *value = (negative ? -(double)whole : (double)whole) / power[behind];
    return true;
}

/* Own scan before strtod: it would take hex, inf and nan. */
int emb_number_parse(const char *text, double *value, const char **end)
{
    const char *p = text + (*text == '+' || *text == '-');
    size_t digits = 0;
    for (; isdigit((unsigned char)*p); p++) {
        digits++;
    }
    if (*p == '.') {
        for (p++; isdigit((unsigned char)*p); p++) {
            digits++;
        }
    }
    if (digits == 0 || p - text > 60) {
        return -1;
    }
    if (*p == 'e' || *p == 'E') {
        const char *q = p + 1 + (p[1] == '+' || p[1] == '-');
        if (isdigit((unsigned char)*q)) {
            for (; isdigit((unsigned char)*q); q++) {
            }
            p = q;
        }
    }
    const size_t n = (size_t)(p - text);
    if (!short_number(text, n, value)) {
        char buf[80];
        if (n >= sizeof buf) {
            return -1;
        }
        memcpy(buf, text, n);
        buf[n] = '\0';
        *value = strtod(buf, NULL);
    }
    if (end != NULL) {
        *end = p;
    }
    return isfinite(*value) && (end != NULL || *p == '\0') ? 0 : -1;
}

/* Only letters with exponents, and operators: no second number may hide in the unit ("5 10 m"). */
static bool unit_is_plain(const char *s)
{
    if (strncmp(s, "1/", 2) == 0) {
        s++;
    }
    for (const char *p = s; *p != '\0'; p++) {
        const char before = p == s ? ' ' : p[-1];
        if (isdigit((unsigned char)*p)) {
            if (!isalpha((unsigned char)before) && before != '^' && before != '-') {
                return false;
            }
        } else if (*p == '-' || *p == '^') {
            if (!isalpha((unsigned char)before) && before != '^') {
                return false;
            }
        } else if (!isalpha((unsigned char)*p) && strchr("/()*%. ", *p) == NULL) {
            return false;
        }
    }
    return *s != '\0';
}

/* The degree sign is written out; returns NULL if it does not fit. */
static const char *unit_ascii(const char *s, char *buf, size_t size)
{
    size_t n = 0;
    for (; *s != '\0'; s++) {
        if (n + 4 >= size) {
            return NULL;
        }
        if ((unsigned char)s[0] == 0xC2 && (unsigned char)s[1] == 0xB0) {
            memcpy(buf + n, "deg", 3);
            n += 3;
            s++;
        } else {
            buf[n++] = *s;
        }
    }
    buf[n] = '\0';
    return buf;
}

/* NULL: unknown or not of the dimension; *known tells which. Caller frees with cv_free. */
static cv_converter *unit_converter(const struct emb_units *u, const char *text, enum emb_dim dim, bool to_si,
                                    bool *known)
{
    char buf[48];
    const char *ascii = unit_ascii(text, buf, sizeof buf);
    *known = false;
    if (ascii == NULL || !unit_is_plain(ascii)) {
        return NULL;
    }
    ut_unit *unit = ut_parse(u->system, ascii, UT_ASCII);
    if (unit == NULL) {
        return NULL;
    }
    *known = true;
    cv_converter *c = NULL;
    if (ut_are_convertible(unit, u->si[dim])) {
        c = to_si ? ut_get_converter(unit, u->si[dim]) : ut_get_converter(u->si[dim], unit);
    }
    /* the library takes a time and its inverse for convertible */
    if (c != NULL && fabs(cv_convert_double(c, 2.0) - cv_convert_double(c, 1.0)) > 0.0) {
        const double slope1 = cv_convert_double(c, 2.0) - cv_convert_double(c, 1.0);
        const double slope2 = cv_convert_double(c, 3.0) - cv_convert_double(c, 2.0);
        if (fabs(slope1 - slope2) > 1e-6 * fabs(slope1)) {
            cv_free(c);
            c = NULL;
        }
    }
    ut_free(unit);
    return c;
}

static int unit_convert(const struct emb_units *u, double value, const char *unit, enum emb_dim dim, double *si,
                        char msg[EMB_UNIT_MSG])
{
    bool known = false;
    cv_converter *c = unit_converter(u, unit, dim, true, &known);
    if (c == NULL) {
        snprintf(msg, EMB_UNIT_MSG, known ? "'%.30s' is not a unit of %s; accepted: %s"
                                          : "unknown unit '%.30s' for a %s; accepted: %s",
                 unit, dims[dim].name, dims[dim].units);
        return -1;
    }
    *si = cv_convert_double(c, value);
    if (dim == EMB_DIM_DELTA) {
        *si -= cv_convert_double(c, 0.0);
    }
    cv_free(c);
    if (!isfinite(*si)) {
        snprintf(msg, EMB_UNIT_MSG, "the value is too large");
        return -1;
    }
    return 0;
}

int emb_quantity_parse(const struct emb_units *u, const char *text, enum emb_dim dim, double *si,
                       char msg[EMB_UNIT_MSG])
{
    const char *rest = text;
    double value = 0.0;
    if (emb_number_parse(text, &value, &rest) != 0) {
        snprintf(msg, EMB_UNIT_MSG, "'%.60s' is not a finite number with a unit; accepted units: %s", text,
                 dims[dim].units);
        return -1;
    }
    if (*rest == ',') {
        snprintf(msg, EMB_UNIT_MSG, "'%.60s' has a comma; write a decimal point, for example 1.5", text);
        return -1;
    }
    while (*rest == ' ') {
        rest++;
    }
    if (*rest == '\0' && rest > text && rest[-1] == ' ') {
        snprintf(msg, EMB_UNIT_MSG, "'%.60s' ends in blanks", text);
        return -1;
    }
    if (*rest != '\0') {
        return unit_convert(u, value, rest, dim, si, msg);
    }
    if (dim != EMB_DIM_FRACTION) {
        snprintf(msg, EMB_UNIT_MSG, "'%.40s' lacks a unit: this is %s %s, write one of: %s", text,
                 strchr("aeiou", dims[dim].name[0]) != NULL ? "an" : "a", dims[dim].name, dims[dim].units);
        return -1;
    }
    *si = value;
    return 0;
}

const char *emb_quantity_format(const struct emb_units *u, double si, enum emb_dim dim, const char *unit, char *buf,
                                size_t size)
{
    bool known = false;
    cv_converter *c = unit != NULL && *unit != '\0' ? unit_converter(u, unit, dim, false, &known) : NULL;
    double value = c != NULL ? cv_convert_double(c, si) : si;
    if (c != NULL && dim == EMB_DIM_DELTA) {
        value -= cv_convert_double(c, 0.0);
    }
    const char *shown = c != NULL ? unit : dim == EMB_DIM_FRACTION ? "" : dims[dim].si;
    snprintf(buf, size, "%.6g%s%s", value, *shown != '\0' ? " " : "", shown);
    cv_free(c);
    return buf;
}
