/* assert_close.h - compare a double with what it should be: |got - want| <= atol + rtol |want|. */
#ifndef EMB_ASSERT_CLOSE_H
#define EMB_ASSERT_CLOSE_H

#define assert_close(got, want, rtol, atol)                                                        \
    emb_assert_close((got), (want), (rtol), (atol), #got, __FILE__, __LINE__)
#define assert_finite(got) emb_assert_finite((got), #got, __FILE__, __LINE__)

/* Stops the test when out of tolerance or not finite; atol has the unit of got. */
void emb_assert_close(double got, double want, double rtol, double atol, const char *what,
                      const char *file, int line);
void emb_assert_finite(double got, const char *what, const char *file, int line);
#endif
