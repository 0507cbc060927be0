"""A bevelled edge in section: plate, cut, leaning torch and its guides, seen along the travel."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.geometry import Point
from lagline.records.setout import Area, Dim, Drawing, Stroke, Text
from lagline.setouts.ask import Given
from lagline.setouts.bevel_lean import Guided
from lagline.trade.bevel_edge import Prep, set_in

GUIDE_WIDE_MM = 30.0


@dataclass(frozen=True, slots=True)
class View:
    """The section drawn with the kept metal on one side: ``sign`` is 1 with it on the left, -1 on the right."""

    sign: int

    def __call__(self, *points: Point) -> tuple[Point, ...]:
        return tuple((self.sign * x, y) for x, y in points)

    def dim(self, a: Point, b: Point, text: str, off_mm: float) -> Dim:
        """A dimension whose line stays on the side it was meant for when the view is mirrored."""
        (p, q) = self(a, b)
        return Dim(p, q, text, self.sign * off_mm)


def kept_outline(edge: Prep, back_mm: float) -> tuple[Point, ...]:
    """Section of the finished part, root line at x 0, top face at y 0, reaching back to the left [mm]."""
    t = edge.thickness_mm
    inner = set_in(edge)
    if edge.land_at == "top":
        d = edge.depth_mm * math.tan(math.radians(edge.angle_deg))
        return _apart((-back_mm, -t), (-d, -t), (0.0, -edge.land_mm), (0.0, 0.0), (-back_mm, 0.0))
    second = edge.second_mm * math.tan(math.radians(edge.second_deg))
    foot: tuple[Point, ...] = ((-second, -t), (0.0, -t + edge.second_mm)) if edge.second_mm else ((0.0, -t),)
    return _apart((-back_mm, -t), *foot, (0.0, -edge.depth_mm), (-inner, 0.0), (-back_mm, 0.0))


def _apart(*points: Point) -> tuple[Point, ...]:
    """Leave out a point that lies on the one before it: an edge without a land has its two ends in one."""
    return tuple(p for i, p in enumerate(points) if i == 0 or math.dist(p, points[i - 1]) > 1e-6)


def torch_outline(edge: Prep, g: Guided, up_mm: float) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
    """The cup's outline from its rim up, and the torch's axis from plate to top; kept metal on the left [mm]."""
    a = math.radians(g.lean.bevel_deg)
    lean = -1.0 if g.over_kept else 1.0
    ux, uy = lean * math.sin(a), math.cos(a)
    nx, ny = math.cos(a), -lean * math.sin(a)
    foot = -set_in(edge) + g.lean.kerf.value / (2 * math.cos(a))
    r, s = g.lean.cup.value, g.lean.arc.value

    def at(along: float, across: float) -> Point:
        return foot + along * ux + across * nx, along * uy + across * ny

    cup = at(s + up_mm, -r), at(s, -r), at(s, r), at(s + up_mm, r)
    return cup, ((foot, 0.0), at(s + up_mm + r, 0.0))


def section(edge: Prep, g: Guided, given: Given, through: bool) -> Drawing:
    """Return the picture of the first cut: ``through`` when it goes through the whole plate."""
    t, a = edge.thickness_mm, math.radians(edge.angle_deg)
    view = View(1 if given.word("kept") == "left" else -1)
    lean = -1.0 if g.over_kept else 1.0
    line = -set_in(edge)
    wide = g.lean.kerf.value / math.cos(a)
    deep = -t if through else -edge.depth_mm
    foot = line + lean * math.tan(a) * deep  # the cut face where the cut ends; y is negative below the top
    guides = max(abs(x) for x in (g.kept.value if g.kept else 0, g.drop.value if g.drop else 0)) + GUIDE_WIDE_MM
    reach = max(guides, abs(line) + 2 * wide, abs(foot) + 2 * wide, 0.8 * t) + 12
    # the part as this cut leaves it: the finished outline where it was cut square before, else the whole cut face
    metal = kept_outline(edge, reach) if not through else ((-reach, -t), (foot, -t), (line, 0.0), (-reach, 0.0))
    areas = [Area("metal", view(*metal))]
    if through:
        areas.append(Area("waste", view((line + wide, 0.0), (foot + wide, -t), (reach, -t), (reach, 0.0))))
    elif line + wide < 0:
        areas.append(Area("waste", view((line + wide, 0.0), (0.0, -(-line - wide) / math.tan(a)), (0.0, 0.0))))
    strokes = [Stroke("cut", view((line, 0.0), (foot, deep)))]
    if edge.land_mm > 0 and through and edge.land_at != "both":
        strokes.append(Stroke("hidden", view((0.0, 0.0), (0.0, -t))))
    dims, texts = [], []
    h = g.height_mm
    for figure, side in ((g.kept, -1.0), (g.drop, 1.0)):
        if figure is not None:
            x = line + side * figure.value
            far = x + side * GUIDE_WIDE_MM
            areas.append(
                Area("guide", view((min(x, far), 0.0), (max(x, far), 0.0), (max(x, far), h), (min(x, far), h)))
            )
            a_, b_ = ((x, 0.0), (line, 0.0)) if side < 0 else ((line, 0.0), (x, 0.0))
            dims.append(view.dim(a_, b_, given.show(figure.value), -(t + (8 if side < 0 else 18))))
    cup, axis = torch_outline(edge, g, g.lean.cup.value * 1.6 + h * 0.5)
    strokes += [Stroke("edge", view(*cup)), Stroke("centre", view(*axis))]
    top = max(y for _, y in axis)
    texts.append(Text(view((axis[1][0], top + 6))[0], f"tilt {edge.angle_deg:g} deg", 0.0, 4.0))
    texts.append(Text(view((-reach + 12, -t / 2))[0], "part", 0.0, 4.0))
    if through:
        texts.append(Text(view((reach - 12, -t / 2))[0], "drop", 0.0, 4.0))
    edge_x = -reach
    dims.append(view.dim((edge_x, -t), (edge_x, 0.0), given.show(t), 8))
    if g.kept or g.drop:
        gx = reach - 6 if g.drop else -reach + 6
        dims.append(view.dim((gx, 0.0), (gx, h), given.show(h), -8 if g.drop else 8))
    name = "Section along the travel: the first cut" if edge.land_at == "both" else "Section, seen along the travel"
    return Drawing(name, tuple(areas), tuple(strokes), tuple(texts), tuple(dims))
