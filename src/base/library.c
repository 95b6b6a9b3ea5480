#include "emberpipe/library.h"

#include <dlfcn.h>
#include <string.h>

enum emb_status emb_library_open(const struct emb_library *l, size_t n, const char *const *names,
                                 void *calls, struct emb_err *err)
{
    void *library = dlopen(l->soname, RTLD_NOW | RTLD_LOCAL);
    if (library == NULL) {
        return emb_fail(err, EMB_ERR_IO, l->what, "%s cannot be loaded; %s", l->soname, l->advice);
    }
    char *to = calls;
    for (size_t i = 0; i < n; i++) {
        void *at = dlsym(library, names[i]);
        if (at == NULL) {
            return emb_fail(err, EMB_ERR_IO, l->what, "%s lacks %s", l->soname, names[i]);
        }
        memcpy(to + i * sizeof at, &at, sizeof at); /* ISO C has no cast from data to function */
    }
    return EMB_OK;
}
