/* study_export.h - a journal as one file for other programs. Written beside and renamed: the file
 * is whole or not there. Cases are in the order of their numbers, so the same results give the same
 * file whatever threads or ranks made them. */
#ifndef EMB_STUDY_EXPORT_H
#define EMB_STUDY_EXPORT_H
#include "emberpipe/journal.h"

/* One line a case, headers "name [unit]" in SI; texts as texts, empty cells where there is no
 * number, the reason of a failed case in the last column. */
enum emb_status emb_study_export_csv(struct emb_journal *j, const char *file, struct emb_err *err);
/* NetCDF-4 with CF attributes (units, long_name, flag_values, flag_meanings): dimension case, and
 * for full grids the axes as dimensions of their own. Needs libnetcdf at run time. */
enum emb_status emb_study_export_netcdf(struct emb_journal *j, const char *file,
                                        struct emb_err *err);
#endif
