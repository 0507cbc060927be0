"""Small pictures of what each measurement of a coupon is, for the form and for the page."""

from __future__ import annotations

import math
from collections.abc import Callable

from lagline.cards.svg import PAPER, SCREEN, Ink, Sheet
from lagline.records.geometry import Arc, Point

VIEW = (0.0, 0.0, 120.0, 72.0)
_T0, _T1 = 22.0, 46.0  # bottom and top of the plate in a section
_SIZE = 9.0
_BIG = 21.0  # 8 pt on the sheet, where a picture is 9.8 mm tall


def _measure(s: Sheet, a: Point, b: Point, text: str = "", at: Point | None = None) -> None:
    """Draw what is measured: a line with heads at both ends, and its letter."""
    ink = s.ink
    s.polyline((a, b), "measure", ink.cut, 1.4)
    turn = math.atan2(b[1] - a[1], b[0] - a[0])
    room = min(4.0, math.dist(a, b) / 2.2)
    for p, w in ((a, turn + math.pi), (b, turn)):
        wings = [(p[0] - room * math.cos(w + k), p[1] - room * math.sin(w + k)) for k in (0.45, -0.45)]
        s.polygon((p, *wings), "measure", ink.cut)
    if text:
        s.text(text, at or ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2 + 7), _SIZE, ink.text, "text", bold=True)


def _out_measure(s: Sheet, a: Point, b: Point, text: str, at: Point) -> None:
    """Draw a narrow width with its heads outside."""
    ink = s.ink
    for p, way in ((a, -1), (b, 1)):
        s.polyline((p, (p[0] + way * 12, p[1])), "measure", ink.cut, 1.4)
        s.polygon((p, (p[0] + way * 4.5, p[1] + 2.2), (p[0] + way * 4.5, p[1] - 2.2)), "measure", ink.cut)
    s.text(text, at, _SIZE, ink.text, "text", bold=True)


def _steel(s: Sheet, points: tuple[Point, ...]) -> None:
    s.polygon(points, "steel", s.ink.kept if s.ink is SCREEN else "#d9d9d9", stroke=s.ink.line, stroke_width=1)


def _section(s: Sheet, lean: float = 3.0, gap: float = 9.0) -> tuple[float, float, float, float]:
    """Draw both pieces of a cut; return the left and right edge at the top, then at the bottom."""
    m = 66.0
    tl, tr, bl, br = m - gap, m + gap, m - gap + lean, m + gap - lean
    _steel(s, ((4, _T0), (bl, _T0), (tl, _T1), (4, _T1)))
    _steel(s, ((br, _T0), (116, _T0), (116, _T1), (tr, _T1)))
    return tl, tr, bl, br


def _drop_line(s: Sheet, a: Point, b: Point) -> None:
    s.polyline((a, b), "lead", s.ink.line, 0.6, stroke_dasharray="2 2")


def _kerf(s: Sheet) -> None:
    tl, tr, bl, br = _section(s)
    for x in (tl, tr):
        _drop_line(s, (x, _T1), (x, _T1 + 8))
    for x in (bl, br):
        _drop_line(s, (x, _T0), (x, _T0 - 8))
    _out_measure(s, (tl, _T1 + 6), (tr, _T1 + 6), "top", ((tl + tr) / 2, _T1 + 17))
    _out_measure(s, (bl, _T0 - 6), (br, _T0 - 6), "bottom", ((bl + br) / 2, _T0 - 16))


def _guide(s: Sheet) -> None:
    tl, tr, _, _ = _section(s)
    edge = 26.0
    s.polygon(((4, _T1), (edge, _T1), (edge, _T1 + 7), (4, _T1 + 7)), "guide", s.ink.guide_face, stroke=s.ink.guide,
              stroke_width=1.2)  # fmt: skip
    for x, y in ((edge, 0), (tl, 0), (tr, 0)):
        _drop_line(s, (x, _T1), (x, (12 if x != tl else 4) + y))
    _measure(s, (edge, 14), (tl, 14), "near", ((edge + tl) / 2, 8.0))
    _drop_line(s, (edge, _T1), (edge, 66))
    _drop_line(s, (tr, _T1), (tr, 66))
    _measure(s, (edge, 62), (tr, 62), "far", (tr + 16, 62))


def _gap(s: Sheet) -> None:
    """Both ways a face can lean under a square, side by side."""
    for x0, out in ((0.0, True), (61.0, False)):
        top, low = (x0 + 26, x0 + 40) if out else (x0 + 40, x0 + 26)
        _steel(s, ((x0 + 2, 6), (low, 6), (top, 44), (x0 + 2, 44)))
        x = x0 + 40
        s.polygon(((x0 + 6, 44), (x0 + 6, 51), (x + 6, 51), (x + 6, 2), (x, 2), (x, 44)), "square", s.ink.guide_face,
                  stroke=s.ink.guide, stroke_width=1.2)  # fmt: skip
        _out_measure(s, (x - 12, 38.0 if out else 12.0), (x, 38.0 if out else 12.0), "", (x, 60))
        s.text("+" if out else "\N{MINUS SIGN}", (x0 + 26, 62), _BIG, s.ink.text, "text", bold=True)


def _lag(s: Sheet) -> None:
    _steel(s, ((6, 14), (114, 14), (114, 50), (6, 50)))
    for x in range(30, 112, 9):
        points = [(x - 12 * (k / 10) ** 1.8, 50 - 36 * k / 10) for k in range(11)]
        s.polyline(points, "lag", s.ink.line, 1)
    s.polyline(((60, 60), (88, 60)), "travel", s.ink.text, 1.4)
    s.polygon(((92, 60), (86, 63), (86, 57)), "travel", s.ink.text)
    s.text("travel", (40, 60), 8, s.ink.text, "text")
    _drop_line(s, (66, 50), (66, 6))
    _out_measure(s, (54, 9), (66, 9), "lag", (92, 7))


def _dross(kind: str) -> Callable[[Sheet], None]:
    def draw(s: Sheet) -> None:
        _, _, bl, br = _section(s, 2.0, 8.0)
        hot = s.ink.hatch_bold
        if kind == "slow":
            for x, r in ((bl - 9, 4), (bl - 3, 6), (br + 3, 6.5), (br + 9, 4.5), (bl - 1, 3.5)):
                s.dot((x, _T0 - r * 0.6), r, "dross", fill=hot, stroke=s.ink.line, stroke_width=0.8)
            s.text("slow", (60, 61), _BIG, s.ink.text, "text", bold=True)
        elif kind == "fast":
            for x in (bl - 2.0, br + 2.0):
                s.dot((x, _T0 - 1.2), 2.6, "dross", fill=hot, stroke=s.ink.line, stroke_width=0.8)
            s.text("fast", (60, 61), _BIG, s.ink.text, "text", bold=True)
        else:
            s.text("clean", (60, 62), 8, s.ink.text, "text")
        if kind != "none":
            low = _T0 - (9.4 if kind == "slow" else 3.8)
            _drop_line(s, (bl - 14, _T0), (24, _T0))
            _drop_line(s, (bl - 3, low), (24, low))
            s.polyline(((26, _T0 + 8), (26, _T0)), "measure", s.ink.cut, 1.4)
            s.polyline(((26, low), (26, low - 8)), "measure", s.ink.cut, 1.4)
            for y, way in ((_T0, 1), (low, -1)):
                s.polygon(((26, y), (23.8, y + way * 4), (28.2, y + way * 4)), "measure", s.ink.cut)
            s.text("height", (13.5, 8), 6.5, s.ink.text, "text")

    return draw


def _circle_of(at: Point, r: float) -> str:
    return Sheet.path_data((Arc(at, r, 0.0, 2 * math.pi),), close=True)


def _crater(s: Sheet) -> None:
    _steel(s, ((4, 6), (116, 6), (116, 66), (4, 66)))
    s.path(_circle_of((60, 30), 17), "crater", fill=s.ink.hatch, stroke=s.ink.line, stroke_width=1)
    s.path(_circle_of((60, 30), 7), "hole", fill=s.ink.ground, stroke=s.ink.line, stroke_width=1)
    _measure(s, (43, 30), (77, 30))
    s.text("widest, at the top", (60, 57), 9, s.ink.text, "text", bold=True)


def _round(s: Sheet) -> None:
    _steel(s, ((4, 4), (58, 4), (58, 68), (4, 68)))
    s.path(_circle_of((31, 32), 22), "hole", fill=s.ink.ground, stroke=s.ink.line, stroke_width=1)
    _measure(s, (9, 32), (53, 32), "hole", (31, 40))
    s.path(_circle_of((90, 32), 20), "disc", fill=s.ink.kept if s.ink is SCREEN else "#d9d9d9", stroke=s.ink.line,
           stroke_width=1)  # fmt: skip
    _measure(s, (70, 32), (110, 32), "disc", (90, 40))
    for x, r in ((31, 22), (90, 20)):
        s.dot((x, 32 + r), 2.6, "start", fill=s.ink.text)


def _time(s: Sheet) -> None:
    _steel(s, ((4, 14), (116, 14), (116, 58), (4, 58)))
    s.polygon(((4, 30), (110, 30), (110, 36), (4, 36)), "kerf", s.ink.ground, stroke=s.ink.line, stroke_width=0.8)
    for x in (24, 96):
        s.polyline(((x, 20), (x, 46)), "mark", s.ink.line, 1.6)
    s.polyline(((34, 42), (50, 42)), "travel", s.ink.text, 1.4)
    s.polygon(((55, 42), (49, 45), (49, 39)), "travel", s.ink.text)
    _measure(s, (24, 24), (96, 24))
    s.text("mark to mark", (60, 52), 9, s.ink.text, "text", bold=True)


def _gouge(s: Sheet) -> None:
    arc = [(60 + 38 * math.cos(a), 48 + 22 * math.sin(a)) for a in [math.pi + k * math.pi / 12 for k in range(13)]]
    _steel(s, ((4, 12), (116, 12), (116, 48), *reversed(arc), (4, 48)))
    _measure(s, (22, 56), (98, 56), "width", (60, 64))
    _measure(s, (60, 48), (60, 26), "depth", (77, 41))
    _drop_line(s, (22, 48), (98, 48))


_DRAWN: dict[str, tuple[str, Callable[[Sheet], None]]] = {
    "time": ("Time from mark to mark", _time),
    "kerf": ("Width of the kerf at the top and at the bottom", _kerf),
    "guide": ("From the guide's edge to the near and to the far edge of the kerf", _guide),
    "gap": ("Gap under a square: plus where the bottom stands out, minus where it lies back", _gap),
    "lag": ("How far the lines on the face trail at the bottom", _lag),
    "dross-none": ("No dross", _dross("none")),
    "dross-slow": ("Dross of a slow cut: thick, bubbly, flicks off", _dross("slow")),
    "dross-fast": ("Dross of a fast cut: a thin hard bead", _dross("fast")),
    "crater": ("Width of the crater a pierce leaves at the top", _crater),
    "round": ("Hole and disc across, away from the start", _round),
    "gouge": ("Width and depth of a gouge", _gouge),
}
NAMES = tuple(_DRAWN)


def sketch(name: str, *, paper: bool = False) -> str:
    """Return the small picture of one measurement; ``NAMES`` lists them."""
    ink: Ink = PAPER if paper else SCREEN
    told, draw = _DRAWN[name]
    s = Sheet(VIEW, ink, told, told)
    draw(s)
    return s.finish()
