/* study_map_choose.c - which two axes and which output a map of a study shows. */
#include <string.h>

#include "emberpipe/words.h"
#include "study_map.h"

static enum emb_status axis_pick(const struct emb_sheet *s, const char *key, size_t *out,
                                 struct emb_err *err)
{
    for (size_t i = 0; i < s->info->n_axis; i++) {
        if (strcmp(s->info->axis[i].name, key) == 0) {
            *out = i;
            return EMB_OK;
        }
    }
    return emb_fail(err, EMB_ERR_USAGE, "--x", "'%.80s' is no axis of the study; the last one is %s",
                    key, s->info->axis[s->info->n_axis - 1].name);
}

/* x: as asked for, or the last axis with numbers; y: the last of the others. */
enum emb_status emb_sheet_axes(struct emb_sheet *s, struct emb_err *err)
{
    const size_t n = s->info->n_axis;
    if (strcmp(s->info->design, "grid") != 0 || n < 2) {
        return emb_fail(err, EMB_ERR_CONFIG, "map",
                        "needs a study with design: grid and two axes or more");
    }
    s->x = n - 1;
    for (size_t i = n; i-- > 0 && s->info->axis[s->x].text;) {
        s->x = i;
    }
    enum emb_status st = s->a->x != NULL ? axis_pick(s, s->a->x, &s->x, err) : EMB_OK;
    s->y = s->x == n - 1 ? n - 2 : n - 1;
    for (size_t i = n; i-- > 0 && s->info->axis[s->y].text;) {
        s->y = i != s->x ? i : s->y;
    }
    s->stride[n - 1] = 1;
    for (size_t i = n - 1; i > 0; i--) {
        s->stride[i - 1] = s->stride[i] * s->info->axis[i].n_level;
    }
    s->map.panel.n =
        s->info->n / s->info->axis[s->x].n_level / s->info->axis[s->y].n_level;
    if (st == EMB_OK && s->map.panel.n > EMB_MAP_PANELS) {
        st = emb_fail(err, EMB_ERR_CONFIG, "map",
                      "the other axes give %zu panels; a picture shows %d at most", s->map.panel.n,
                      (int)EMB_MAP_PANELS);
    }
    return st;
}

enum emb_status emb_sheet_output(struct emb_sheet *s, struct emb_err *err)
{
    const char *want = s->a->of, *names[256];
    char near[200];
    size_t n = 0;
    for (; n < s->info->n_output && n < 256; n++) {
        names[n] = s->info->output[n].name;
        if (want != NULL && strcmp(want, names[n]) == 0) {
            s->output = n;
            return EMB_OK;
        }
    }
    if (want == NULL) {
        return EMB_OK; /* the first */
    }
    emb_suggest(want, names, n, near, sizeof near);
    return emb_fail(err, EMB_ERR_USAGE, "--of", "'%.80s' is no output of the study%s%s", want,
                    near[0] != '\0' ? near : "; the first one is ", near[0] != '\0' ? "" : names[0]);
}
