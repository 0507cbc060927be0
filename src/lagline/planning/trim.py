"""Rough plates: a straight cut just inside a rough edge comes first, and is the datum edge from then on.

The plate's coordinates count from the trimmed corner, so the rough edge lies below nought (or left of it). Layout and
cuts see the plate without the strip that comes off; guides and proof the whole of it, with the trim its first cut.
"""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely.geometry.base import BaseGeometry

from lagline.planning.ground import Metal
from lagline.planning.guides import straight_guide
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Line, Move, Outline
from lagline.records.job import Job, Plate
from lagline.records.kit import Kit
from lagline.records.length import show_length
from lagline.records.plan import Cut, Entry, Layout, Method, Pass, Setting, Start
from lagline.shapes.along import from_polar
from lagline.shapes.form import box, lines
from lagline.shapes.region import joined, loop_polygon, pieces, polygon
from lagline.trade.mass import mass_of_area

SIDES = ("bottom", "left")  # the datum edge, and the one square to it
TRIM_MM = 12.7  # metal a trim takes off, the kerf in it: 1/2 in; common practice, no source


def at_trimmed_corner(outline: Outline, sides: tuple[str, ...], off_mm: float) -> Outline:
    """Return a plate's outline with its datum at the corner that trimming makes.

    Parameters
    ----------
    outline : with edges named bottom and left, the datum edge along x
    sides : which of the two are trimmed
    off_mm : how far inside the innermost point of each rough edge the new edge lies
    """
    left = next(s for s, n in zip(outline.outer.segments, outline.outer.names, strict=True) if n == "left")
    dx = max(left.start[0], left.end[0]) + off_mm if "left" in sides else 0.0
    dy = off_mm if "bottom" in sides else 0.0
    return Move(-dx, -dy).outline(outline)


def kept_metal(plate: Plate, metal: BaseGeometry) -> BaseGeometry:
    """Return of some metal of a plate what trimming leaves."""
    if not plate.trim:
        return metal
    x0, y0, x1, y1 = plate.outline.bounds()
    left = 0.0 if "left" in plate.trim else x0 - 1
    bottom = 0.0 if "bottom" in plate.trim else y0 - 1
    return metal.intersection(shapely.box(left, bottom, x1 + 1, y1 + 1))


def after_trim(plate: Plate) -> Plate:
    """Return a plate as it is once its rough edges are off; itself where none is."""
    if not plate.trim:
        return plate
    rest = max(pieces(kept_metal(plate, polygon(Outline(plate.outline.outer)))), key=lambda g: g.area)
    inside = [h for h in plate.outline.holes if rest.contains(loop_polygon(h))]
    cut = [loop_polygon(h, 0.02) for h in plate.outline.holes if h not in inside]
    rest = max(pieces(rest.difference(joined(cut))), key=lambda g: g.area)
    ring = shapely.geometry.polygon.orient(rest).exterior.coords[:-1]
    outer = lines([(float(x), float(y)) for x, y in ring], [f"e{n}" for n in range(1, len(ring) + 1)])
    square = len(plate.trim) == len(SIDES)
    return replace(
        plate,
        outline=Outline(outer, tuple(inside)),
        trim=(),
        trim_mm=0.0,
        diagonals_mm=(0.0, 0.0) if square else plate.diagonals_mm,
    )


def with_trims(
    job: Job, kit: Kit, settings: tuple[Setting, ...], layout: Layout, cuts: tuple[Cut, ...]
) -> tuple[tuple[Cut, ...], tuple[Finding, ...]]:
    """Return the cuts with the trims of every plate that is cut before them, and what is to be known of each."""
    out: list[Cut] = []
    findings: list[Finding] = []
    trimmed: dict[int, tuple[str, ...]] = {}
    for index in sorted({p.plate for p in layout.placed}):
        plate = job.plates[index]
        setting = next(s for s in settings if s.bevel_deg == 0 and s.stock.key == plate.stock.key)
        made: list[Cut] = []
        for side in (s for s in SIDES if s in plate.trim):
            made.append(_trim(index, plate, side, setting, kit, tuple(c.id for c in made)))
        if made:
            out.extend(made)
            trimmed[index] = tuple(c.id for c in made)
            findings.append(_told(plate, job.units))
    rest = (replace(c, after=(*trimmed[c.plate], *c.after)) if c.plate in trimmed else c for c in cuts)
    return (*out, *rest), tuple(findings)


def _trim(index: int, plate: Plate, side: str, setting: Setting, kit: Kit, after: tuple[str, ...]) -> Cut:
    """One trim, travelled with the plate on the torch's square side."""
    metal, half = polygon(plate.outline, 0.05), setting.kerf_mm.value / 2
    x0, y0, x1, y1 = plate.outline.bounds()
    bottom = side == "bottom"
    if not bottom and "bottom" in plate.trim:
        y0 = -half  # that strip has come off by then: the arc begins in its kerf's place
    far = shapely.LineString([(x0 - 1, -half), (x1 + 1, -half)] if bottom else [(-half, y0), (-half, y1 + 1)])
    on = shapely.intersection(metal, far).bounds
    a, b = ((on[0], 0.0), (on[2], 0.0)) if bottom else ((0.0, on[1]), (0.0, on[3]))
    # along the datum edge away from the corner the plate lies on the left, up the left edge on the right
    kept = kit.torch.square_side
    if bottom == (kept == "right"):
        a, b = b, a
    line = Line(a, b)
    path = Line(*((p[0], -half) if bottom else (-half, p[1]) for p in (a, b)))
    path = Line(path.start, from_polar(path.end, path.heading_start, half))  # the last corner falls too
    guide = straight_guide(line, setting, kit, -1 if kept == "right" else 1, Metal(metal))
    name = "trim the datum edge" if bottom else "trim the left edge" + (", square to it" if after else "")
    strip = ((x0, y0), (x1, -half * 2)) if bottom else ((x0, y0), (-half * 2, y1))
    (left, low), (right, high) = strip
    loop = box(((left + right) / 2, (low + high) / 2), right - left, high - low, "trim-")
    off = metal.intersection(shapely.box(left, low, right, high)).area
    return Cut(
        id=f"{plate.name}-t{1 + len(after)}",
        placed=-1,
        plate=index,
        role="trim",
        loop=loop,
        setting=setting.id,
        kept_side=kept,
        passes=(Pass(name, Method.STRAIGHTEDGE, (line,), (path,), False, guide),),
        entries=(Entry(0, 0.0, Start.EDGE, (path.start, path.start), path.end),),
        after=after,
        frees="drop",
        drop_kg=mass_of_area(plate.stock.metal, off, plate.stock.thickness_mm).value,
    )


def _told(plate: Plate, units: str) -> Finding:
    off = show_length(plate.trim_mm, units, 32)
    both = len(plate.trim) > 1
    which = {"bottom": "datum edge", "left": "left edge"}
    sides = " and ".join(which[s] for s in SIDES if s in plate.trim)
    message = f"its {sides} {'are' if both else 'is'} trimmed first, {off} in from the rough edge at its worst"
    how = "strike the line end to end, cut it, file off the dross"
    if both:
        how += "; square the second to it by 3-4-5"
    return Finding(
        "datum-trim",
        Severity.CAUTION,
        f"plate {plate.name}",
        message,
        f"{how}; every measure on the card is from the trimmed edge{'s' if both else ''}",
    )
