"""What the cutter should know about a cut before making it: guides, templates, free hand; told once, not per copy."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

import shapely

from lagline.planning.ground import Station
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Outline, Point
from lagline.records.plan import Blank, Method, Pass, StraightGuide, TemplateGuide
from lagline.shapes.reach import reachable
from lagline.shapes.region import pieces, polygon

FOLLOW_MM = 0.05
SLIVER_KERFS = 3.0  # common practice, no source
CORNER_AREA = 4.0  # half kerfs squared: an inside corner of 30 degrees or more keeps less metal than this


def lost_detail(blank: Blank, kerf_mm: float) -> list[Finding]:
    """Slots and notches that close up because they are narrower than the kerf, with their places on the drawing."""
    lost = _lost(blank.cut, kerf_mm / 2)
    if not lost:
        return []
    places = "; ".join(f"x {x:.0f} y {y:.0f}" for x, y in lost[:4]) + (" ..." if len(lost) > 4 else "")
    message = f"narrower than the {kerf_mm:.2f} mm kerf, so it stays uncut, at {places} on the drawing"
    return [Finding("narrower-than-kerf", Severity.NO_GO, blank.part.name, message, "saw or file it, or draw it wider")]


@lru_cache(maxsize=64)  # asked again for every layout that is tried
def _lost(cut: Outline, half_mm: float) -> tuple[Point, ...]:
    """Return a place in each slot or notch that half a kerf closes up."""
    want = polygon(cut)
    lost = [p for p in pieces(reachable(want, half_mm).difference(want)) if p.area > CORNER_AREA * half_mm**2]
    return tuple((q.x, q.y) for q in (p.representative_point() for p in lost))


def sliver(blank: Blank, kerf_mm: float) -> list[Finding]:
    """A part no wider anywhere than three kerfs burns away rather than comes out."""
    least = SLIVER_KERFS * kerf_mm
    if not polygon(blank.cut).buffer(-least / 2).is_empty:
        return []
    message = f"nowhere wider than {least:.1f} mm, three kerfs: it burns away before it comes out"
    return [Finding("part-too-small", Severity.NO_GO, blank.part.name, message, "saw it, or shear it")]


def bevels_left(blank: Blank) -> list[Finding]:
    """Bevels are not among these cuts: the edge is cut square here and prepared afterwards."""
    asked = [(e.name, e.bevel_deg) for e in blank.part.edges if e.bevel_deg > 0]
    if not asked:
        return []
    what = ", ".join(f"{name} {deg:g} deg" for name, deg in asked)
    message = f"cut square in this plan; its bevel is a second operation: {what}"
    return [
        Finding(
            "bevel-afterwards",
            Severity.CAUTION,
            blank.part.name,
            message,
            "the card's table of bevels gives tilt, set-back, pace and whether the set can; root edge as drawn",
        )
    ]


def guide_notes(name: str, passes: tuple[Pass, ...], station: Station) -> list[Finding]:
    """Guides that nothing holds, that must be moved along, that the cup cannot follow; freehand stretches."""
    straight = [(p.name, p.guide) for p in passes if isinstance(p.guide, StraightGuide)]
    moved = [n for n, g in straight if g.shifts]
    free = [p.name for p in passes if p.method is Method.FREEHAND]
    templates = [p for p in passes if p.method is Method.TEMPLATE]
    closing = [p.name for p in templates if p.guide is None]
    off = [q for p in templates if isinstance(p.guide, TemplateGuide) for q in strays(p, station)]
    lost = [f"x {q[0]:.0f} y {q[1]:.0f}" for q in off[:6]]
    told = (
        ("guide-moved", Severity.NOTE, moved, "the straightedge is moved along for {}", ""),
        ("freehand", Severity.NOTE, free, "freehand for {}: too short or too tight for a guide here", ""),
        ("template-closes-up", Severity.CAUTION, closing, "a template for {} closes up: narrower than the cup allows",
         "cut it freehand, or with a smaller cup"),
        ("cup-cannot-follow", Severity.CAUTION, lost, "the cup cannot follow the template from {}",
         f"leave the template there and follow the line freehand: a hollow must be wider than the cup's "
         f"{station.setting.cup_radius_mm.value:.1f} mm radius, a bulge rounder than the template's inset"),
    )  # fmt: skip
    return [Finding(c, s, name, m.format(", ".join(names)), a) for c, s, names, m, a in told if names]


def strays(p: Pass, station: Station) -> tuple[Point, ...]:
    """Return one place for each stretch where a cup rubbing the template does not carry the arc along the path
    (0.05 mm): a hollow tighter than the cup, or a bulge tighter than the template's inset."""
    assert isinstance(p.guide, TemplateGuide)
    edge = shapely.LineString(p.guide.edge)
    points = [q for s in p.path for q in s.points(0.05)]
    off = abs(shapely.distance(edge, shapely.points(points)) - station.setting.cup_radius_mm.value) > FOLLOW_MM
    return tuple(q for q, now, before in zip(points, off, [False, *off[:-1]], strict=True) if now and not before)


_COPY = re.compile(r"^(?P<part>.*?)(?: #(?P<copy>\d+))?(?:, hole (?P<hole>\d+))?$")


def merged(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings with those that say the same of several copies or holes of a part told once."""
    groups: dict[tuple[str, Severity, str, str, str], list[tuple[str, str]]] = {}
    for f in findings:
        m = _COPY.match(f.where)
        assert m is not None
        key = (f.code, f.severity, m["part"], f.message, f.allowed)
        groups.setdefault(key, []).append((m["copy"] or "", m["hole"] or ""))
    out = []
    for (code, severity, part, message, allowed), places in groups.items():
        copies = sorted({c for c, _ in places if c}, key=int)
        holes = sorted({h for _, h in places if h}, key=int)
        name = f"{part} #{', #'.join(copies)}" if copies else part
        if holes:
            name += f", hole{'s' * (len(holes) > 1)} {', '.join(holes)}"
        out.append(Finding(code, severity, name, message, allowed))
    return tuple(out)
