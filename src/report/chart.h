/* chart.h - shared by the pictures of studies. Private to the report room. */
#ifndef EMB_REPORT_CHART_H
#define EMB_REPORT_CHART_H
#include <stdio.h>
#include "plot.h"

/* Opens the picture with its title; a title that is too long for the width gets smaller. */
void emb_chart_head(const char *title, double width, double height, FILE *f);
/* Text at a place [px]; anchor: "start", "middle", "end". It shrinks to fit into `room` [px]. */
void emb_chart_text(const char *s, double x, double y, double size, double room, const char *anchor,
                    const char *more, FILE *f);
#endif
