/* places.c - the line as a reader sees it: size of every element, and the temperature of the solid
 * along the flow, one row for each row of the table. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sim.h"

/* The two catalysts share one component but are two things to a reader. */
static const char *kind_words(enum emb_kind kind, const struct emb_component_type *type)
{
    return kind == EMB_OXICAT   ? "oxidation_catalyst"
           : kind == EMB_REDCAT ? "reduction_catalyst"
                                : type->kind;
}

static void size_of(const struct emb_element_cfg *e, struct emb_part *p)
{
    const struct emb_body *b = NULL;
    switch (e->kind) {
    case EMB_PIPE:
        p->length = e->u.pipe.length;
        p->diameter = e->u.pipe.diameter;
        return;
    case EMB_OXICAT:
    case EMB_REDCAT:
        b = &e->u.brick.body;
        break;
    case EMB_FILTER:
        b = &e->u.filter.body;
        break;
    case EMB_MASS:
    case EMB_DOSER:
    case EMB_DEF:
    case EMB_SENSOR:
    case EMB_LEAK:
        return;
    }
    p->length = b->length;
    p->diameter = b->diameter;
}

int emb_sim_places(struct emb_sim *s)
{
    struct emb_result *r = s->out;
    r->n_place = s->line.n_slot;
    r->place = calloc(r->n_place + 1, sizeof *r->place);
    if (r->place == NULL) {
        return -1;
    }
    for (size_t i = 0; i < r->n_place; i++) {
        const struct emb_slot *slot = &s->line.slot[i];
        struct emb_part *p = &r->place[i];
        snprintf(p->name, sizeof p->name, "%s", s->c->line[i].name);
        snprintf(p->kind, sizeof p->kind, "%s", kind_words(s->c->line[i].kind, slot->type));
        size_of(&s->c->line[i], p);
        p->first = r->n_cell;
        p->n_cell = slot->shape.n_cell > 0 ? slot->shape.n_cells : 0;
        r->n_cell += p->n_cell;
    }
    r->profile = calloc(s->row_capacity * r->n_cell + 1, sizeof *r->profile);
    return r->profile != NULL ? 0 : -1;
}

int emb_sim_profile_grow(struct emb_sim *s)
{
    float *p = realloc(s->out->profile, (s->row_capacity * s->out->n_cell + 1) * sizeof *p);
    if (p == NULL) {
        return -1;
    }
    s->out->profile = p;
    return 0;
}

/* Called before the row is counted. */
void emb_sim_profile(struct emb_sim *s)
{
    struct emb_result *r = s->out;
    float *out = r->profile + r->n_row * r->n_cell;
    for (size_t i = 0; i < r->n_place; i++) {
        const struct emb_slot *slot = &s->line.slot[i];
        const double *y = s->now.seen_y + slot->offset + slot->shape.n_shared;
        for (size_t k = 0; k < r->place[i].n_cell; k++) {
            *out++ = (float)y[k * slot->shape.n_cell];
        }
    }
}

void emb_sim_profile_thin(struct emb_result *r, size_t keep)
{
    for (size_t i = 1; i < keep; i++) {
        memmove(r->profile + i * r->n_cell, r->profile + 2 * i * r->n_cell,
                r->n_cell * sizeof *r->profile);
    }
}
