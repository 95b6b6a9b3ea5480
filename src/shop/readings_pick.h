/* readings_pick.h - healing a case and picking its readings. Private to the shop room. */
#ifndef EMB_READINGS_PICK_H
#define EMB_READINGS_PICK_H
#include "emberpipe/readings.h"
#include "emberpipe/result.h"

void emb_readings_heal(struct emb_case *c, bool as_new); /* sensors; as_new: parts too */
void emb_readings_renew(struct emb_case *c);             /* parts */
/* Columns and rows of a run into o, which holds none yet. */
enum emb_status emb_readings_pick(const struct emb_case *c, const struct emb_result *r,
                                  struct emb_readings *o, struct emb_err *err);
#endif
