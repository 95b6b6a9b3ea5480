#include "chart.h"

#include <math.h>

#include "emberpipe/words.h"

/* Mean width of a letter of a sans-serif face, of its size; judgement, a little wide. */
static const double letter = 0.58;

void emb_chart_text(const char *s, double x, double y, double size, double room, const char *anchor,
                    const char *more, FILE *f)
{
    const double need = letter * size * (double)emb_text_width(s);
    const double fit = need > room && room > 0.0 ? fmax(size * room / need, 6.0) : size;
    fprintf(f, "<text x=\"%.1f\" y=\"%.1f\" font-size=\"%.1f\" text-anchor=\"%s\" %s>", x, y, fit,
            anchor, more);
    emb_svg_text(s, f);
    fputs("</text>\n", f);
}

void emb_chart_head(const char *title, double width, double height, FILE *f)
{
    fprintf(f,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.0f\" height=\"%.0f\" "
            "viewBox=\"0 0 %.0f %.0f\" font-size=\"14\" role=\"img\" "
            "font-family=\"DejaVu Sans, Noto Sans, Helvetica, Arial, sans-serif\">\n<title>",
            width, height, width, height);
    emb_svg_text(title, f);
    fprintf(f,
            "</title>\n<defs><pattern id=\"hatch\" width=\"7\" height=\"7\" "
            "patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"7\" "
            "height=\"7\" fill=\"#f4f1ea\"/><path d=\"M0 0V7\" stroke=\"#cfc9bb\" "
            "stroke-width=\"2.5\"/></pattern></defs>\n"
            "<rect width=\"%.0f\" height=\"%.0f\" fill=\"#fff\"/>\n",
            width, height);
    emb_chart_text(title, 18.0, 30.0, 20.0, width - 36.0, "start", "font-weight=\"bold\"", f);
}
