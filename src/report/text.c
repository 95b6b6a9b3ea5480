/* text.c - the report for people: verdict first, then the numbers that explain it, the log,
 * warnings, limits. */
#include <math.h>
#include <string.h>

#include "emberpipe/report.h"
#include "write.h"

enum { MAX_LOG = 60 };

static void verdict(const struct emb_verdict *v, FILE *f)
{
    char at[24], best[48], gap[64];
    fprintf(f, "%s: %s of '%s': ", v->name, v->what, v->at);
    if (v->reached) {
        fprintf(f, "reached at %s\n", emb_text_clock(v->t_reached, at));
        return;
    }
    emb_text_verdict_value(v, v->best, best);
    const bool passed = v->below ? v->best < v->value : v->best > v->value;
    if (!isfinite(v->best)) {
        fputs("never reached: no value was seen\n", f);
    } else if (passed) {
        fprintf(f, "never held: best %s at %s, held for %.0f s of the %.0f s asked for\n", best,
                emb_text_clock(v->t_best, at), v->longest, v->hold);
    } else {
        emb_text_verdict_gap(v, gap);
        fprintf(f, "never reached: best %s at %s, %s %s\n", best, emb_text_clock(v->t_best, at),
                gap, v->below ? "too high" : "short");
    }
    if (v->why[0] != '\0') {
        fprintf(f, "  why: %s\n", v->why);
    }
}

static void verdicts(const struct emb_result *r, FILE *f)
{
    char at[24];
    if (!r->complete) {
        fprintf(f, "INCOMPLETE: stopped at %s: %s\n", emb_text_clock(r->t_end, at), r->message);
    }
    for (size_t i = 0; i < r->n_verdict; i++) {
        verdict(&r->verdict[i], f);
    }
    if (r->n_verdict == 0) {
        fputs("no targets were asked for\n", f);
    }
    fprintf(f, "\n%s%s%s simulated\n", r->title, r->title[0] != '\0' ? ", " : "",
            emb_text_clock(r->t_end, at));
}

/* Phases and notes in one list by time; a phase comes before what happened at its first moment. */
static void run_log(const struct emb_result *r, FILE *f)
{
    char at[24];
    size_t s = 0, n = 0;
    const size_t total = r->n_span + r->n_note;
    if (total > 0) {
        fputs("\nLog\n", f);
    }
    for (int lines = 0; s + n < total; lines++) {
        if (lines == MAX_LOG) {
            fprintf(f, "         ... and %zu more entries; the JSON report has them all\n",
                    total - s - n);
            return;
        }
        const bool phase = s < r->n_span && (n >= r->n_note || r->span[s].t0 <= r->note[n].t);
        emb_write_cell(emb_text_clock(phase ? r->span[s].t0 : r->note[n].t, at), 9, f);
        if (phase) {
            fprintf(f, "  phase '%s' begins\n", r->span[s++].name);
        } else {
            fprintf(f, "  %s\n", r->note[n++].text);
        }
    }
}

static void warnings(const struct emb_result *r, FILE *f)
{
    if (r->n_warning > 0) {
        fputs("\nWarnings\n", f);
    }
    for (size_t i = 0; i < r->n_warning; i++) {
        fprintf(f, "  - %s\n", r->warning[i].text);
        if (r->warning[i].advice[0] != '\0') {
            fprintf(f, "    try: %s\n", r->warning[i].advice);
        }
    }
}

static void limits(const struct emb_result *r, FILE *f)
{
    fputs("\nA model of a line as described, one-dimensional, with typical parts where none were "
          "given:\n"
          "use it to compare and to explain, and let measurements on the vehicle decide.\n",
          f);
    if (emb_text_hot_work(r)) {
        fputs("\nSAFETY\n", f);
        for (size_t i = 0; emb_cautions[i] != NULL; i++) {
            fprintf(f, "  - %s\n", emb_cautions[i]);
        }
    }
}

static void stats(const struct emb_result *r, FILE *f)
{
    const struct emb_counters *c = &r->counters;
    fprintf(f,
            "\nSolver (%s): %ld steps, %ld right-hand sides, %ld Jacobians, %ld restarts, "
            "%ld error test failures,\n"
            "%ld Newton failures, %ld roots; %zu rows; %.3f s of wall time\n",
            r->method == EMB_METHOD_TRAPEZOID ? "trapezoid, row by row" : "BDF", c->steps, c->rhs,
            c->jac, c->restarts, c->err_fails, c->newton_fails, c->roots,
            r->n_row, r->wall_seconds);
}

void emb_report_text(const struct emb_result *r, const struct emb_report_options *o, FILE *f)
{
    verdicts(r, f);
    emb_text_table(r, f);
    emb_text_peaks(r, f);
    emb_text_totals(r, f);
    emb_text_heat(r, f);
    emb_text_books(r, f);
    run_log(r, f);
    warnings(r, f);
    limits(r, f);
    if (o->stats) {
        stats(r, f);
    }
}

void emb_report_answer(const struct emb_result *r, FILE *f)
{
    verdicts(r, f);
    warnings(r, f);
    limits(r, f);
}
