/* edit.h - YAML text changed in place: comments, order and everything else stay as they were.
 *
 * A text is a malloc'd string that each call may replace. Paths are those of --set: "ambient.wind",
 * "line.doc.oxidation_catalyst.blocked", "duty.phases[0].speed"; an entry of a list is its number
 * or its name, and the kind of an element may be left out. On failure the text is unchanged. */
#ifndef EMB_EDIT_H
#define EMB_EDIT_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/status.h"

enum emb_status emb_edit_read(const char *file, char **text, struct emb_err *err); /* new text */
/* Value at the path; if it is absent there, also in the blocks that lead to it, it is added. */
enum emb_status emb_edit_set(char **text, const char *path, const char *value, struct emb_err *err);
/* Text of one value into buf; false: absent, no single value, or longer than buf. */
bool emb_edit_get(const char *text, const char *path, char *buf, size_t size);
bool emb_edit_has(const char *text, const char *path); /* something is there */
/* Adds what `fragment` gives and `text` lacks. A top-level key of the fragment that is a kind of
 * element (`filter: {...}`) goes into every element of that kind. */
enum emb_status emb_edit_merge(char **text, const char *fragment, struct emb_err *err);
/* Writes out every `use: part` as the keys of the part, so that the text stands alone. */
enum emb_status emb_edit_expand(char **text, struct emb_err *err);
#endif
