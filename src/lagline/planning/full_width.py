"""Cuts run right across the plate: the offcut beyond a line of parts comes off in one straight piece.

Glossary
--------
chord   : where the middle of a rip's kerf, carried on both ways, runs over the plate
added   : what of the chord the rip would not have cut
beyond  : the metal on the other side of the kerf than the rip's parts
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from lagline.planning.estimate import cut_seconds
from lagline.planning.ground import Ground
from lagline.planning.guides import straight_guide
from lagline.planning.lines import ANGLE_RAD, merged
from lagline.planning.offcuts import kept_rectangle
from lagline.planning.passes import NEIGHBOUR_KERFS
from lagline.planning.plate_use import WORTH_MM
from lagline.planning.rips import Clear
from lagline.planning.steps import work_clamp
from lagline.records.geometry import Line, Point
from lagline.records.job import Plate
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Cut, Entry, Layout, Method, Pass, Setting, Start, StraightGuide
from lagline.shapes.along import from_polar
from lagline.shapes.region import loop_polygon, polygon

ADDED_MM = 300.0  # arc spent on a straight offcut where it saves nothing else: about a foot; ours
LEAST_ADDED_MM = 1.0  # a rip that lacks no more than this runs across already
FAR_MM = 1e5


@dataclass(frozen=True, slots=True)
class _Here:
    """One plate with its parts and cuts, as the question needs it."""

    plate: Plate
    ground: Ground
    clamp: Point
    kit: Kit
    waited_for: frozenset[str]  # cuts that others begin in or follow
    closed: frozenset[str]


def with_full_width(
    plates: tuple[Plate, ...],
    kit: Kit,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    layout: Layout,
    cuts: tuple[Cut, ...],
) -> tuple[Cut, ...]:
    """Return the cuts with rips run on to the plate's edges where that leaves an offcut with one straight side.

    A rip is run right across when it is square to the plate, has parts on one side only and none of the plate's
    beyond, an offcut worth keeping lies there, all that is added keeps off every part, and the straightedge reaches
    without another shift. What is added is at most ``ADDED_MM`` [mm], or costs no more time by ``cut_seconds`` than
    the starts it saves. Of two that would cross, the one with the larger offcut. Plates with bridges are left alone:
    what holds a strip there was chosen without this cut. So is a rip that other cuts follow when the work clamp is on
    the offcut: they would be cut from metal that hangs on nothing.
    """
    by_id = {s.id: s for s in settings}
    out = list(cuts)
    for index in sorted({c.plate for c in cuts if c.role == "rip"}):
        mine = [c for c in cuts if c.plate == index]
        rips = [n for n, c in enumerate(cuts) if c.plate == index and c.role == "rip" and not c.across]
        if not rips or any(c.role == "bridge" for c in mine):
            continue
        outlines = {
            i: polygon(p.move.outline(blanks[p.part].cut), 0.02)
            for i, p in enumerate(layout.placed)
            if p.plate == index
        }
        here = _Here(
            plates[index],
            Ground(polygon(plates[index].outline, 0.02), outlines),
            work_clamp(index, plates, blanks, layout),
            kit,
            frozenset(name for c in mine for name in c.after),
            frozenset(c.id for c in mine if not c.open),
        )
        found = []
        for n in rips:
            made = _across(cuts[n], by_id[cuts[n].setting], here)
            if made is not None:
                found.append((*made, n))
        taken: list[BaseGeometry] = []
        for cut, _, n in sorted(found, key=lambda f: (-f[1], f[0].id)):
            way = cut.passes[0].path[0]
            line = shapely.LineString([way.start, way.end])
            if not any(line.intersects(t) for t in taken):
                taken.append(line)
                out[n] = cut
    return tuple(out)


def _across(cut: Cut, setting: Setting, here: _Here) -> tuple[Cut, float] | None:
    """The rip run right across and the area of the offcut's rectangle [mm2]; None where it is not to be."""
    heading = cut.passes[0].path[0].heading_start
    if abs(math.remainder(heading, math.pi / 2)) > ANGLE_RAD:
        return None
    chord = _chord(cut.passes[0].path[0].start, heading, here.ground.plate)
    if chord is None:
        return None
    added = _added(cut, chord, heading)
    total = math.fsum(math.dist(a, b) for a, b in added)
    if total < LEAST_ADDED_MM or not _free(cut, added, setting, here):
        return None
    offcut = _beyond(cut, chord, setting, here)
    if offcut is None:
        return None
    whole = _whole(cut, chord, setting, here)
    guide, before = whole.passes[0].guide, cut.passes[0].guide
    assert isinstance(guide, StraightGuide)
    assert isinstance(before, StraightGuide)
    if guide.shifts > before.shifts or (guide.hold == "no hold" and before.hold != "no hold"):
        return None
    if total > ADDED_MM and cut_seconds(whole, setting, here.kit)[1] > cut_seconds(cut, setting, here.kit)[1]:
        return None
    return whole, offcut


def _chord(on: Point, heading: float, plate: BaseGeometry) -> Line | None:
    """Where a line runs over a plate in one go; None when it leaves the plate between, or runs along its edge."""
    ends = from_polar(on, heading, -FAR_MM), from_polar(on, heading, FAR_MM)
    hit = shapely.intersection(plate, shapely.LineString(ends))
    if hit.geom_type != "LineString" or hit.is_empty:
        return None
    points = [(float(x), float(y)) for x, y in shapely.get_coordinates(hit)]
    points.sort(key=lambda p: math.dist(p, ends[0]))
    return Line(points[0], points[-1])


def _added(cut: Cut, chord: Line, heading: float) -> list[tuple[Point, Point]]:
    """The stretches of the chord that the cut does not make already."""

    def along(p: Point) -> float:
        return (p[0] - chord.start[0]) * math.cos(heading) + (p[1] - chord.start[1]) * math.sin(heading)

    on = merged([(along(s.start), along(s.end)) for p in cut.passes for s in p.path], 0.0)
    ends = [0.0, *(v for pair in on for v in pair), chord.length]
    gaps = zip(ends[::2], ends[1::2], strict=True)
    return [(from_polar(chord.start, heading, a), from_polar(chord.start, heading, b)) for a, b in gaps if b > a]


def _free(cut: Cut, added: list[tuple[Point, Point]], setting: Setting, here: _Here) -> bool:
    """Whether all that is added keeps off the parts and the places the user keeps out."""
    clear = Clear(here.ground.outlines, set(cut.parts), setting.kerf_mm.value)
    bad = [loop_polygon(k, 0.1) for k in here.plate.keep_out]
    return all(
        clear(a, b, NEIGHBOUR_KERFS) and not any(shapely.LineString([a, b]).intersects(k) for k in bad)
        for a, b in added
    )


def _beyond(cut: Cut, chord: Line, setting: Setting, here: _Here) -> float | None:
    """The area of the largest rectangle beyond the kerf [mm2]; None when it is too small or parts lie there, or when
    cuts that follow would be made in metal that has come loose."""
    h, half = chord.heading_start, setting.kerf_mm.value / 2
    away = h + math.pi / 2 * (1 if cut.kept_side == "right" else -1)
    a, b = from_polar(chord.start, h, -FAR_MM), from_polar(chord.end, h, FAR_MM)
    near = from_polar(a, away, half), from_polar(b, away, half)
    side = Polygon([*near, from_polar(b, away, FAR_MM), from_polar(a, away, FAR_MM)])
    if any(side.intersects(o) for o in here.ground.outlines.values()):
        return None
    if cut.id in here.waited_for and side.contains(shapely.Point(here.clamp)):
        return None
    metal = here.ground.plate.intersection(side)
    if not isinstance(metal, Polygon):
        return None
    _, _, width, height = kept_rectangle(metal, WORTH_MM)
    return width * height if width > 0 else None


def _whole(cut: Cut, chord: Line, setting: Setting, here: _Here) -> Cut:
    """The rip as one pass from edge to edge; it ends half a kerf over the far edge, so that the last corner falls."""
    right = cut.kept_side == "right"
    h, half = chord.heading_start, setting.kerf_mm.value / 2
    kept = h + math.pi / 2 * (-1 if right else 1)
    line = Line(from_polar(chord.start, kept, half), from_polar(chord.end, kept, half))
    path = Line(chord.start, from_polar(chord.end, h, half))
    guide = straight_guide(line, setting, here.kit, -1 if right else 1, here.ground.metal)
    name = f"{cut.passes[0].name}, right across"
    return replace(
        cut,
        passes=(Pass(name, Method.STRAIGHTEDGE, (line,), (path,), False, guide),),
        entries=(Entry(0, 0.0, Start.EDGE, (path.start, path.start), path.end),),
        after=tuple(c for c in cut.after if c in here.closed),  # it begins in no other cut's kerf now
    )
