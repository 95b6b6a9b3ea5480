/* digest.h - FNV-1a, 64 bit: tells that an input has changed, not who changed it. */
#ifndef EMB_DIGEST_H
#define EMB_DIGEST_H
#include <stddef.h>
static inline unsigned long long emb_digest_add(unsigned long long h, const void *bytes, size_t n)
{
    const unsigned char *p = bytes;
    h = h == 0 ? 14695981039346656037ULL
               : h; /* offset basis and prime: RFC 9923 (FNV), from memory */
    for (size_t i = 0; i < n; i++) {
        h = (h ^ p[i]) * 1099511628211ULL;
    }
    return h;
}
#endif
