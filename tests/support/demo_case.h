/* demo_case.h - group fixture: *state is the case of configs/quickstart.yaml, read once for all tests of a program. */
#ifndef EMB_DEMO_CASE_H
#define EMB_DEMO_CASE_H
int demo_case_load(void **state);
int demo_case_unload(void **state);
#endif
