/* picture.c - SVG to PNG and PDF with librsvg and cairo. Only the program needs them, the library
 * does not. */
#include <stdbool.h>
#include <stdio.h>

#include "cli.h"
#include "picture_dl.h"

enum { PNG_ZOOM = 2 }; /* pixels of a PNG per pixel of the SVG: sharp on a projector */

static cairo_status_t put(void *to, const unsigned char *bytes, unsigned n)
{
    return fwrite(bytes, 1, n, to) == n ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

static cairo_surface_t *surface_make(const struct emb_picture_calls *c, bool pdf, double width,
                                     double height, FILE *f)
{
    if (pdf) {
        /* 96 px are one inch are 72 points */
        cairo_surface_t *s =
            c->cairo_pdf_surface_create_for_stream(put, f, width * 0.75, height * 0.75);
        c->cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_CREATE_DATE, "");
        return s;
    }
    return c->cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)width * PNG_ZOOM,
                                         (int)height * PNG_ZOOM);
}

static enum emb_status draw(const struct emb_picture_calls *c, RsvgHandle *handle, bool pdf,
                            double width, double height, FILE *f, GError **problem,
                            cairo_status_t *st)
{
    cairo_surface_t *surface = surface_make(c, pdf, width, height, f);
    cairo_t *cr = c->cairo_create(surface);
    const double zoom = pdf ? 0.75 : (double)PNG_ZOOM;
    const RsvgRectangle all = {0.0, 0.0, width * zoom, height * zoom};
    const bool ok = handle != NULL && c->rsvg_handle_render_document(handle, cr, &all, problem);
    c->cairo_destroy(cr);
    *st = CAIRO_STATUS_SUCCESS;
    if (ok && !pdf) {
        *st = c->cairo_surface_write_to_png_stream(surface, put, f);
    }
    c->cairo_surface_finish(surface);
    *st = *st == CAIRO_STATUS_SUCCESS ? c->cairo_surface_status(surface) : *st;
    c->cairo_surface_destroy(surface);
    return ok && *st == CAIRO_STATUS_SUCCESS ? EMB_OK : EMB_ERR_IO;
}

enum emb_status emb_picture_write(const char *svg, size_t n, bool pdf, double width, double height,
                                  FILE *f, struct emb_err *err)
{
    struct emb_picture_calls c;
    enum emb_status st = emb_picture_open(&c, err);
    if (st != EMB_OK) {
        return st;
    }
    GError *problem = NULL;
    cairo_status_t drawn = CAIRO_STATUS_SUCCESS;
    RsvgHandle *handle = c.rsvg_handle_new_from_data((const guint8 *)svg, n, &problem);
    st = draw(&c, handle, pdf, width, height, f, &problem, &drawn);
    if (handle != NULL) {
        c.g_object_unref(handle);
    }
    if (st != EMB_OK) {
        emb_fail(err, drawn == CAIRO_STATUS_WRITE_ERROR ? EMB_ERR_IO : EMB_ERR_BUG, "picture",
                 "cannot be drawn: %s",
                 problem != NULL ? problem->message : c.cairo_status_to_string(drawn));
    }
    c.g_clear_error(&problem);
    return st;
}
