/* rows.h - shorthand for the rows of the field table. T: struct, k: member and key. */
#ifndef EMB_ROWS_H
#define EMB_ROWS_H
#include <math.h>
#include <stddef.h>
#include "emberpipe/case.h"
#include "emberpipe/field.h"

#define ROW_Q(T, k, dim, def, lo, hi, help, src, spread) ROW_QK(T, k, #k, dim, def, lo, hi, help, src, spread)
#define ROW_QK(T, m, key, dim, def, lo, hi, help, src, spread)                                                         \
    {key, EMB_FIELD_QUANTITY, EMB_DIM_##dim, def, lo, hi, offsetof(struct T, m), help, src, spread, NULL, NULL, false, NULL}
/* with a word on how it is measured */
#define ROW_QM(T, k, dim, def, lo, hi, help, src, spread, how) ROW_QKM(T, k, #k, dim, def, lo, hi, help, src, spread, how)
#define ROW_QKM(T, m, key, dim, def, lo, hi, help, src, spread, how)                                                   \
    {key, EMB_FIELD_QUANTITY, EMB_DIM_##dim, def, lo, hi, offsetof(struct T, m), help, src, spread, NULL, NULL, false, \
     how}
#define ROW_INT(T, k, def, lo, hi, help, src)                                                                          \
    {#k, EMB_FIELD_INT, EMB_DIM_FRACTION, def, lo, hi, offsetof(struct T, k), help, src, 0, NULL, NULL, false, NULL}
#define ROW_BOOL(T, k, def, help)                                                                                      \
    {#k, EMB_FIELD_BOOL, EMB_DIM_FRACTION, def, 0, 1, offsetof(struct T, k), help, NULL, 0, NULL, NULL, false, NULL}
#define ROW_CHOICE(T, k, def, list, help)                                                                              \
    {#k, EMB_FIELD_CHOICE, EMB_DIM_FRACTION, def, 0, 0, offsetof(struct T, k), help, NULL, 0, NULL, list, false, NULL}
#define ROW_TEXT(T, k, def, help)                                                                                      \
    {#k, EMB_FIELD_TEXT, EMB_DIM_FRACTION, def, 0, 0, offsetof(struct T, k), help, NULL, 0, NULL, NULL, false, NULL}
#define ROW_HAND(key, def, help)                                                                                       \
    {key, EMB_FIELD_TEXT, EMB_DIM_FRACTION, def, 0, 0, EMB_BY_HAND, help, NULL, 0, NULL, NULL, false, NULL}
#define ROW_BLOCK(key, at, blk, over, help)                                                                            \
    {key, EMB_FIELD_BLOCK, EMB_DIM_FRACTION, EMB_UNSET, 0, 0, at, help, NULL, 0, &emb_block_##blk, NULL, over, NULL}
#define ROW_LIST(key, blk, help)                                                                                       \
    {key, EMB_FIELD_LIST, EMB_DIM_FRACTION, EMB_UNSET, 0, 0, EMB_BY_HAND, help, NULL, 0, &emb_block_##blk, NULL, false, NULL}
#define ROW_TEXTS(T, k, help)                                                                                          \
    {#k, EMB_FIELD_TEXTS, EMB_DIM_FRACTION, EMB_UNSET, 0, 0, offsetof(struct T, k), help, NULL, 0, NULL, NULL, false, NULL}
/* every block may start from a part file */
#define ROW_USE ROW_HAND("use", EMB_UNSET, "name of a part file (parts/NAME.yaml) whose keys are taken unless given here")

#define EMB_BLOCK(id, title, text, rows)                                                                               \
    const struct emb_block emb_block_##id = {title, text, sizeof rows / sizeof rows[0], rows}
#define SRC_PRACTICE "common practice, no source"
#define SRC_JUDGED "judgement"
#endif
