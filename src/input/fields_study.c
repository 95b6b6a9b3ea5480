/* fields_study.c - rows of a study file. */
#include "emberpipe/study_file.h"
#include "rows.h"

static const char *const designs[] = {"grid",  "latin_hypercube", "sobol",    "monte_carlo",
                                      "table", "screening",       "variance", "search",
                                      NULL};
static const char *const spacings[] = {"linear", "log", NULL};
static const char *const distributions[] = {"uniform", "normal", NULL};

#define A emb_axis_cfg
static const struct emb_field axis[] = {
    ROW_TEXT(A, key, EMB_UNSET,
             "what varies: the path of a key of the case, or case: the values are case files"),
    ROW_TEXTS(A, also, "further keys that take the same value"),
    ROW_TEXTS(A, values, "the values, with units; texts, choices and names of elements too"),
    ROW_TEXT(A, from, EMB_UNSET, "smallest value, with unit"),
    ROW_TEXT(A, to, EMB_UNSET, "largest value, with unit"),
    ROW_INT(A, steps, "0", 0, 1000000, "grid: so many values from `from` to `to`, both included",
            NULL),
    ROW_CHOICE(A, spacing, "linear", spacings, "equal steps, or equal ratios (log)"),
    ROW_CHOICE(A, distribution, "uniform", distributions,
               "sampled designs: how likely the values are"),
    ROW_TEXT(A, mean, EMB_UNSET, "normal: the middle; else the value of the case"),
    ROW_TEXT(
        A, sd, EMB_UNSET,
        "normal: standard deviation, with unit or in % of the mean; else the spread of the key"),
};
EMB_BLOCK(axis, "axes[]", "One thing that varies.", axis);

#define R emb_search_cfg
static const char *const methods[] = {"local", "global", NULL};
static const struct emb_field search[] = {
    ROW_TEXT(R, minimise, EMB_UNSET, "output that is to be as small as possible"),
    ROW_TEXT(R, maximise, EMB_UNSET, "output that is to be as large as possible"),
    ROW_TEXTS(R, limits, "what must hold, such as  total.dosed_fuel below 2 kg"),
    ROW_CHOICE(R, method, "local", methods,
               "local: a scan, then downhill; global: divides the ranges again and again first"),
    ROW_INT(R, runs, "40", 5, 100000, "cases run for each combination of the axes with values",
            SRC_JUDGED),
};
EMB_BLOCK(search, "search", "What design: search looks for.", search);

#define S emb_study_cfg
static const struct emb_field study[] = {
    ROW_TEXT(S, title, "", "one line that names the study"),
    ROW_TEXT(S, base, EMB_UNSET, "case file that is varied, relative to the study file"),
    ROW_TEXTS(S, set, "overrides path=value for all cases"),
    ROW_CHOICE(S, design, "grid", designs, "how the cases are chosen"),
    ROW_INT(S, samples, "0", 0, 1000000000, "number of cases of a sampled design; screening: of paths, each one case more than axes; "
            "variance: of blocks, each two cases more than axes", NULL),
    ROW_INT(S, seed, "1", 0, 2147483647,
            "of the random numbers; the same seed gives the same cases", NULL),
    ROW_INT(S, max_steps, "500000", 1, 2000000000,
            "steps of the integrator after which a case is given up and recorded as failed; an hour of a "
            "regeneration takes some 2 000, a day at 1 Hz some 200 000",
            SRC_JUDGED),
    ROW_TEXT(S, table, EMB_UNSET,
             "table: CSV of cases with headers \"key [unit]\", relative to the study file"),
    ROW_BLOCK("search", offsetof(struct S, search), search, false,
              "design: search: what to look for; emberpipe study search"),
    ROW_LIST("axes", axis, "what varies"),
    ROW_TEXTS(S, outputs, "what is kept of every case, see emberpipe study measures"),
    ROW_TEXTS(S, traces, "series kept over time, thinned to trace_interval"),
    ROW_Q(S, trace_interval, TIME, "60 s", 0.01, 1e7, "between the kept values of a trace",
          SRC_JUDGED, 0),
};
EMB_BLOCK(study, "study", "A study: many cases around a base case.", study);
