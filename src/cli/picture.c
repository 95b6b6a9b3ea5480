/* picture.c - SVG to PNG and PDF with librsvg and cairo. Only the program needs them, the library
 * does not. */
#include <cairo-pdf.h>
#include <librsvg/rsvg.h>

#include "cli.h"

enum { PNG_ZOOM = 2 }; /* pixels of a PNG per pixel of the SVG: sharp on a projector */

static cairo_status_t put(void *to, const unsigned char *bytes, unsigned n)
{
    return fwrite(bytes, 1, n, to) == n ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

static cairo_surface_t *surface_make(bool pdf, double width, double height, FILE *f)
{
    if (pdf) {
        /* 96 px are one inch are 72 points */
        cairo_surface_t *s = cairo_pdf_surface_create_for_stream(put, f, width * 0.75, height * 0.75);
        cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_CREATE_DATE, "");
        return s;
    }
    return cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)width * PNG_ZOOM,
                                      (int)height * PNG_ZOOM);
}

enum emb_status emb_picture_write(const char *svg, size_t n, bool pdf, double width, double height,
                                  FILE *f, struct emb_err *err)
{
    GError *problem = NULL;
    RsvgHandle *handle = rsvg_handle_new_from_data((const guint8 *)svg, n, &problem);
    cairo_surface_t *surface = surface_make(pdf, width, height, f);
    cairo_t *cr = cairo_create(surface);
    const double zoom = pdf ? 0.75 : (double)PNG_ZOOM;
    const RsvgRectangle all = {0.0, 0.0, width * zoom, height * zoom};
    bool ok = handle != NULL && rsvg_handle_render_document(handle, cr, &all, &problem);
    cairo_destroy(cr);
    cairo_status_t st = CAIRO_STATUS_SUCCESS;
    if (ok && !pdf) {
        st = cairo_surface_write_to_png_stream(surface, put, f);
    }
    cairo_surface_finish(surface);
    st = st == CAIRO_STATUS_SUCCESS ? cairo_surface_status(surface) : st;
    cairo_surface_destroy(surface);
    if (handle != NULL) {
        g_object_unref(handle);
    }
    if (!ok || st != CAIRO_STATUS_SUCCESS) {
        emb_fail(err, st == CAIRO_STATUS_WRITE_ERROR ? EMB_ERR_IO : EMB_ERR_BUG, "picture",
                 "cannot be drawn: %s",
                 problem != NULL ? problem->message : cairo_status_to_string(st));
    }
    g_clear_error(&problem);
    return !ok || st != CAIRO_STATUS_SUCCESS ? EMB_ERR_IO : EMB_OK;
}
