/* save.c - a case file appears whole and loadable, or not at all. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "emberpipe/config.h"
#include "emberpipe/quick.h"

static enum emb_status bytes_write(const char *file, const char *text, struct emb_err *err)
{
    FILE *f = fopen(file, "wbx");
    if (f == NULL) {
        return emb_fail(err, EMB_ERR_IO, file, "cannot be written: %s", strerror(errno));
    }
    const bool wrote = fputs(text, f) >= 0;
    if (fclose(f) != 0 || !wrote) {
        unlink(file);
        return emb_fail(err, EMB_ERR_IO, file, "cannot be written: %s", strerror(errno));
    }
    return EMB_OK;
}

/* link() refuses to take a name that exists, which a check beforehand could not promise. */
static enum emb_status name_take(const char *draft, const char *file, bool replace,
                                 struct emb_err *err)
{
    if (replace ? rename(draft, file) == 0 : link(draft, file) == 0) {
        return EMB_OK;
    }
    if (errno == EEXIST) {
        return emb_fail(err, EMB_ERR_IO, file,
                        "exists and was left as it is; choose another name, or --force replaces "
                        "it");
    }
    return emb_fail(err, EMB_ERR_IO, file, "cannot be written: %s", strerror(errno));
}

enum emb_status emb_quick_save(const char *file, const char *text, bool replace,
                               struct emb_err *err)
{
    char draft[1024];
    struct emb_case c;
    struct emb_err own = {EMB_OK, "", ""};
    if (snprintf(draft, sizeof draft, "%s.draft-%ld", file, (long)getpid()) >= (int)sizeof draft) {
        return emb_fail(err, EMB_ERR_IO, "", "the file name is too long");
    }
    enum emb_status st = bytes_write(draft, text, err);
    if (st != EMB_OK) {
        return st;
    }
    st = emb_config_load(draft, NULL, 0, &c, NULL, &own);
    if (st == EMB_OK) {
        emb_case_free(&c);
        st = name_take(draft, file, replace, err);
    } else {
        emb_fail(err, st, "", "%s; nothing was written", own.msg);
    }
    unlink(draft); /* after rename there is none left */
    return st;
}
