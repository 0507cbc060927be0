"""Cut the plan on paper: drive the torch along its guides, take the kerf away, and see what is left of each part."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Point, Segment
from lagline.records.job import Plate
from lagline.records.plan import ArmGuide, Blank, Layout, Setting, Start, Step, StraightGuide, TemplateGuide
from lagline.shapes.reach import MATCH_MM, misfit, solid
from lagline.shapes.region import chain_line, joined, pieces, polygon


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of one placed part after all cuts.

    ``over_mm2`` is metal left beyond the outline (less 0.05 mm), ``under_mm2`` metal missing inside it; both 0 when
    the part comes out right. Inside corners are compared with the kerf's own radius in them.
    """

    placed: int
    loose: bool
    over_mm2: float
    under_mm2: float

    @property
    def right(self) -> bool:
        return self.loose and self.over_mm2 < 1e-3 and self.under_mm2 < 1e-3


def torch_path(step: Step, setting: Setting) -> LineString:
    """Return where the guide carries the tip's centre, worked from the guide and not from the planned path.

    Straightedge: parallel to the bar at the cup's radius. Circle arm: about the pivot at the arm's setting. Template:
    at the cup's radius from its edge, except where the cup cannot follow and the hand takes over. The run-in and a
    free hand follow the planned path.
    """
    guide, cup = step.guide, setting.cup_radius_mm.value
    if isinstance(guide, StraightGuide):
        return _along_bar(step, guide, cup)
    if not isinstance(guide, ArmGuide | TemplateGuide):
        return chain_line(step.path, 0.005)
    lead = step.path[:1] if step.start is not Start.KERF and _off_track(step.path[0].start, guide, cup) else ()
    body = shapely.get_coordinates(chain_line(step.path[len(lead) :], 0.005))
    led = _about_pivot(body, guide) if isinstance(guide, ArmGuide) else _round_template(body, guide, cup)
    return LineString([*(s.start for s in lead), *led])


def _off_track(p: Point, guide: ArmGuide | TemplateGuide, cup: float) -> bool:
    """Whether a path begins with a run-in: a start drilled on the line, or at an edge the line begins at, has none."""
    if isinstance(guide, ArmGuide):
        return abs(math.dist(p, guide.pivot) - guide.arm_mm.value) > MATCH_MM
    return abs(float(LineString(guide.edge).distance(shapely.Point(p))) - cup) > MATCH_MM


def _about_pivot(body: NDArray[np.float64], guide: ArmGuide) -> list[Point]:
    """Each point brought to the arm's setting from the pivot."""
    out = np.array(guide.pivot) + (body - guide.pivot) * (
        guide.arm_mm.value / np.linalg.norm(body - guide.pivot, axis=1, keepdims=True)
    )
    return [(float(x), float(y)) for x, y in out]


def _round_template(body: NDArray[np.float64], guide: TemplateGuide, cup: float) -> list[Point]:
    """Each point brought to the cup's radius from the template's edge, but where the cup cannot follow."""
    edge, points = LineString(guide.edge), shapely.points(body)
    foot = shapely.get_coordinates(shapely.line_interpolate_point(edge, shapely.line_locate_point(edge, points)))
    away = np.linalg.norm(body - foot, axis=1, keepdims=True)
    led = np.where(abs(away - cup) > MATCH_MM, body, foot + (body - foot) * cup / np.maximum(away, 1e-9))
    return [(float(x), float(y)) for x, y in led]


def _along_bar(step: Step, guide: StraightGuide, cup: float) -> LineString:
    (x0, y0), (x1, y1) = guide.near
    long = math.hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / long, (y1 - y0) / long
    line = step.line[0]
    side = math.copysign(1.0, ux * (line.start[1] - y0) - uy * (line.start[0] - x0))  # the line's side of the bar
    if guide.side == "drop" and guide.offset_mm.value < 0:
        side = -side
    ends = []
    body = [s for s in step.path if abs(math.sin(s.heading_start - line.heading_start)) < 1e-6]
    for p in (body[0].start, body[-1].end):
        u = (p[0] - x0) * ux + (p[1] - y0) * uy
        ends.append((x0 + u * ux - side * cup * uy, y0 + u * uy + side * cup * ux))
    lead = [q for s in step.path[: step.path.index(body[0])] for q in s.points(0.005)]
    return LineString([*lead, *ends])


def what_is_left(
    plates: tuple[Plate, ...],
    blanks: tuple[Blank, ...],
    layout: Layout,
    steps: tuple[Step, ...],
    settings: tuple[Setting, ...],
) -> tuple[Left, ...]:
    """Return, for every placed part, how the metal left compares with its cut outline (within 0.05 mm)."""
    by_id = {s.id: s for s in settings}
    out: list[Left] = []
    for index, plate in enumerate(plates):
        here = [(i, p) for i, p in enumerate(layout.placed) if p.plate == index]
        if not here:
            continue
        gone = [_taken(s, by_id[s.setting]) for s in steps if s.plate == index]
        left = polygon(plate.outline).difference(joined(gone))
        bits = pieces(left)
        tree = shapely.STRtree(bits)
        for i, placed in here:
            want = polygon(placed.move.outline(blanks[placed.part].cut))
            half = next((by_id[s.setting].kerf_mm.value / 2 for s in steps if i in s.parts), 0.0)
            out.append(_compare(i, want, half, bits, tree))
    return tuple(sorted(out, key=lambda e: e.placed))


def _taken(step: Step, setting: Setting) -> BaseGeometry:
    if step.diameter_mm:
        return polygon_of_hole(step)
    return torch_path(step, setting).buffer(setting.kerf_mm.value / 2, quad_segs=64)


def polygon_of_hole(step: Step) -> Polygon:
    """Return the drilled hole of a step as a polygon."""
    return Polygon([p for s in step.line for p in _full(s)])


def _full(s: Segment) -> tuple[Point, ...]:
    assert isinstance(s, Arc)
    return Arc(s.centre, s.radius, 0.0, 2 * math.pi).points(0.005)


def _compare(index: int, want: Polygon, half: float, bits: tuple[Polygon, ...], tree: shapely.STRtree) -> Left:
    near = [bits[k] for k in tree.query(want, predicate="intersects")]
    mine = [b for b in near if b.intersection(want).area > 0.5 * want.area]
    if not mine:
        return Left(index, False, 0.0, float(want.area))
    piece = mine[0]
    over, under = misfit(piece, want, half)
    loose = solid(piece).difference(solid(want).buffer(2 * half + 1.0)).is_empty
    return Left(index, loose, over, under)


def prove(
    left: tuple[Left, ...], blanks: tuple[Blank, ...], layout: Layout, known: tuple[Finding, ...] = ()
) -> tuple[Finding, ...]:
    """Return a no-go finding for every part that would not come out as drawn.

    ``known`` are the findings of the cuts: a part with a no-go there already (a hole too small) is not told twice.
    """
    told = {f.where.split(" #")[0].split(",")[0] for f in known if f.severity is Severity.NO_GO}
    return tuple(
        Finding(
            "part-not-as-drawn",
            Severity.NO_GO,
            layout.placed[e.placed].name(blanks),
            "cut as planned this part does not come loose"
            if not e.loose
            else f"cut as planned this part would differ from its outline: {e.over_mm2:.2f} mm2 over, "
            f"{e.under_mm2:.2f} mm2 missing",
            "allow a larger gap, or cut the place named in the notes by another method",
        )
        for e in left
        if not e.right and blanks[layout.placed[e.placed].part].part.name not in told
    )
