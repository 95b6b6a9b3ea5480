#include "netcdf_dl.h"

#include <dlfcn.h>
#include <string.h>

enum emb_status emb_netcdf_open(struct emb_netcdf *nc, struct emb_err *err)
{
    memset(nc, 0, sizeof *nc);
    nc->library = dlopen(EMB_NETCDF_SONAME, RTLD_NOW | RTLD_LOCAL);
    if (nc->library == NULL) {
        return emb_fail(err, EMB_ERR_IO, "NetCDF",
                        "%s cannot be loaded; install it (Debian: libnetcdf19), or export to .csv",
                        EMB_NETCDF_SONAME);
    }
    void *at;
#define EMB_NETCDF_FIND(name)                                                                      \
    if ((at = dlsym(nc->library, #name)) == NULL) {                                                \
        emb_netcdf_close(nc);                                                                      \
        return emb_fail(err, EMB_ERR_IO, "NetCDF", "%s lacks %s", EMB_NETCDF_SONAME, #name);       \
    }                                                                                              \
    memcpy(&nc->name, &at, sizeof at); /* ISO C has no cast from data to function */
    EMB_NETCDF_CALLS(EMB_NETCDF_FIND)
    return EMB_OK;
}

/* Left loaded: the HDF5 below it registers exit handlers that must not lose their code. */
void emb_netcdf_close(struct emb_netcdf *nc)
{
    nc->library = NULL;
}
