"""Small line plots as SVG text, enough for a report: axes, grid, legend, lines, marks, bands."""
import math

import numpy as np

W, H, LEFT, RIGHT, TOP, BOTTOM = 620, 340, 66, 14, 34, 48
COLOURS = ["#1b6ca8", "#c2452d", "#3a7d44", "#7a4fa3", "#a07400", "#4d4d4d"]


def _ticks(lo, hi, n=6):
    span = hi - lo
    step = 10.0 ** math.floor(math.log10(span / n))
    step *= next(m for m in (1, 2, 5, 10) if span / (step * m) <= n)
    first = math.ceil(lo / step - 1e-9)
    return [i * step for i in range(first, int(math.floor(hi / step + 1e-9)) + 1)]


def _log_ticks(lo, hi):
    """Decades, and 2 and 5 between them where there are few."""
    marks = (0.0,) if hi - lo > 2.0 else (0.0, math.log10(2), math.log10(5))
    return [d + m for d in range(math.floor(lo), math.ceil(hi) + 1) for m in marks if lo <= d + m <= hi]


def _label(v):
    return f"{v:.6g}" if 1e-4 <= abs(v) < 1e6 or v == 0 else f"{v:.0e}"


def _esc(s):
    return s.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


class Plot:
    def __init__(self, title, x, y, log_y=False, log_x=False):
        self.title, self.x, self.y, self.log_x, self.log_y = title, x, y, log_x, log_y
        self.items, self.colours = [], []

    def _add(self, item, same=False):
        """same: the colour of the item before, which it is to be compared with."""
        self.colours.append(self.colours[-1] if same else (self.colours[-1] + 1) % len(COLOURS) if self.colours else 0)
        self.items.append(item)
        return self

    def line(self, x, y, name, dashed=False):
        return self._add(("line", np.asarray(x, float), np.asarray(y, float), name, dashed))

    def marks(self, x, y, name, same=False):
        return self._add(("marks", np.asarray(x, float), np.asarray(y, float), name, False), same)

    def band(self, x, low, high, name):
        """A published range at each x."""
        return self._add(("band", np.asarray(x, float), (np.asarray(low, float), np.asarray(high, float)), name, False))

    def _range(self):
        xs = np.concatenate([i[1] for i in self.items])
        ys = np.concatenate([np.concatenate(i[2]) if i[0] == "band" else i[2] for i in self.items])
        xs, ys = xs[np.isfinite(xs)], ys[np.isfinite(ys)]
        if self.log_y:
            ys = np.log10(ys[ys > 0])
        if self.log_x:
            xs = np.log10(xs[xs > 0])
        x0, x1, y0, y1 = xs.min(), xs.max(), ys.min(), ys.max()
        if x1 <= x0:
            x0, x1 = x0 - 0.5, x1 + 0.5
        pad = 0.06 * (y1 - y0) if y1 > y0 else max(abs(y1), 1.0) * 0.05
        return x0, x1, y0 - pad, y1 + pad

    def svg(self):
        x0, x1, y0, y1 = self._range()
        tall = H + 16 * len(self.items)  # the legend stands below, where it hides nothing

        def px(v):
            v = np.log10(v) if self.log_x else v
            return LEFT + (v - x0) / (x1 - x0) * (W - LEFT - RIGHT)

        def py(v):
            v = np.log10(np.maximum(v, 1e-300)) if self.log_y else v
            return H - BOTTOM - (v - y0) / (y1 - y0) * (H - TOP - BOTTOM)

        o = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {W} {tall}" width="{W}" height="{tall}" '
             f'font-family="sans-serif" font-size="11" role="img" aria-label="{_esc(self.title)}">',
             f'<rect width="{W}" height="{tall}" fill="#fff"/>',
             f'<text x="{LEFT}" y="18" font-size="13" font-weight="bold">{_esc(self.title)}</text>']
        for v in _log_ticks(x0, x1) if self.log_x else _ticks(x0, x1):
            p = LEFT + (v - x0) / (x1 - x0) * (W - LEFT - RIGHT)
            o.append(f'<path d="M{p:.1f} {TOP}V{H - BOTTOM}" stroke="#e2e2e2"/>'
                     f'<text x="{p:.1f}" y="{H - BOTTOM + 15}" text-anchor="middle">{_label(10.0**v if self.log_x else v)}</text>')
        for v in _log_ticks(y0, y1) if self.log_y else _ticks(y0, y1):
            p = H - BOTTOM - (v - y0) / (y1 - y0) * (H - TOP - BOTTOM)
            o.append(f'<path d="M{LEFT} {p:.1f}H{W - RIGHT}" stroke="#e2e2e2"/>'
                     f'<text x="{LEFT - 6}" y="{p + 4:.1f}" text-anchor="end">{_label(10.0**v if self.log_y else v)}</text>')
        o.append(f'<path d="M{LEFT} {TOP}V{H - BOTTOM}H{W - RIGHT}" fill="none" stroke="#333"/>'
                 f'<text x="{(LEFT + W - RIGHT) / 2}" y="{H - 12}" text-anchor="middle">{_esc(self.x)}</text>'
                 f'<text transform="translate(14 {(TOP + H - BOTTOM) / 2}) rotate(-90)" text-anchor="middle">{_esc(self.y)}</text>')
        legend = []
        for n, (kind, x, y, name, dashed) in enumerate(self.items):
            c = COLOURS[self.colours[n]]
            if kind == "band":
                for a, lo, hi in zip(x, *y):
                    o.append(f'<path d="M{px(a):.1f} {py(lo):.1f}V{py(hi):.1f}" stroke="{c}" stroke-width="7" '
                             'stroke-opacity=".35"/>')
            elif kind == "marks":
                o += [f'<circle cx="{px(a):.1f}" cy="{py(b):.1f}" r="3.4" fill="none" stroke="{c}" stroke-width="1.6"/>'
                      for a, b in zip(x, y) if math.isfinite(b)]
            else:
                ok = np.isfinite(y)
                path = "L".join(f"{px(a):.1f} {py(b):.1f}" for a, b in zip(x[ok], y[ok]))
                dash = ' stroke-dasharray="6 4"' if dashed else ""
                o.append(f'<path d="M{path}" fill="none" stroke="{c}" stroke-width="1.8"{dash}/>')
            legend.append((c, kind, dashed, name))
        x = LEFT
        for n, (c, kind, dashed, name) in enumerate(legend):
            y = H + 6 + 16 * n
            if kind == "marks":
                o.append(f'<circle cx="{x + 10}" cy="{y - 4}" r="3.4" fill="none" stroke="{c}" stroke-width="1.6"/>')
            else:
                style = f'stroke="{c}" stroke-width="{7 if kind == "band" else 1.8}"' + (' stroke-opacity=".35"' if kind == "band" else "")
                o.append(f'<path d="M{x} {y - 4}h20" {style}{" stroke-dasharray=" + chr(34) + "6 4" + chr(34) if dashed else ""}/>')
            o.append(f'<text x="{x + 26}" y="{y}">{_esc(name)}</text>')
        return "\n".join(o + ["</svg>"])
