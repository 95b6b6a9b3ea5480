/* lever.h - what a person can change, made ready to try. Private to the shop room. */
#ifndef EMB_LEVER_H
#define EMB_LEVER_H
#include "emberpipe/remedy.h"
#include "emberpipe/vary.h"

enum { LEVER_PARTS = 10, LEVER_TEXTS = 10 };
struct lever_part {                /* one number that moves from `now` to `limit` */
    char path[EMB_REMEDY_SET / 2]; /* by names, because a lever may change the order of the line */
    struct emb_place place;        /* in the base */
    double now, limit;             /* [SI of the place] */
    const char *unit;              /* for people and for the override */
    double unit_si, unit_zero;
    bool follows; /* moves with the part before it and needs no words of its own */
};
struct lever {
    char what[120]; /* "idle speed"; of a change without numbers the whole of it */
    const char *caution;
    enum emb_effort effort;
    bool timed;  /* the first part is a time: more of it changes nothing that came before */
    bool fresh;  /* its number does not go on from one that the case has */
    double from; /* [s] timed: when that time begins */
    size_t n_part, n_text;
    struct lever_part part[LEVER_PARTS];
    char text[LEVER_TEXTS][EMB_REMEDY_SET]; /* overrides that are no numbers, or need no search */
    struct emb_case base;                   /* the case with the texts applied; owned */
};
struct lever_set {
    size_t n;
    struct lever *item;
};
struct lever_source { /* where cases come from */
    const char *file;
    const char *const *sets;
    size_t n_set;
};
/* Every lever that this case has and that is not at its limit already. */
enum emb_status emb_levers_make(const struct lever_source *from, const struct emb_case *c,
                                struct lever_set *out, struct emb_err *err);
/* The catalogue (catalogue.c): levers without their base. */
enum emb_status emb_levers_propose(const struct emb_case *c, struct lever_set *out,
                                   struct emb_err *err);
void emb_levers_free(struct lever_set *s);
/* Both levers at once, as a lever of its own. */
enum emb_status emb_lever_pair(const struct lever_source *from, const struct lever *a,
                               const struct lever *b, struct lever *out, struct emb_err *err);
void emb_lever_free(struct lever *l);
/* A copy of the base with every number `share` of the way from now to its limit. */
enum emb_status emb_lever_case(const struct lever *l, double share, struct emb_case *out,
                               struct emb_err *err);
/* What that is in words and as overrides. */
void emb_lever_tell(const struct lever *l, double share, struct emb_remedy *out);
#endif
