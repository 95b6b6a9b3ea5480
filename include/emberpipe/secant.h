/* secant.h - what Newton's matrix learns from one iterate to the next.
 *
 * After a correction every link of the chain has shown what it does at a second point. Where that
 * is not what its derivatives said, they are changed by as little as makes them right along the way
 * it went: Broyden 1965, Math. Comp. 19:577, eq. 4.5, applied to every link on its own, as Schubert
 * 1970, Math. Comp. 24:27 applies it to rows, so that the chain stays a chain. Elements that links
 * keep, and that their derivatives keep, are kept; energy, whose balance bends with temperature, to
 * second order. It costs about as much as one march of the gas, where fresh derivatives cost a
 * dozen. */
#ifndef EMB_SECANT_H
#define EMB_SECANT_H
#include <stdbool.h>
#include "emberpipe/chain.h"

struct emb_secant;
/* For a chain of n states, whose tolerances are rtol [-] and atol [unit of each state]; both the
 * chain and atol are the caller's. One that does not learn only remembers. NULL: out of memory. */
struct emb_secant *emb_secant_new(struct emb_chain *chain, size_t n, double rtol,
                                  const double *atol, bool learns);
void emb_secant_free(struct emb_secant *s); /* NULL is fine */
/* b := the correction of iterate `now`, as emb_chain_solve. If `now` is what the last correction
 * led to, and it did not bring Newton on as it should, the chain learns from it first. NaN: what it
 * learnt is singular; ask for fresh derivatives. */
void emb_secant_solve(struct emb_secant *s, const struct emb_point *now, double *b);
/* The last iterate, if it was of time t and the derivatives have not been taken anew since. */
bool emb_secant_last(const struct emb_secant *s, double t, struct emb_point *at);
/* The derivatives are fresh: the last iterate teaches nothing any more. */
void emb_secant_forget(struct emb_secant *s);
#endif
