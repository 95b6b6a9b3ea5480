/* probe.c - prints values of the library's property and correlation functions: what no run of the
 * program shows alone. Reads one call per line, `name argument ...`, answers one number per line. A
 * mixture is written as NAME=fraction words, nitrogen is the rest; a reaction as NAME=coefficient
 * words. */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/equilibrium.h"
#include "emberpipe/gas.h"
#include "emberpipe/heat.h"
#include "emberpipe/kinetics.h"

enum { MAX_WORDS = 24 };
struct call {
    size_t n;
    char *word[MAX_WORDS];
    double v[MAX_WORDS]; /* [mixed] the words as numbers; NaN where they are none */
};

static int species_of(const char *word) /* of "NAME" or "NAME=value"; -1: unknown */
{
    char name[16];
    snprintf(name, sizeof name, "%.*s", (int)strcspn(word, "="), word);
    return emb_species_find(name);
}

/* Fills per-species values from NAME=value words; false if a name is unknown. */
static bool pairs(const struct call *c, size_t from, double *x)
{
    for (int k = 0; k < EMB_NSPECIES; k++) {
        x[k] = 0.0;
    }
    for (size_t i = from; i < c->n; i++) {
        const int k = species_of(c->word[i]);
        const char *value = strchr(c->word[i], '=');
        if (k < 0 || value == NULL) {
            return false;
        }
        x[k] = strtod(value + 1, NULL);
    }
    return true;
}

static bool mixture(const struct call *c, size_t from, double T, struct emb_gas *g)
{
    double sum = 0.0; /* [-] */
    g->T = T;
    if (!pairs(c, from, g->n)) {
        return false;
    }
    for (int k = 0; k < EMB_NGAS; k++) {
        sum += g->n[k];
    }
    g->n[EMB_N2] += 1.0 - sum;
    return true;
}

/* ---- one function per call; NaN: not understood ---- */
static double species_value(const struct call *c, double (*f)(int, double))
{
    const int k = species_of(c->word[1]);
    return k < 0 ? NAN : f(k, c->v[2]);
}

static double call_cp(const struct call *c) /* cp NAME T */
{
    return species_value(c, emb_species_cp);
}
static double call_h(const struct call *c) /* h NAME T */
{
    return species_value(c, emb_species_h);
}
static double call_s(const struct call *c) /* s NAME T */
{
    return species_value(c, emb_species_s);
}
static double call_mass(const struct call *c) /* mass NAME */
{
    const int k = species_of(c->word[1]);
    return k < 0 ? NAN : emb_species_mass(k);
}
static double call_mix_cp(const struct call *c) /* mix_cp T NAME=x ... [J/(kg K)] */
{
    struct emb_gas g;
    return mixture(c, 2, c->v[1], &g) ? emb_gas_cp(&g) / emb_gas_mass(&g) : NAN;
}
static double call_reaction_h(const struct call *c) /* reaction_h T NAME=nu ... [J/mol] */
{
    double nu[EMB_NSPECIES], sum = 0.0; /* [-], [J/mol] */
    if (!pairs(c, 2, nu)) {
        return NAN;
    }
    for (int k = 0; k < EMB_NSPECIES; k++) {
        sum += nu[k] == 0.0 ? 0.0 : nu[k] * emb_species_h(k, c->v[1]);
    }
    return sum;
}
static double call_viscosity(const struct call *c) /* viscosity T */
{
    return emb_gas_viscosity(c->v[1]);
}
static double call_conductivity(const struct call *c) /* conductivity T */
{
    return emb_gas_conductivity(c->v[1]);
}
static double call_diffusivity(const struct call *c) /* diffusivity NAME T p */
{
    const int k = species_of(c->word[1]);
    return k < 0 ? NAN : emb_gas_diffusivity(k, c->v[2], c->v[3]);
}
static double call_psat(const struct call *c) /* psat T */
{
    return emb_water_psat(c->v[1]);
}
static double call_water_h(const struct call *c) /* water_h T: liquid [J/mol] */
{
    return emb_water_liquid_h(c->v[1]);
}
static double call_fuel_h(const struct call *c) /* fuel_h T: liquid [J/kg] */
{
    return emb_fuel_liquid_h(c->v[1]);
}
static double call_fuel_lhv(const struct call *c) /* fuel_lhv */
{
    (void)c;
    return emb_fuel_lhv();
}
static double call_nu_duct(const struct call *c) /* nu_duct nu_inf z */
{
    return emb_nu_duct_laminar(c->v[1], c->v[2]);
}
static double call_nu_pipe(const struct call *c) /* nu_pipe Re Pr */
{
    return emb_nu_pipe(c->v[1], c->v[2]);
}
static double call_nu_cross(const struct call *c) /* nu_cross Re Pr */
{
    return emb_nu_churchill_bernstein(c->v[1], c->v[2]);
}
static double call_nu_free(const struct call *c) /* nu_free Ra Pr */
{
    return emb_nu_churchill_chu(c->v[1], c->v[2]);
}
static double call_h_outside(const struct call *c) /* h_outside Ts Ta d v p */
{
    return emb_h_outside(c->v[1], c->v[2], c->v[3], c->v[4], c->v[5]);
}
static double call_h_radiation(const struct call *c) /* h_radiation eps Ts Ta */
{
    return emb_h_radiation(c->v[1], c->v[2], c->v[3]);
}
static double call_kp(const struct call *c) /* kp_no2 T */
{
    return emb_kp_no2(c->v[1]);
}
static double call_no2_share(const struct call *c) /* no2_share T x_O2: at equilibrium, 1.013 bar */
{
    const double k = emb_kp_no2(c->v[1]) * sqrt(1.01325 * c->v[2]); /* [-] */
    return k / (1.0 + k);
}

static const struct function {
    const char *name;
    size_t words; /* the name included; more are pairs */
    double (*f)(const struct call *c);
} functions[] = {
    {"cp", 3, call_cp},
    {"h", 3, call_h},
    {"s", 3, call_s},
    {"mass", 2, call_mass},
    {"mix_cp", 2, call_mix_cp},
    {"reaction_h", 3, call_reaction_h},
    {"viscosity", 2, call_viscosity},
    {"conductivity", 2, call_conductivity},
    {"diffusivity", 4, call_diffusivity},
    {"psat", 2, call_psat},
    {"water_h", 2, call_water_h},
    {"fuel_h", 2, call_fuel_h},
    {"fuel_lhv", 1, call_fuel_lhv},
    {"nu_duct", 3, call_nu_duct},
    {"nu_pipe", 3, call_nu_pipe},
    {"nu_cross", 3, call_nu_cross},
    {"nu_free", 3, call_nu_free},
    {"h_outside", 6, call_h_outside},
    {"h_radiation", 4, call_h_radiation},
    {"kp_no2", 2, call_kp},
    {"no2_share", 3, call_no2_share},
};

static void split(char *line, struct call *c)
{
    char *p = line + strspn(line, " \t");
    c->n = 0;
    while (*p != '\0' && *p != '\n' && c->n < MAX_WORDS) {
        const size_t len = strcspn(p, " \t\n");
        const bool last = p[len] == '\0';
        p[len] = '\0';
        c->word[c->n] = p;
        char *end = NULL;
        const double v = strtod(p, &end);
        c->v[c->n++] = *end == '\0' ? v : NAN;
        p = last ? p + len : p + len + 1 + strspn(p + len + 1, " \t");
    }
}

static double answer(const struct call *c)
{
    for (size_t i = 0; c->n > 0 && i < sizeof functions / sizeof *functions; i++) {
        if (strcmp(functions[i].name, c->word[0]) == 0 && c->n >= functions[i].words) {
            return functions[i].f(c);
        }
    }
    return NAN;
}

int main(void)
{
    char line[1000], copy[1000];
    struct call c;
    while (fgets(line, sizeof line, stdin) != NULL) {
        memcpy(copy, line, sizeof copy);
        split(line, &c);
        const double v = answer(&c);
        if (!isfinite(v)) {
            fprintf(stderr, "not understood, or no number: %s", copy);
            return 2;
        }
        printf("%.17g\n", v);
    }
    return 0;
}
