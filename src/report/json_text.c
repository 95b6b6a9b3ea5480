/* json_text.c - one string of JSON, safe for any bytes. */
#include "write.h"

/* Length of a whole UTF-8 sequence at s, or 0: texts are cut at a byte limit, which can leave half
 * a character. */
static int sequence(const unsigned char *s)
{
    const int n = s[0] < 0x80                   ? 1
                  : s[0] >= 0xC2 && s[0] < 0xE0 ? 2
                  : (s[0] & 0xF0) == 0xE0       ? 3
                  : s[0] >= 0xF0 && s[0] < 0xF5 ? 4
                                                : 0;
    for (int i = 1; i < n; i++) {
        if ((s[i] & 0xC0) != 0x80) {
            return 0;
        }
    }
    if ((s[0] == 0xE0 && s[1] < 0xA0) || (s[0] == 0xED && s[1] > 0x9F) ||
        (s[0] == 0xF0 && s[1] < 0x90) || (s[0] == 0xF4 && s[1] > 0x8F)) {
        return 0; /* overlong, surrogate, or beyond Unicode */
    }
    return n;
}

/* The code point of a sequence of at most three bytes. */
static unsigned code(const unsigned char *p, int n)
{
    return n == 1   ? p[0]
           : n == 2 ? (p[0] & 0x1FU) << 6 | (p[1] & 0x3FU)
                    : (p[0] & 0x0FU) << 12 | (p[1] & 0x3FU) << 6 | (p[2] & 0x3FU);
}

/* What could end the element around it or a line of script, or start an entity or a comment. */
static bool ends_script(const unsigned char *p, int n)
{
    return *p == '<' || *p == '>' || *p == '&' ||
           (n == 3 && (code(p, n) == 0x2028 || code(p, n) == 0x2029));
}

void emb_json_text(const char *s, bool page, FILE *f)
{
    const unsigned char *p = (const unsigned char *)s;
    fputc('"', f);
    while (*p != '\0') {
        const int n = sequence(p);
        if (n == 0) {
            fputs("\\ufffd", f);
            p++;
            continue;
        }
        if (*p == '"' || *p == '\\') {
            fprintf(f, "\\%c", *p);
        } else if (*p < 0x20 || *p == 0x7F || (page && ends_script(p, n))) {
            fprintf(f, "\\u%04x", code(p, n));
        } else {
            fwrite(p, 1, (size_t)n, f);
        }
        p += n;
    }
    fputc('"', f);
}
