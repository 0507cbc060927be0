"""What falls at each set-up: its mass, and the place of its middle of mass, to sling it or to stand a prop under.

A plate is cut on paper in the order of the set-ups; what is then not joined to the metal under the work clamp is loose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.planning.falls import DROP_MM2, FLAT_MM, still_held
from lagline.planning.kerfs import kerfs_of
from lagline.records.geometry import Point
from lagline.records.plan import Plan, Step
from lagline.shapes.region import joined, loop_polygon, pieces, polygon, swath
from lagline.trade.mass import mass_of_area

LIKE, LIKE_KG = 0.05, 0.05  # how far the metal found loose may differ from the plan's mass, besides the kerf


@dataclass(frozen=True, slots=True)
class Drop:
    """One piece that comes loose at the end of a set-up.

    ``at`` is its centre of gravity from the plate's datum corner [mm], ``size_mm`` its width and height. ``sure`` is
    False where the metal found loose is not what the plan says: then mass is the plan's and the place the part's own.
    """

    number: int
    plate: str
    what: str
    part: bool
    kg: float
    at: Point
    size_mm: tuple[float, float]
    sure: bool = True


def drops_of(plan: Plan) -> tuple[Drop, ...]:
    """Return every piece that comes loose, in the order of the set-ups."""
    out: list[Drop] = []
    for plate in sorted({s.plate for s in plan.steps}):
        out.extend(_of_plate(plan, plate))
    return tuple(sorted(out, key=lambda d: d.number))


def _of_plate(plan: Plan, index: int) -> list[Drop]:
    plate = plan.job.plates[index]
    kerf = {s.id: s.kerf_mm.value for s in plan.settings}
    cuts = {c.id: c for c in plan.cuts if c.plate == index}
    kerfs = kerfs_of(cuts.values(), kerf)
    shapes = {
        i: polygon(p.move.outline(plan.blanks[p.part].cut), FLAT_MM)
        for i, p in enumerate(plan.layout.placed)
        if p.plate == index
    }
    metal: BaseGeometry = polygon(plate.outline, FLAT_MM)
    gone: list[BaseGeometry] = []
    out: list[Drop] = []
    for step in (s for s in plan.steps if s.plate == index):
        if step.path:
            gone.append(swath(step.path, kerf[step.setting]))
        elif step.cut in cuts:
            gone.append(loop_polygon(cuts[step.cut].loop, FLAT_MM))
        if step.group == step.of and step.path and step.cut in kerfs:
            gone.append(kerfs[step.cut])
        if step.frees == "nothing":
            continue
        metal = metal.difference(joined(gone))
        gone.clear()
        held = still_held(metal, step.clamp)
        loose = [p for p in pieces(metal) if not p.equals(held) and p.area >= DROP_MM2]
        metal = held
        kerf_mm2 = kerfs[step.cut].area if step.cut in kerfs else 0.0
        out.extend(_told(plan, step, loose, shapes, kerf_mm2))
        for i in step.freed or ((step.placed,) if step.frees == "part" else ()):
            shapes.pop(i, None)
    return out


def _told(plan: Plan, step: Step, loose: list[Polygon], shapes: dict[int, Polygon], kerf_mm2: float) -> list[Drop]:
    plate = plan.job.plates[step.plate]

    def kg(area: float) -> float:
        return mass_of_area(plate.stock.metal, area, plate.stock.thickness_mm).value

    found = math.fsum(kg(p.area) for p in loose)
    near = LIKE * step.drop_kg + LIKE_KG
    # what falls inside a loop is told as the whole loop: the kerf is then in the plan's mass
    if loose and -near <= step.drop_kg - found <= near + kg(kerf_mm2):
        return [_drop(plan, step, p, kg(p.area), shapes) for p in loose]
    # the plan's mass stands; its place is that of the part, or of the inside of its cut
    mine = [shapes[i] for i in step.freed or ((step.placed,) if step.frees == "part" else ()) if i in shapes]
    if not mine:
        loop = next(c.loop for c in plan.cuts if c.id == step.cut)
        mine = [loop_polygon(loop, FLAT_MM)]
    share = step.drop_kg / math.fsum(p.area for p in mine)
    return [_drop(plan, step, p, p.area * share, shapes, sure=False) for p in mine]


def _drop(plan: Plan, step: Step, piece: Polygon, kg: float, shapes: dict[int, Polygon], *, sure: bool = True) -> Drop:
    inside = [i for i, s in shapes.items() if piece.intersection(s).area > 0.5 * s.area]
    names = dict.fromkeys(plan.layout.placed[i].name(plan.blanks) for i in inside)
    x0, y0, x1, y1 = piece.bounds
    middle = shapely.centroid(piece)
    what = " and ".join(names) if names else "waste"
    plate = plan.job.plates[step.plate].name
    return Drop(step.number, plate, what, bool(names), kg, (middle.x, middle.y), (x1 - x0, y1 - y0), sure)
