/* vector.h - serial vectors of CVODES with arithmetic compiled here. Debian builds SUNDIALS without
 * optimisation; its vectors take replaced operations and pass them on to every copy. */
#ifndef EMB_VECTOR_H
#define EMB_VECTOR_H
#include <sundials/sundials_nvector.h>

N_Vector emb_vector_new(sunindextype n, SUNContext ctx); /* NULL: out of memory */
#endif
