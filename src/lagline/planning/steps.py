"""Ordered cuts become steps: one set-up at the bench each, with everything the torch does while the arc is on."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lagline.planning.cut_notes import merged
from lagline.planning.falls import Fall, still_held
from lagline.planning.ground import Metal
from lagline.planning.guides import straight_guide
from lagline.planning.trim import kept_metal
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Line, Point, Segment
from lagline.records.job import Plate
from lagline.records.kit import Kit
from lagline.records.plan import (
    ArmGuide,
    Blank,
    Cut,
    Entry,
    Guide,
    Layout,
    Method,
    Pass,
    Setting,
    Start,
    Step,
    StraightGuide,
)
from lagline.shapes.along import from_place
from lagline.shapes.region import chain_line, joined, loop_polygon, polygon

CUP_MM = 12.0  # a guide reaches about a cup's radius beyond the ends of what it leads
OVERRUN_MM = 3.0  # a closed cut ends this far over its own start, in the waste; common practice, no source


def make_steps(
    cuts: tuple[Cut, ...],
    order: tuple[tuple[int, int], ...],
    blanks: tuple[Blank, ...],
    plates: tuple[Plate, ...],
    layout: Layout,
    settings: tuple[Setting, ...],
    kit: Kit,
    falls: Mapping[str, Fall] | None = None,
) -> tuple[tuple[Step, ...], tuple[Finding, ...]]:
    """Return the steps in bench order, and the guides that nothing holds.

    Parameters
    ----------
    order : (cut index, entry index) pairs from the order stage
    kit : for the guides, which are laid on the metal that is left when each step is cut
    falls : what comes loose at each cut, by its id, where it is not what the cut says itself
    """
    by_id = {s.id: s for s in settings}
    clamps = {i: work_clamp(i, plates, blanks, layout) for i in {cuts[c].plate for c, _ in order}}
    metal = {i: Metal(polygon(plates[i].outline, 0.1)) for i in clamps}
    kerfs: dict[int, list[BaseGeometry]] = {i: [] for i in clamps}
    waiting: dict[int, list[BaseGeometry]] = {i: [] for i in clamps}  # kerfs not yet taken from the metal
    steps: list[Step] = []
    loose: list[Finding] = []
    guide: Guide = None
    for c, e in order:
        cut, setting = cuts[c], by_id[cuts[c].setting]
        entry = _from_kerf(cut, cut.entries[e], kerfs[cut.plate])
        name = name_of(cut, layout, blanks) if cut.parts else f"plate {plates[cut.plate].name}"
        fall = (falls or {}).get(cut.id)
        made = _steps_of(cut, entry, setting, name, clamps[cut.plate], len(steps), fall)
        if cut.role == "bridge" and guide is not None and _serves_still(guide, made, steps[-1]):
            made[0] = replace(made[0], held=True)
        for n, step in enumerate(made):
            if not step.held:
                guide = guide_now(step, _line_of(made[n:]), cut, setting, kit, metal[cut.plate])
            steps.append(replace(step, guide=guide))
            if isinstance(guide, StraightGuide) and guide.hold == "no hold" and not step.held:
                loose.append(_no_hold(name))
        half = setting.kerf_mm.value / 2
        new = [chain_line(s.path, 0.1).buffer(half, quad_segs=4) for s in made if s.path]
        kerfs[cut.plate] += new
        if fall is not None:
            waiting[cut.plate] += new
            if fall.frees != "nothing":
                rest = metal[cut.plate].area.difference(joined(waiting[cut.plate]))
                metal[cut.plate] = Metal(still_held(rest, clamps[cut.plate]))
                waiting[cut.plate] = []
        elif cut.frees != "nothing":
            metal[cut.plate] = metal[cut.plate].without(fallen(cut, setting.kerf_mm.value))
    return tuple(steps), merged(loose)


def name_of(cut: Cut, layout: Layout, blanks: tuple[Blank, ...]) -> str:
    """Return the part or parts a cut makes edges of, in few words: ``long strap #1, #2 and cheek plate #4``."""
    copies: dict[int, list[int]] = {}
    for i in cut.parts:
        copies.setdefault(layout.placed[i].part, []).append(layout.placed[i].copy)
    said = []
    for part, numbers in copies.items():
        name = blanks[part].part.name
        if blanks[part].part.quantity == 1:
            said.append(name)
        elif len(numbers) <= 3:
            said.append(f"{name} {', '.join(f'#{n}' for n in sorted(numbers))}")
        else:
            said.append(f"{len(numbers)} {name}s")
    if len(said) > 2:
        rest = sum(len(n) for n in list(copies.values())[1:])
        return f"{said[0]} and {rest} parts more"
    return " and ".join(said)


def _from_kerf(cut: Cut, entry: Entry, kerfs: list[BaseGeometry]) -> Entry:
    """Begin an open cut from a kerf already made, where there is one at its start: no pierce, no run-in."""
    begin = cut.passes[entry.pass_index].path[0].start if cut.open else None
    if begin is None or entry.start in (Start.KERF, Start.EDGE):
        return entry
    if not kerfs or not shapely.dwithin(np.array(kerfs, dtype=object), shapely.Point(begin), 0.1).any():
        return entry
    return replace(entry, start=Start.KERF, run_in=(begin, begin))


def _line_of(steps: list[Step]) -> Line:
    """The whole line that the first of these steps and those that keep its guide are led along."""
    first = steps[0].line[0]
    held = itertools.takewhile(lambda s: s.held, steps[1:])
    points = [p for s in (steps[0], *held) for p in (s.line[0].start, s.line[0].end)]
    c, s = math.cos(first.heading_start), math.sin(first.heading_start)
    along = sorted(points, key=lambda p: p[0] * c + p[1] * s)
    return Line(along[0], along[-1])


def _serves_still(guide: Guide, steps: list[Step], before: Step) -> bool:
    """Whether the guide of the step before, left where it is, leads all of these too."""
    planned = steps[0].guide
    if not isinstance(guide, StraightGuide) or not isinstance(planned, StraightGuide) or guide.shifts:
        return False
    if before.plate != steps[0].plate or before.frees != "nothing" or before.kept_side != steps[0].kept_side:
        return False
    bar = shapely.LineString(guide.near)
    ends = [p for s in steps for seg in (s.line[0], s.path[0]) for p in (seg.start, seg.end)]
    on = shapely.line_locate_point(bar, shapely.points(ends))
    if min(on) < CUP_MM or max(on) > bar.length - CUP_MM:
        return False
    same = before.line[0]
    h = same.heading_start
    off = [abs((p[1] - same.start[1]) * math.cos(h) - (p[0] - same.start[0]) * math.sin(h))
           for s in steps for p in (s.line[0].start, s.line[0].end)]  # fmt: skip
    return before.setting == steps[0].setting and max(off) < 0.01


def guide_now(step: Step, line: Line, cut: Cut, setting: Setting, kit: Kit, metal: Metal) -> Guide:
    """Return a step's guide as it can be held on the metal that is left when it is cut.

    ``line`` is all that a straight guide leads before it is moved.
    """
    match step.guide:
        case StraightGuide():
            return straight_guide(line, setting, kit, -1 if cut.kept_side == "right" else 1, metal)
        case ArmGuide(pivot_in_drop=True) as arm:
            if not metal.under(np.array([arm.pivot]))[0]:
                return replace(arm, foot="opening")
            falls = loop_polygon(cut.loop, 0.1).contains(shapely.Point(arm.pivot))
            return replace(arm, foot="drop" if falls else "plate")
        case other:
            return other


def fallen(cut: Cut, kerf_mm: float) -> BaseGeometry:
    """Return the opening a finished cut leaves: what dropped, and the kerf round a part."""
    inside = loop_polygon(cut.loop, 0.1)
    return inside.buffer(kerf_mm) if cut.frees == "part" else inside


def _no_hold(name: str) -> Finding:
    return Finding(
        "guide-no-hold",
        Severity.CAUTION,
        name,
        "no clamp or magnet holds the guide for some edges",
        "each set-up says so: weight it down, or tack it to the waste",
    )


def _steps_of(
    cut: Cut, entry: Entry, setting: Setting, name: str, clamp: Point, done: int, fall: Fall | None
) -> list[Step]:
    passes = cut.passes[entry.pass_index :] + cut.passes[: entry.pass_index]
    out: list[Step] = []
    if fall is not None:
        frees, kg, freed = fall.frees, fall.kg, fall.parts
    else:
        frees, kg, freed = cut.frees, cut.drop_kg, (cut.placed,) if cut.frees == "part" else ()
    end: Point | None = None
    for n, p in enumerate(passes):
        path, start = _arc_path(p, entry if n == 0 else None, end, setting.kerf_mm.value, cut.role)
        last = n == len(passes) - 1
        out.append(
            Step(
                number=done + n + 1,
                cut=cut.id,
                group=n + 1,
                of=len(passes),
                plate=cut.plate,
                placed=cut.placed,
                title=_title(cut, p, name),
                method=p.method,
                start=start,
                line=p.line,
                path=path,
                guide=p.guide,
                kept_side=cut.kept_side,
                square_side=cut.kept_side,
                heading_deg=math.degrees(p.line[0].heading_start) % 360,
                setting=cut.setting,
                clamp=clamp,
                frees=frees if last else "nothing",
                drop_kg=kg if last else 0.0,
                freed=freed if last else (),
                diameter_mm=cut.diameter_mm,
                serves=cut.serves,
                across=cut.across,
                held=p.start is not None,
                leaves_mm=p.leaves_mm,
                bridge=cut.role == "bridge",
            )
        )
        end = path[-1].end if path else None
    return out


def _arc_path(
    p: Pass, entry: Entry | None, end: Point | None, kerf_mm: float, role: str
) -> tuple[tuple[Segment, ...], Start]:
    """Run-in, pass and overrun; and how the arc is started."""
    if p.method is Method.DRILL:
        return (), Start.NONE
    body = p.path
    if p.start is not None:
        return (*(Line(a, b) for a, b in pairwise(p.run_in) if a != b), *body), p.start
    if entry is not None:
        if p.closed:
            body = from_place(p.path, entry.at_mm, max(OVERRUN_MM, kerf_mm))
        run_in = tuple(Line(a, b) for a, b in pairwise(entry.run_in) if a != b)
        return (*run_in, *body), entry.start
    if role == "slot":
        return body, Start.DRILLED
    # a corner sharper than the run-on reaches: come round it from the end of the cut before
    if end is not None and math.dist(end, body[0].start) > kerf_mm / 2:
        body = (_round_corner(end, p.line[0].start, body[0].start, kerf_mm), *body)
    return body, Start.KERF


def _round_corner(end: Point, corner: Point, start: Point, kerf_mm: float) -> Segment:
    """The way from the end of one pass to the start of the next: straight, or swung about the part's corner where
    straight would clip it."""
    half = kerf_mm / 2
    straight = shapely.LineString([end, start]).distance(shapely.Point(corner)) >= half - 1e-6
    if straight or abs(math.dist(end, corner) - half) > 0.05 or abs(math.dist(start, corner) - half) > 0.05:
        return Line(end, start)
    a, b = (math.atan2(p[1] - corner[1], p[0] - corner[0]) for p in (end, start))
    return Arc(corner, half, a, math.remainder(b - a, 2 * math.pi))


def _title(cut: Cut, p: Pass, name: str) -> str:
    hole = cut.id.rsplit("-", 1)[-1]
    where = f", hole {hole[1:]}" if hole.startswith("h") else ""
    if cut.role == "drill":
        return f"{name}{where}: drill"
    return f"{name}{where}: {p.name}"


def work_clamp(index: int, plates: tuple[Plate, ...], blanks: tuple[Blank, ...], layout: Layout) -> Point:
    """Return where the work clamp bites: the middle of the widest metal that no part is cut from."""
    plate = kept_metal(plates[index], polygon(plates[index].outline, 0.1))
    parts = [polygon(p.move.outline(blanks[p.part].cut), 0.1) for p in layout.placed if p.plate == index]
    rest = plate.difference(joined(shapely.Polygon(p.exterior) for p in parts))
    if rest.is_empty or rest.area < 1.0:
        c = plate.representative_point()
        return (float(c.x), float(c.y))
    spot = shapely.maximum_inscribed_circle(rest, tolerance=5.0)
    return (float(spot.coords[0][0]), float(spot.coords[0][1]))
