/* version.h - which library this is. A program compiled against one ABI number must not run with a
 * library of another: compare EMB_ABI with emb_abi() at its start if it loads the library by hand;
 * the dynamic linker does it by the name libemberpipe.so.N otherwise. */
#ifndef EMB_VERSION_H
#define EMB_VERSION_H
#define EMB_ABI 0 /* raised with every change of a public struct or call; 0: nothing promised yet  \
                   */
int emb_abi(void);
const char *emb_version(void); /* "0.1.0" */
#endif
