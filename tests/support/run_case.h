/* run_case.h - runs a case for a test; the test fails when it cannot be loaded or run to its end. */
#ifndef RUN_CASE_H
#define RUN_CASE_H
#include <stddef.h>
#include "emberpipe/result.h"

struct emb_result run_file(const char *file, const char *const *sets, size_t n_set);
/* A case as text; paths inside are as seen from where the test runs. */
struct emb_result run_text(const char *yaml);
double column_at(const struct emb_result *r, const char *column, double t); /* between rows, linear */
double last_of(const struct emb_result *r, const char *column);
#endif
