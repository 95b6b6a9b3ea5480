/* export.h - private to the study room: writing beside a file and renaming. */
#ifndef EMB_EXPORT_H
#define EMB_EXPORT_H
#include <stddef.h>
#include "emberpipe/status.h"
enum emb_status emb_export_begin(const char *file, char *beside, size_t size, struct emb_err *err);
/* Renames on EMB_OK, else removes what is beside; returns st or the failure of renaming. */
enum emb_status emb_export_end(const char *file, const char *beside, enum emb_status st,
                               struct emb_err *err);
#endif
