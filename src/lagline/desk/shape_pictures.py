"""A small picture of each named shape, for choosing one."""

from __future__ import annotations

from functools import cache

from lagline.cards.svg import SCREEN, Sheet
from lagline.shapes.named import SHAPES, make_shape

# sizes that make each shape easy to tell from the others; nothing is cut from them
# fmt: off
_SIZES: dict[str, dict[str, object]] = {
    "rectangle": {"width": 100, "height": 66, "cope_width": 26, "cope_height": 22},
    "strip": {"length": 110, "width": 26, "hole": 11, "hole_from_end": 16},
    "gusset": {"leg_across": 78, "leg_up": 90, "snipe": 12, "nose": 8},
    "base_plate": {
        "width": 100, "height": 84, "hole": 12, "edge_across": 15, "opening_width": 36, "opening_height": 28,
    },
    "slotted_plate": {"width": 100, "height": 70, "slot_length": 60, "slot_width": 12, "slots": 2, "pitch": 28},
    "disc": {"diameter": 86},
    "ring": {"outside": 92, "inside": 54},
    "flange": {"outside": 92, "inside": 40, "bolt_circle": 68, "bolts": 8, "bolt_hole": 9},
    "sector": {"outside": 170, "inside": 84, "angle": 90},
    "polygon": {"sides": 6, "across_flats": 80},
    "points": {"points": [[0, 0], [96, 0], [96, 34], [52, 34], [38, 80], [0, 80]]},
}
# fmt: on


@cache
def shape_picture(name: str) -> str:
    """Return a named shape drawn plain on steel, or a pencil outline for ``drawing``."""
    if name not in _SIZES or name not in SHAPES:
        return _drawing()
    outline, _ = make_shape(name, _SIZES[name], name)  # type: ignore[arg-type]
    x0, y0, x1, y1 = outline.bounds()
    m = max((x1 - x0) * 0.58, (y1 - y0) * 0.72)
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    sheet = Sheet((cx - m, cy - 0.8 * m, cx + m, cy + 0.8 * m), SCREEN, name.replace("_", " "), SHAPES[name].meaning)
    data = "".join(sheet.path_data(loop.segments, close=True) for loop in outline.loops)
    sheet.path(data, "face", fill=SCREEN.part, fill_rule="evenodd", stroke=SCREEN.line, stroke_width=f"{0.025 * m:.3f}")
    return sheet.finish()


def _drawing() -> str:
    """A sheet of paper with an outline on it."""
    ink = SCREEN
    sheet = Sheet((0, 0, 120, 96), ink, "drawing", "a drawing in a DXF or SVG file")
    paper = ((30, 8), (90, 8), (90, 72), (74, 88), (30, 88))
    sheet.polygon(paper, "paper", ink.part, stroke=ink.line, stroke_width="1.5")
    sheet.polyline(((74, 88), (74, 72), (90, 72)), "fold", ink.line, 1.5)
    bracket = ((42, 22), (78, 22), (78, 38), (58, 38), (58, 56), (42, 56))
    sheet.polygon(bracket, "line", "none", stroke=ink.cut, stroke_width="2")
    return sheet.finish()
