/* search.h - how far each lever has to go for a target. Private to the shop room. */
#ifndef EMB_SEARCH_H
#define EMB_SEARCH_H
#include "lever.h"

struct limit_run { /* one lever all the way, for all targets */
    bool failed;
    char message[200];
    double t_end;              /* [s] */
    struct emb_effect *effect; /* by verdict of the case; owned */
};
struct search { /* one target, a list of levers */
    const char *target;
    size_t verdict; /* its number in the results */
    double margin_now;
    size_t n;
    const struct lever *lever;
    const struct limit_run *limit;
    struct emb_remedy *item; /* made by emb_search_run; owned by whoever asked */
    size_t *job;             /* levers that need runs of their own */
    void (*said)(const char *text, void *user);
    void *user;
};

/* > 0: reached, the more the earlier. -1 .. 0: passed, but not held long enough. < -1: how far from
 * the threshold. */
double emb_search_margin(const struct emb_verdict *v, double t_end);
void emb_search_effect(const struct emb_case *c, const struct emb_result *r, size_t verdict,
                       struct emb_effect *e);
/* Every lever at its limit, in parallel; frees with emb_search_limits_free. */
enum emb_status emb_search_limits(const struct search *s, struct limit_run **out,
                                  struct emb_err *err);
void emb_search_limits_free(struct limit_run *l, size_t n);
enum emb_status emb_search_run(struct search *s, struct emb_err *err);
#endif
