/* shelf.c - the folders of ready-made files. */
#include "emberpipe/shelf.h"

#include <ctype.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { N_FOLDER = 5, ROOM = 512 };

bool emb_shelf_name_ok(const char *name)
{
    for (const char *p = name; *p != '\0'; p++) {
        if (!isalnum((unsigned char)*p) && strchr("_-", *p) == NULL) {
            return false;
        }
    }
    return *name != '\0' && strlen(name) <= 60;
}

/* The program's own folder tells where its files are, wherever the installation was moved to. */
static void beside_program(const char *tail, char *folder, size_t size)
{
    char self[ROOM / 2];
    const ssize_t n = readlink("/proc/self/exe", self, sizeof self - 1);
    folder[0] = '\0';
    if (n > 0) {
        self[n] = '\0';
        char *slash = strrchr(self, '/');
        if (slash != NULL) {
            *slash = '\0';
            snprintf(folder, size, "%s/%s", self, tail);
        }
    }
}

/* Folder number i, or "" when there is none. */
static void folder_name(int i, char *folder, size_t size)
{
    const char *user = getenv("EMBERPIPE_CONFIGS");
    folder[0] = '\0';
    switch (i) {
    case 0:
        snprintf(folder, size, "%s", user != NULL ? user : "");
        break;
    case 1:
        snprintf(folder, size, "configs");
        break;
    case 2:
        beside_program("../configs", folder, size);
        break;
    case 3:
        beside_program("../share/emberpipe/configs", folder, size);
        break;
    default:
        snprintf(folder, size, "%s", EMB_DATA_DIR);
        break;
    }
}

bool emb_shelf_find(const char *kind, const char *name, char *file, size_t size)
{
    char folder[ROOM];
    if (!emb_shelf_name_ok(name)) {
        return false;
    }
    for (int i = 0; i < N_FOLDER; i++) {
        folder_name(i, folder, sizeof folder);
        const int n = snprintf(file, size, "%s/%s/%s.yaml", folder, kind, name);
        if (folder[0] != '\0' && n > 0 && (size_t)n < size && access(file, R_OK) == 0) {
            return true;
        }
    }
    return false;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Adds a name that is not there yet; false: out of memory. */
static bool name_add(char ***names, size_t *n, const char *name, size_t length)
{
    for (size_t i = 0; i < *n; i++) {
        if (strncmp((*names)[i], name, length) == 0 && (*names)[i][length] == '\0') {
            return true;
        }
    }
    char **grown = realloc(*names, (*n + 1) * sizeof *grown);
    if (grown == NULL) {
        return false;
    }
    *names = grown;
    grown[*n] = malloc(length + 1);
    if (grown[*n] == NULL) {
        return false;
    }
    memcpy(grown[*n], name, length);
    grown[*n][length] = '\0';
    (*n)++;
    return true;
}

static bool folder_scan(const char *folder, const char *kind, char ***names, size_t *n)
{
    static const char tail[] = ".yaml";
    char path[ROOM + 80];
    bool ok = true;
    snprintf(path, sizeof path, "%s/%s", folder, kind);
    DIR *d = opendir(path);
    for (struct dirent *e; ok && d != NULL && (e = readdir(d)) != NULL;) {
        const size_t length = strlen(e->d_name), cut = sizeof tail - 1;
        if (length > cut && strcmp(e->d_name + length - cut, tail) == 0) {
            ok = name_add(names, n, e->d_name, length - cut);
        }
    }
    if (d != NULL) {
        closedir(d);
    }
    return ok;
}

char **emb_shelf_names(const char *kind, size_t *n)
{
    char folder[ROOM], **names = calloc(1, sizeof *names);
    bool ok = names != NULL;
    *n = 0;
    for (int i = 0; ok && i < N_FOLDER; i++) {
        folder_name(i, folder, sizeof folder);
        ok = folder[0] == '\0' || folder_scan(folder, kind, &names, n);
    }
    if (!ok) {
        emb_shelf_free(names, *n);
        return NULL;
    }
    qsort(names, *n, sizeof *names, by_name);
    return names;
}

void emb_shelf_free(char **names, size_t n)
{
    for (size_t i = 0; names != NULL && i < n; i++) {
        free(names[i]);
    }
    free(names);
}
