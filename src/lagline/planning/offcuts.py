"""What a plan leaves that is worth keeping: the true outline of every piece, for the rack, the picture and the next
job.

Glossary
--------
left  : the plate less its parts, less the kerf of every cut
drop  : what falls out of a part: the inside of a ring, a window
scrap : pieces of either that are too small to keep
"""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.planning.plate_use import FLATTEN_MM, WORTH_MM, Box, cleared, largest_rectangle
from lagline.records.geometry import Line, Loop, Outline
from lagline.records.job import Plate, Stock
from lagline.records.plan import Plan
from lagline.records.rack import Offcut
from lagline.shapes.form import lines
from lagline.shapes.region import pieces, polygon
from lagline.trade.mass import mass_of_area

DRAWN_MM = 0.5  # how far an outline may fall short of the metal along what was cut: thinner than a chalk line
_ROOM = 0.98  # of it used by leaving corners out: the rest is for rounding


def offcuts_of(plan: Plan, plate: int, least_mm: float = WORTH_MM) -> tuple[Offcut, ...]:
    """Return the pieces of a plate that are worth keeping after the job, largest first.

    A piece is kept when a rectangle square to the plate with both sides ``least_mm`` [mm] or more lies in it (6 in
    unless told: ours; some shops say 12 in, common practice, no source). Its outline is never larger than the metal
    left: straight edges of the plate as they are, cut edges up to about 1 mm inside. Nothing of a plate no part lies
    on.
    """
    if not any(p.plate == plate for p in plan.layout.placed):
        return ()
    after = cleared(plate, plan.job.plates[plate], plan.blanks, plan.settings, plan.layout, plan.steps)
    stock = plan.job.plates[plate].stock
    left = [_offcut(g, "left", stock, least_mm) for g in pieces(_drawn(plan.job.plates[plate], after.left))]
    large = (p for p in pieces(after.drops) if _across(p) >= least_mm)
    drops = [_offcut(q, "drop", stock, least_mm) for p in large for q in pieces(_inside(p))]
    found = [o for o in (*left, *drops) if o is not None]
    return tuple(sorted(found, key=lambda o: (-o.area_mm2, o.rectangle_mm)))


def _drawn(plate: Plate, left: BaseGeometry) -> BaseGeometry:
    """What is left, in few corners: what was taken away is drawn a little too large, the plate's edges as they are."""
    if not _straight(plate.outline.outer):
        return shapely.union_all([_inside(p) for p in pieces(left)])
    # a round opening counts as taken away
    holes = tuple(h for h in plate.outline.holes if _straight(h))
    whole = polygon(Outline(plate.outline.outer, holes), FLATTEN_MM)
    taken = whole.difference(left)
    larger = taken.buffer(DRAWN_MM, join_style="mitre", mitre_limit=2.0).simplify(_ROOM * DRAWN_MM)
    drawn = whole.difference(larger)
    return drawn if _within(drawn, left) else shapely.union_all([_inside(p) for p in pieces(left)])


def _straight(loop: Loop) -> bool:
    return all(isinstance(s, Line) for s in loop.segments)


def _inside(metal: Polygon) -> BaseGeometry:
    """An area in few corners, nowhere outside the metal."""
    drawn = metal.buffer(-DRAWN_MM, join_style="mitre", mitre_limit=2.0).simplify(_ROOM * DRAWN_MM)
    return drawn if _within(drawn, metal) else metal.buffer(-DRAWN_MM, join_style="mitre", mitre_limit=2.0)


def _within(area: BaseGeometry, metal: BaseGeometry) -> bool:
    return bool(area.is_valid and area.difference(metal).area < 1e-3)


def _offcut(piece: Polygon, came_from: str, stock: Stock, least_mm: float) -> Offcut | None:
    box = kept_rectangle(piece, least_mm)
    if box[2] <= 0:
        return None
    outline = outline_of(piece)
    kg = mass_of_area(stock.metal, outline.area, stock.thickness_mm).value
    return Offcut(outline, box, outline.area, kg, came_from)


def kept_rectangle(piece: Polygon, least_mm: float) -> Box:
    """Return the largest clear rectangle of a piece with both sides at least so long [mm]; all 0 when there is none."""
    # a square that fits holds a circle of its side
    if _across(piece) < least_mm or piece.buffer(-0.499 * least_mm, quad_segs=4).is_empty:
        return (0.0, 0.0, 0.0, 0.0)
    corners = tuple((float(x), float(y), float(x), float(y)) for x, y in shapely.get_coordinates(piece))
    box = largest_rectangle(piece, corners)
    return box if min(box[2:]) >= least_mm else largest_rectangle(piece, corners, least_mm)


def _across(piece: Polygon) -> float:
    left, bottom, right, top = piece.bounds
    return float(min(right - left, top - bottom))


def outline_of(piece: Polygon) -> Outline:
    """Return a polygon as an outline of straight edges, named in order round it."""

    def loop(points: BaseGeometry, prefix: str) -> Loop:
        at = [(round(float(x), 4), round(float(y), 4)) for x, y in shapely.get_coordinates(points)[:-1]]
        return lines(at, [f"{prefix}{i}" for i in range(1, len(at) + 1)])

    return Outline(loop(piece.exterior, "e"), tuple(loop(r, f"h{n}-") for n, r in enumerate(piece.interiors, 1)))
