#include "picture_dl.h"

#include "emberpipe/library.h"

/* The libraries below librsvg are found through it. */
enum emb_status emb_picture_open(struct emb_picture_calls *calls, struct emb_err *err)
{
    static const struct emb_library rsvg = {"picture", EMB_RSVG_SONAME,
                                            "install it (Debian: librsvg2-2), or draw to .svg"};
#define EMB_PICTURE_NAME(name) #name,
    static const char *const names[] = {EMB_PICTURE_CALLS(EMB_PICTURE_NAME)};
    return emb_library_open(&rsvg, sizeof names / sizeof names[0], names, calls, err);
}
