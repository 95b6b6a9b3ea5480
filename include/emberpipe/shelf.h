/* shelf.h - where ready-made files (parts, layouts, classes) are found.
 *
 * Looked for, in this order: $EMBERPIPE_CONFIGS, ./configs, the configs beside or installed with
 * the running program, the configs of the installation. */
#ifndef EMB_SHELF_H
#define EMB_SHELF_H
#include <stdbool.h>
#include <stddef.h>

/* KIND/NAME.yaml of the first folder that has it; false: none has, or the name is none. */
bool emb_shelf_find(const char *kind, const char *name, char *file, size_t size);
/* Names of kind, sorted, without doubles. Frees with emb_shelf_free. NULL: out of memory. */
char **emb_shelf_names(const char *kind, size_t *n);
void emb_shelf_free(char **names, size_t n);
bool emb_shelf_name_ok(const char *name); /* letters, digits, _ and -; at most 60 */
#endif
