#include "emberpipe/component.h"

const struct emb_component_type *emb_component_get(enum emb_kind kind)
{
    switch (kind) {
    case EMB_PIPE:
        return &emb_pipe_type;
    case EMB_MASS:
        return &emb_mass_type;
    case EMB_OXICAT:
    case EMB_REDCAT:
        return &emb_brick_type;
    case EMB_FILTER:
        return &emb_filter_type;
    case EMB_DOSER:
        return &emb_doser_type;
    case EMB_DEF:
        return &emb_def_type;
    case EMB_SENSOR:
        return &emb_sensor_type;
    case EMB_LEAK:
        return &emb_leak_type;
    }
    return NULL;
}
