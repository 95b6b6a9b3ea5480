/* chain.h - Newton matrix of a row of cells through which something without a state flows.
 *
 * Link i has states x_i and passes on g_i (the gas, eliminated):
 *   rates = A x_i + B g_{i-1} + up T_{i-1} + down T_{i+1}
 *   g_i   = C x_i + D g_{i-1} + up T_{i-1} + down T_{i+1}
 * where T is one chosen state of a link, which its neighbours feel: `up` and `down` have a number
 * for the rate of T, and one for the first variable of each lane that leaves. Rates of a link
 * depend on everything ahead of it, yet the cost of factor and solve grows with the number of links
 * only: the gas is carried along, and what lies behind enters as an affine answer of T_{i+1} to
 * (g_i, T_i). All numbers are derivatives; units follow the states.
 *
 * Most of what flows is ballast to a link: it changes nothing there and goes on as it came. B and D
 * have columns for what a link hears only; the rest passes, lane by lane, in the shares `pass`.
 * What a link does not hear, the next link that it conducts to must not hear either. */
#ifndef EMB_CHAIN_H
#define EMB_CHAIN_H
#include <stddef.h>

enum { EMB_LINK_STATES = 12, EMB_LINK_TALLIES = 2, EMB_LINK_FLOWS = 64, EMB_LINK_LANES = 2 };
struct emb_beside {
    double rate, out[EMB_LINK_LANES]; /* [1/s], [-] by T of a neighbour */
};
struct emb_link {
    size_t row, n, t;         /* first state in the vector, how many, place of T among them */
    size_t m_in, m_out;       /* flowing variables that enter and leave */
    size_t lane;              /* of them in one lane: m_in, m_out are one lane or two, or none */
    unsigned long long heard; /* bit v: what enters as variable v is heard */
    size_t n_ear;             /* how many are heard, */
    unsigned char ear[EMB_LINK_FLOWS];           /* and which */
    double pass[EMB_LINK_LANES][EMB_LINK_LANES]; /* [-] of the unheard: from lane, to lane */
    struct emb_beside up, down; /* what the links before and behind do to this one; 0: nothing */
    double *A, *B;              /* row-major n x n, n x n_ear */
    double *C, *D;              /* column-major m_out x n, m_out x n_ear; D lies right behind C */
    double *E, *F; /* of tallies that are integrated beside: EMB_LINK_TALLIES x n, x n_ear */
    double *quiet; /* m_in: 1 for what is not heard, 0 for what is */
    double *lu, *Q, *R, *w;        /* factored: n x n, n x n_ear, n, n */
    double *inverse, *Q_by_column; /* column-major: n x n; the same numbers as Q */
    double echo;                   /* [-] factored: by what T behind grows for feeding itself */
    size_t pivot[EMB_LINK_STATES];
};
struct emb_chain {
    size_t n_link, widest; /* widest: largest m */
    struct emb_link *link;
    double gamma;         /* [s] of the factored matrix */
    double *store, *flow; /* flow: what each link passes on in the last solution, behind a row of
                             zeros; widest apart */
};

/* What all links do at one time [s]: states and their rates, and per link, emb_chain_row apart,
 * what it passes on and then its tallies. */
struct emb_point {
    double t;
    const double *y, *rates, *passed;
};

/* Allocates for links whose row, n, t, m_in, m_out, lane, heard are given (copied); NULL: out of
 * memory. Every link's m_in must be the m_out of the one before it. */
struct emb_chain *emb_chain_new(size_t n_link, const struct emb_link *shapes);
void emb_chain_free(struct emb_chain *c); /* NULL is fine */
/* Makes I - gamma J ready; gamma [s]. 0, or the 1-based number of the link that is singular. */
size_t emb_chain_factor(struct emb_chain *c, double gamma);
/* b := (I - gamma J)^-1 b, over the whole state vector. */
void emb_chain_solve(struct emb_chain *c, double *b);
/* Numbers that tell of a link what it passes on, then its tallies; and of all links. */
size_t emb_chain_row(const struct emb_chain *c);
size_t emb_chain_passed(const struct emb_chain *c);
/* The first lane of what enters, summed but for its first variable, which is of another kind: a
 * temperature where the others are flows. */
double emb_link_whole(const struct emb_link *k, const double *in);
/* What its neighbours change of a link as all states go from y0 to y1: rate of T, what leaves. */
struct emb_beside emb_link_given(const struct emb_link *k, const double *y0, const double *y1);
/* Adds what T of a neighbour makes of the first variable of each lane that leaves link k. */
void emb_link_add_given(const struct emb_link *k, const struct emb_beside *by, double T,
                        double *out);
/* out := the part of what enters link k, m_in values, that goes on unheard, m_out values. */
void emb_chain_let_pass(const struct emb_link *k, const double *restrict in, double *restrict out);
/* What link i passes on, and takes up, in the last solution (its m_out, m_in values). */
const double *emb_chain_out(const struct emb_chain *c, size_t i);
const double *emb_chain_in(const struct emb_chain *c, size_t i);
/* By how much tally `which` of link i changes with its states, moved by dx (n of them), and with
 * what it takes up in the last solution. */
double emb_chain_tally(const struct emb_chain *c, size_t i, size_t which, const double *dx);
#endif
