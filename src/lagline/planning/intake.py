"""Intake: from the job's parts to blanks, the size that comes off the torch, with what matters about their shape."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from lagline.planning.features import extent, features, inside_corners, tightest_inside_arc
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Arc, Loop, Outline
from lagline.records.job import EdgeUse, Job, Part, Plate, Size
from lagline.records.length import show_length
from lagline.records.plan import Blank
from lagline.shapes.offset import grow
from lagline.shapes.region import loop_polygon, polygon
from lagline.trade.allowance import grinding_allowance
from lagline.trade.holes import must_drill
from lagline.trade.mass import mass_of_area

REENTRANT_MM = 25.4  # AWS D1.1:2015: re-entrant corners of 1 in radius or more, but for copes and connection material
TINY_MM = 50.0  # a part that falls between slats and cannot be held; common practice, no source


def intake(job: Job) -> tuple[tuple[Blank, ...], tuple[Finding, ...]]:
    """Return a blank for every part of the job, and what was noticed.

    A blank's ``cut`` outline is the drawing with the grinding allowance of each edge's use added; a part drawn at
    cut size, and holes that must be drilled, get none. Nothing is dropped: where an allowance would close or break
    a loop, the loop stays as drawn and a finding says so.
    """
    blanks: list[Blank] = []
    findings: list[Finding] = []
    for part in job.parts:
        cut, noticed = with_allowance(part, job.units)
        area = cut.area
        mass = mass_of_area(part.stock.metal, area, part.stock.thickness_mm)
        blanks.append(Blank(part, part.outline, cut, features(cut), area, mass))
        findings.extend(noticed)
        findings.extend(_shape_findings(part, cut, job.units))
        findings.extend(_room_findings(part, cut, job.plates, job.units))
    return tuple(blanks), tuple(findings)


def with_allowance(part: Part, units: str) -> tuple[Outline, tuple[Finding, ...]]:
    """Return the part's outline at cut size, and what was noticed."""
    if part.size is Size.CUT:
        return part.outline, ()
    findings: list[Finding] = []
    outer = _grown(part, part.outline.outer, "outside edge", findings)
    holes = tuple(
        h if _drilled(part, h) else _grown(part, h, h.names[0].split(".")[0], findings) for h in part.outline.holes
    )
    cut = Outline(outer, holes)
    if not polygon(cut).is_valid:  # cannot come from growing outwards and shrinking holes, unless a loop went wrong
        say = "the grinding allowance makes the outline cross itself: the part is cut as drawn"
        return part.outline, (*findings, Finding("allowance-crosses", Severity.CAUTION, part.name, say))
    added, usual = _added(part, units)
    if added and cut != part.outline:
        say = f"cut larger than drawn, to be ground: {added}"
        findings.append(Finding("allowance", Severity.NOTE, part.name, say, "common practice, no source: " + usual))
    return cut, tuple(findings)


def _grown(part: Part, loop: Loop, word: str, findings: list[Finding]) -> Loop:
    amounts = tuple(grinding_allowance(part.edge(n).use).value for n in loop.names)
    if not any(amounts):
        return loop
    try:
        return grow(loop, amounts)
    except ValueError:
        say = f"the grinding allowance closes or breaks the {word}: it is cut as drawn, with nothing to grind"
        findings.append(Finding("allowance-closes", Severity.CAUTION, part.name, say, "edge use free, or drill it"))
        return loop


def _drilled(part: Part, hole: Loop) -> bool:
    """True for a round hole too small to cut by hand: it is drilled to size and nothing is ground."""
    s = hole.segments[0]
    return isinstance(s, Arc) and s.is_circle and must_drill(2 * s.radius, part.stock.thickness_mm)


def _added(part: Part, units: str) -> tuple[str, str]:
    """What is added on which edges, and what is usual, in words."""
    words, usual = [], []
    for use in EdgeUse:
        names = [e.name for e in part.edges if e.use is use]
        f = grinding_allowance(use)
        if names and f.value > 0:
            listed = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
            words.append(f"{show_length(f.value, units, 64)} for {use} on {listed}")
            usual.append(f"{show_length(f.low, units, 64)} to {show_length(f.high, units, 64)} for {use}")
    return "; ".join(words), "; ".join(usual)


def _shape_findings(part: Part, cut: Outline, units: str) -> Iterator[Finding]:
    corners = [c for loop in cut.loops for c in inside_corners(loop)]
    tight = tightest_inside_arc(part.outline)
    what = []
    if corners:
        listed = ", ".join(c.where for c in corners[:4]) + (" ..." if len(corners) > 4 else "")
        what.append(f"{len(corners)} sharp inside corner{'s' if len(corners) > 1 else ''} ({listed})")
    if tight is not None and tight[1] < REENTRANT_MM - 0.01:
        what.append(f"inside radius {show_length(tight[1], units)} ({tight[0]})")
    if what:
        yield Finding(
            "inside-corner",
            Severity.NOTE,
            part.name,
            f"{' and '.join(what)}: a torch leaves at least its own kerf radius there, and a notch starts cracks",
            "where AWS D1.1:2015 applies, 1 in (25 mm) radius or more, but for connection material and beam copes; "
            "else drill the corner first or grind it round",
        )
    yield from _land_findings(part, cut, units)
    long, short = extent(cut)
    if long < TINY_MM:
        size = f"{show_length(long, units)} by {show_length(short, units)}"
        yield Finding(
            "part-tiny",
            Severity.CAUTION,
            part.name,
            f"only {size}: it drops between the slats hot and cannot be guided well",
            "leave it on a tab, or saw it",
        )


def _land_findings(part: Part, cut: Outline, units: str) -> Iterator[Finding]:
    """Holes nearer to an edge or to each other than the plate is thick."""
    thickness = part.stock.thickness_mm
    edge = loop_polygon(cut.outer).exterior
    holes = [(h.names[0].split(".")[0], loop_polygon(h)) for h in cut.holes]
    lands = [(edge.distance(g), f"{word} and the outside edge") for word, g in holes]
    lands += [(a.distance(b), f"{x} and {y}") for (x, a), (y, b) in combinations(holes, 2)]
    thin = sorted((land for land in lands if land[0] < thickness), key=lambda land: round(land[0], 1))
    if thin:
        more = f", and {len(thin) - 1} more such" if len(thin) > 1 else ""
        yield Finding(
            "thin-land",
            Severity.CAUTION,
            part.name,
            f"{show_length(thin[0][0], units)} of metal between {thin[0][1]}{more}: less than the plate's thickness, "
            "it overheats and may burn through",
            "drill the hole, or cut it first and let the part cool",
        )


def _room_findings(part: Part, cut: Outline, plates: tuple[Plate, ...], units: str) -> Iterator[Finding]:
    """A part that no plate can hold, whatever the layout does."""
    fitting = [p for p in plates if p.stock.key == part.stock.key]
    if not fitting:
        have = sorted({f"{p.stock.metal} {p.stock.thickness_text}" for p in plates})
        say = f"no plate of {part.stock.metal} {part.stock.thickness_text}"
        yield Finding("plate-none", Severity.NO_GO, part.name, say, f"plates given: {', '.join(have) or 'none'}")
    elif all(_room(p).is_empty for p in fitting):
        named = ", ".join(f"{p.name} ({show_length(p.margin_mm, units)})" for p in fitting)
        say = f"the margin leaves nothing of any plate of its stock: {named}"
        yield Finding("plate-all-margin", Severity.NO_GO, part.name, say, "a smaller margin")
    elif not any(may_hold(p, polygon(cut, 0.05)) for p in fitting):
        long, short = extent(cut)
        size = f"{show_length(long, units, feet=True)} by {show_length(short, units, feet=True)}"
        say = f"{size} at cut size is larger than every plate of its stock inside its margin"
        yield Finding("part-too-large", Severity.NO_GO, part.name, say, "a larger plate, or a splice")


def _room(plate: Plate) -> BaseGeometry:
    """What a plate's margin leaves of it, openings taken as metal."""
    return polygon(replace(plate.outline, holes=()), 0.05).buffer(-plate.margin_mm, join_style="mitre")


def may_hold(plate: Plate, part: BaseGeometry) -> bool:
    """False when the part surely does not fit: by area, or by the smallest rectangles round both.

    A shape inside another has a hull inside its hull, so that neither length across nor width across is larger.
    """
    room = _room(plate)
    if room.is_empty or part.area > room.area + 1:
        return False
    hull, inner = room.convex_hull, part.convex_hull
    return _across(inner)[0] <= _across(hull)[0] + 0.1 and _across(inner)[1] <= _across(hull)[1] + 0.1


def _across(hull: BaseGeometry) -> tuple[float, float]:
    """Largest distance between two points of a convex area, and its least width [mm]."""
    corners = shapely.get_coordinates(hull)[:-1]
    away = np.hypot(*(corners[:, None, :] - corners[None, :, :]).transpose(2, 0, 1))
    along = np.roll(corners, -1, axis=0) - corners
    along = along[np.hypot(along[:, 0], along[:, 1]) > 1e-9]
    normal = np.stack((-along[:, 1], along[:, 0])) / np.hypot(along[:, 0], along[:, 1])
    heights = corners @ normal
    return float(away.max()), float((heights.max(axis=0) - heights.min(axis=0)).min())
