/* folder.c - all reports into one folder, whole or not at all.
 *
 * The files are written into a new folder beside the wanted one, forced to disk, and renamed into
 * place. A folder in the way is only replaced if it holds nothing but files that this program
 * writes. */
#define _XOPEN_SOURCE 700 /* realpath */
#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "emberpipe/report.h"

enum { PATH_ROOM = 4096, TRIES = 100 };
static const char case_copy[] = "case.yaml";

struct target {
    char dir[PATH_ROOM], side[PATH_ROOM];
    bool exists, empty;
};

static const char *known_name(int i)
{
    return i < EMB_N_REPORT ? emb_report_writers[i].file : case_copy;
}

static bool is_known(const char *name)
{
    for (int i = 0; i <= EMB_N_REPORT; i++) {
        if (strcmp(name, known_name(i)) == 0) {
            return true;
        }
    }
    return false;
}

static int join(char *out, const char *dir, const char *name)
{
    const int n = snprintf(out, PATH_ROOM, "%s%s", dir, name);
    return n > 0 && n < PATH_ROOM ? 0 : -1;
}

/* Removes a folder of ours: known files, then the folder, which fails if anything else is in it. */
static void remove_ours(const char *dir)
{
    char path[PATH_ROOM], name[64];
    for (int i = 0; i <= EMB_N_REPORT; i++) {
        snprintf(name, sizeof name, "/%s", known_name(i));
        if (join(path, dir, name) == 0) {
            unlink(path);
        }
    }
    rmdir(dir);
}

static enum emb_status look_inside(struct target *t, bool force, struct emb_err *err)
{
    DIR *d = opendir(t->dir);
    enum emb_status st = EMB_OK;
    if (d == NULL) {
        return emb_fail(err, EMB_ERR_IO, t->dir, "cannot be used as a folder: %s", strerror(errno));
    }
    t->empty = true;
    for (const struct dirent *e = readdir(d); e != NULL && st == EMB_OK; e = readdir(d)) {
        if (strcmp(e->d_name, ".") == 0 || strcmp(e->d_name, "..") == 0) {
            continue;
        }
        t->empty = false;
        if (!force) {
            st = emb_fail(err, EMB_ERR_IO, t->dir,
                          "the folder is not empty; choose another or add --force to replace it");
        } else if (!is_known(e->d_name)) {
            st = emb_fail(err, EMB_ERR_IO, t->dir,
                          "holds '%s', which is no result of this program; nothing was replaced",
                          e->d_name);
        }
    }
    closedir(d);
    return st;
}

static enum emb_status resolve(const char *dir, bool force, struct target *t, struct emb_err *err)
{
    struct stat info;
    char here[PATH_ROOM];
    memset(t, 0, sizeof *t);
    if (dir[0] == '\0' || join(t->dir, dir, "") != 0 || strlen(dir) > PATH_ROOM - 32) {
        return emb_fail(err, EMB_ERR_IO, "--out", "the folder needs a name of usable length");
    }
    for (size_t n = strlen(t->dir); n > 1 && t->dir[n - 1] == '/'; n--) {
        t->dir[n - 1] = '\0';
    }
    t->exists = lstat(t->dir, &info) == 0;
    if (!t->exists) {
        return EMB_OK;
    }
    char *real = realpath(t->dir, NULL); /* so that a link keeps pointing at its folder */
    const bool fits = real != NULL && strlen(real) < PATH_ROOM - 32 && join(t->dir, real, "") == 0;
    free(real);
    if (!fits) {
        return emb_fail(err, EMB_ERR_IO, dir, "cannot be followed: %s", strerror(errno));
    }
    if (strcmp(t->dir, "/") == 0 ||
        (getcwd(here, sizeof here) != NULL && strcmp(here, t->dir) == 0)) {
        return emb_fail(err, EMB_ERR_IO, dir, "name a new folder, not the one you are in");
    }
    return look_inside(t, force, err);
}

static enum emb_status make_beside(struct target *t, const char *word, struct emb_err *err)
{
    for (int i = 0; i < TRIES; i++) {
        snprintf(t->side, sizeof t->side, "%.*s.%s-%d", PATH_ROOM - 32, t->dir, word, i);
        if (mkdir(t->side, 0777) == 0) {
            return EMB_OK;
        }
        if (errno != EEXIST) {
            break;
        }
    }
    return emb_fail(err, EMB_ERR_IO, t->dir, "the folder cannot be made: %s", strerror(errno));
}

enum emb_status emb_folder_check(const char *dir, bool force, struct emb_err *err)
{
    struct target t;
    enum emb_status st = resolve(dir, force, &t, err);
    if (st == EMB_OK) {
        st = make_beside(&t, "check", err);
    }
    if (st == EMB_OK) {
        rmdir(t.side);
    }
    return st;
}

static enum emb_status close_file(FILE *f, const char *path, enum emb_status st,
                                  struct emb_err *err)
{
    if (st == EMB_OK) {
        st = emb_report_flush(f, path, err);
    }
    if (st == EMB_OK && fsync(fileno(f)) != 0) {
        st = emb_fail(err, EMB_ERR_IO, path, "cannot write: %s", strerror(errno));
    }
    if (fclose(f) != 0 && st == EMB_OK) {
        st = emb_fail(err, EMB_ERR_IO, path, "cannot write: %s", strerror(errno));
    }
    return st;
}

static FILE *create(const char *dir, const char *name, char path[PATH_ROOM], struct emb_err *err)
{
    char tail[64];
    snprintf(tail, sizeof tail, "/%s", name);
    FILE *f = join(path, dir, tail) == 0 ? fopen(path, "wbx") : NULL;
    if (f == NULL) {
        emb_fail(err, EMB_ERR_IO, path, "cannot be made: %s", strerror(errno));
    }
    return f;
}

static enum emb_status copy_case(const char *dir, const struct emb_report_options *o,
                                 struct emb_err *err)
{
    char path[PATH_ROOM], block[4096];
    FILE *from = fopen(o->case_file, "rb");
    if (from == NULL) {
        return emb_fail(err, EMB_ERR_IO, o->case_file, "cannot be read again: %s", strerror(errno));
    }
    FILE *to = create(dir, case_copy, path, err);
    if (to == NULL) {
        fclose(from);
        return EMB_ERR_IO;
    }
    enum emb_status st = EMB_OK;
    for (size_t n = fread(block, 1, sizeof block, from); n > 0;
         n = fread(block, 1, sizeof block, from)) {
        fwrite(block, 1, n, to);
    }
    if (ferror(from)) {
        st = emb_fail(err, EMB_ERR_IO, o->case_file, "cannot be read again");
    }
    for (size_t i = 0; i < o->n_set; i++) {
        fprintf(to, "%s# run with --set '", i == 0 ? "\n" : "");
        for (const char *p = o->sets[i]; *p != '\0'; p++) {
            fputc(*p == '\n' || *p == '\r' ? ' ' : *p, to); /* must stay one comment line */
        }
        fputs("'\n", to);
    }
    fclose(from);
    return close_file(to, path, st, err);
}

static enum emb_status fill(const char *dir, const struct emb_result *r,
                            const struct emb_report_options *o, struct emb_err *err)
{
    enum emb_status st = EMB_OK;
    char path[PATH_ROOM];
    for (int i = 0; i < EMB_N_REPORT && st == EMB_OK; i++) {
        FILE *f = create(dir, emb_report_writers[i].file, path, err);
        if (f == NULL) {
            return EMB_ERR_IO;
        }
        emb_report_writers[i].write(r, o, f);
        st = close_file(f, path, EMB_OK, err);
    }
    if (st == EMB_OK && o->case_file != NULL) {
        st = copy_case(dir, o, err);
    }
    return st;
}

/* The wanted name now belongs to t->side. A folder in the way steps aside first and comes back if
 * that fails. */
static enum emb_status put_in_place(const struct target *t, struct emb_err *err)
{
    struct target old = *t;
    const bool aside = t->exists && !t->empty;
    if (aside) {
        enum emb_status st = make_beside(&old, "old", err);
        if (st != EMB_OK) {
            return st;
        }
        if (rename(t->dir, old.side) != 0) { /* onto the empty folder just made */
            st = emb_fail(err, EMB_ERR_IO, t->dir, "cannot be replaced: %s", strerror(errno));
            rmdir(old.side);
            return st;
        }
    }
    if (rename(t->side, t->dir) != 0) {
        const enum emb_status st =
            emb_fail(err, EMB_ERR_IO, t->dir, "cannot be put in place: %s", strerror(errno));
        if (aside) {
            (void)rename(old.side, t->dir);
        }
        return st;
    }
    if (aside) {
        remove_ours(old.side);
    }
    return EMB_OK;
}

enum emb_status emb_folder_write(const char *dir, bool force, const struct emb_result *r,
                                 const struct emb_report_options *o, struct emb_err *err)
{
    struct target t;
    enum emb_status st = resolve(dir, force, &t, err);
    if (st == EMB_OK) {
        st = make_beside(&t, "partial", err);
    }
    if (st != EMB_OK) {
        return st;
    }
    st = fill(t.side, r, o, err);
    if (st == EMB_OK) {
        st = put_in_place(&t, err);
    }
    if (st != EMB_OK) {
        remove_ours(t.side);
    }
    return st;
}
