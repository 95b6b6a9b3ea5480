#include "netcdf_dl.h"

#include "emberpipe/library.h"

enum emb_status emb_netcdf_open(struct emb_netcdf *nc, struct emb_err *err)
{
    static const struct emb_library netcdf = {
        "NetCDF", EMB_NETCDF_SONAME, "install it (Debian: libnetcdf19), or export to .csv"};
#define EMB_NETCDF_NAME(name) #name,
    static const char *const names[] = {EMB_NETCDF_CALLS(EMB_NETCDF_NAME)};
    return emb_library_open(&netcdf, sizeof names / sizeof names[0], names, nc, err);
}
