/* picture_dl.h - librsvg with the cairo and GLib below it, loaded when a picture is written and not
 * before: some fifty libraries. */
#ifndef EMB_PICTURE_DL_H
#define EMB_PICTURE_DL_H
#include <cairo-pdf.h>
#include <librsvg/rsvg.h>
#include "emberpipe/status.h"

#define EMB_PICTURE_CALLS(X)                                                                       \
    X(rsvg_handle_new_from_data)                                                                   \
    X(rsvg_handle_render_document)                                                                 \
    X(cairo_pdf_surface_create_for_stream)                                                         \
    X(cairo_pdf_surface_set_metadata)                                                              \
    X(cairo_image_surface_create)                                                                  \
    X(cairo_create)                                                                                \
    X(cairo_destroy)                                                                               \
    X(cairo_surface_write_to_png_stream)                                                           \
    X(cairo_surface_finish)                                                                        \
    X(cairo_surface_status)                                                                        \
    X(cairo_surface_destroy) X(cairo_status_to_string) X(g_object_unref) X(g_clear_error)

struct emb_picture_calls {
#define EMB_PICTURE_MEMBER(name) __typeof__(&name) name;
    EMB_PICTURE_CALLS(EMB_PICTURE_MEMBER)
};
enum emb_status emb_picture_open(struct emb_picture_calls *calls, struct emb_err *err);
#endif
