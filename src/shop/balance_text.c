/* balance_text.c - the balance in words. */
#include <math.h>

#include "emberpipe/balance.h"
#include "emberpipe/words.h"

/* "14 h", "3.2 days" of the duty. */
static const char *span(double t, char buf[40])
{
    if (!isfinite(t)) {
        snprintf(buf, 40, "never");
    } else if (t < 7200.0) {
        snprintf(buf, 40, "%.0f min", t / 60.0);
    } else if (t < 100.0 * 3600.0) {
        snprintf(buf, 40, "%.1f h", t / 3600.0);
    } else {
        snprintf(buf, 40, "%.0f h", t / 3600.0);
    }
    return buf;
}

/* Largest change of a pass against the one before, relative to the largest rate. */
static double unsettled(const struct emb_balance *b)
{
    double most = 0.0, rate = 1e-12;
    for (int i = 0; i < EMB_BALANCE_NODES; i++) {
        rate = fmax(rate, fabs(b->node[i].rate));
        most = fmax(most, fabs(b->node[i].rate - b->node[i].before));
    }
    return most / rate;
}

static void soot(const struct emb_balance *b, FILE *f)
{
    char t[40], c[40];
    const double limit = 100.0 * b->ask.soot_limit;
    if (b->resets) {
        fprintf(f, "Soot in '%s': this duty sets it: begun anywhere between %.0f %% and %.0f %%, it "
                "comes to about %.0f %%\n", b->filter, 100.0 * b->start, limit, 100.0 * b->level);
        return;
    }
    if (isfinite(b->reach)) {
        const double err = b->reach * b->error;
        fprintf(f, "Soot in '%s': from %.0f %% to %.0f %% in %s of this duty", b->filter,
                100.0 * b->start, limit, span(b->reach, t));
        fprintf(f, ", give or take %s\n", span(err, c));
        fprintf(f, "  (%.0f passes of %s each)\n", b->reach / b->pass, span(b->pass, c));
    } else if (!isnan(b->level)) {
        fprintf(f, "Soot in '%s': balances at about %.0f %% and does not reach %.0f %%\n",
                b->filter, 100.0 * b->level, limit);
    } else {
        fprintf(f, "Soot in '%s': falls from the %.0f %% it starts with; it balances\n", b->filter,
                100.0 * b->start);
    }
    for (int i = 0; i < EMB_BALANCE_NODES; i++) {
        fprintf(f, "  at %3.0f %% soot: %+.3f points an hour\n", 100.0 * b->node[i].soot,
                3.6e5 * b->node[i].rate);
    }
    if (b->ask.cold) {
        const double week = emb_balance_after(b->node, b->start, 5.0 * b->pass);
        fprintf(f, "  five such days, each begun cold: from %.1f %% to %.1f %%\n", 100.0 * b->start,
                100.0 * week);
    }
}

static void doubt(const struct emb_balance *b, FILE *f)
{
    char t[40];
    if (isnan(b->check_t)) {
        fputs("  CAUTION: not checked, the longer run could not be finished\n", f);
        return;
    }
    if (b->resets) {
        fprintf(f, "  run for %s it came to %.2f %%\n", span(b->check_t, t), 100.0 * b->check_run);
        return;
    }
    fprintf(f,
            "  checked: run for %s it came to %.2f %%, the extrapolation says %.2f %%: %.1f %% of "
            "the change apart\n",
            span(b->check_t, t), 100.0 * b->check_run, 100.0 * b->check_sum, 100.0 * b->error);
    if (unsettled(b) > 0.05) {
        fprintf(f,
                "  CAUTION: passes had not settled (%.0f %% from one to the next): take the hours "
                "as a rough guide\n",
                100.0 * unsettled(b));
    }
}

static void crust(const struct emb_balance *b, FILE *f)
{
    char t[40];
    if (isnan(b->crust_start)) {
        return;
    }
    fprintf(f, "\nCrust on the face of '%s': closed %.1f %% at the start, %.2f %% after %s\n",
            b->crust_at, 100.0 * b->crust_start, 100.0 * b->crust_end, span(b->check_t, t));
    if (b->crust_start >= b->ask.crust_limit) {
        fprintf(f, "  which is beyond %.0f %% already", 100.0 * b->ask.crust_limit);
    } else if (isfinite(b->crust_reach)) {
        fprintf(f, "  closes %.0f %% after %s of this duty, give or take %.0f %%",
                100.0 * b->ask.crust_limit, span(b->crust_reach, t), 100.0 * b->crust_error);
    } else {
        fputs("  does not grow in this duty", f);
    }
    fputs(" (crust model: calibrated, not validated)\n", f);
}

static void loads(const struct emb_balance *b, FILE *f)
{
    char a[40], h[40], T[48];
    if (b->n_load == 0) {
        return;
    }
    fprintf(
        f,
        "\nCleaning up by driving, from %.0f %% soot and a cold start (65 %% of rated speed, no "
        "regeneration)\n  load   filter at the end   soot falls after   half is gone after   "
        "change at the end\n",
        100.0 * b->ask.soot_limit);
    for (size_t i = 0; i < b->n_load; i++) {
        const struct emb_balance_load *l = &b->load[i];
        fprintf(f, "  %3.0f %%", 100.0 * l->load);
        if (isnan(l->filter)) {
            fputs("   this run could not be finished\n", f);
            continue;
        }
        emb_write_cell(emb_text_temperature(l->filter, T), 20, f);
        emb_write_cell(isnan(l->warm_up) ? "it does not" : span(l->warm_up, a), 19, f);
        if (isnan(l->half)) {
            snprintf(h, sizeof h, "not in %.0f min", b->tried / 60.0);
        }
        emb_write_cell(isnan(l->half) ? h : span(l->half, h), 21, f);
        fprintf(f, "   %+.1f points/h\n", 100.0 * l->per_hour);
    }
}

void emb_balance_text(const struct emb_balance *b, FILE *f)
{
    fprintf(f, "%s%s", b->title, b->title[0] != '\0' ? "\n\n" : "");
    soot(b, f);
    doubt(b, f);
    crust(b, f);
    loads(b, f);
    if (b->lost > 0) {
        fprintf(f, "\nCAUTION: %zu of the runs behind this could not be finished.\n", b->lost);
    }
    fputs("\nSoot that the engine makes and NO2 that burns it are judgement unless the case gives "
          "your engine's; hours may be\noff by half. The scan tool's own soot estimate and the "
          "maker's intervals decide. An overloaded filter is not\ncleaned by driving hard: it may "
          "burn out of control. Follow the maker's procedure.\n",
          f);
}
