/* netcdf_dl.h - the NetCDF library, loaded when a file is written and not before. */
#ifndef EMB_NETCDF_DL_H
#define EMB_NETCDF_DL_H
#include <netcdf.h>
#include "emberpipe/status.h"

#define EMB_NETCDF_CALLS(X)                                                                        \
    X(nc_create)                                                                                   \
    X(nc_def_dim)                                                                                  \
    X(nc_def_var) X(nc_put_att_text) X(nc_put_att_int) X(nc_put_att_double) X(nc_put_att_float)    \
        X(nc_enddef) X(nc_put_var_double) X(nc_put_var_int) X(nc_put_var_string)                   \
            X(nc_put_vara_float) X(nc_close) X(nc_strerror)

struct emb_netcdf {
#define EMB_NETCDF_MEMBER(name) __typeof__(&name) name;
    EMB_NETCDF_CALLS(EMB_NETCDF_MEMBER)
};
enum emb_status emb_netcdf_open(struct emb_netcdf *nc, struct emb_err *err);
#endif
