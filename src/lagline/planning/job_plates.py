"""The plates of a job file: by size and diagonals, by points, by shape or by drawing; with holes and bad areas."""

from __future__ import annotations

import math
from dataclasses import replace

from lagline.planning.fields import Fields, choice, length, number, read_text, shown
from lagline.planning.job_parts import Source, points, read_outlines
from lagline.planning.job_stock import read_stock
from lagline.planning.rack_bad import with_bad_areas
from lagline.planning.rack_use import on_rack, rack_plate
from lagline.planning.trim import SIDES as TRIMMED
from lagline.planning.trim import TRIM_MM, at_trimmed_corner
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Severity
from lagline.records.geometry import Loop, Move, Outline, Point
from lagline.records.job import Plate
from lagline.records.length import show_length
from lagline.shapes.form import box, circle, lines
from lagline.shapes.region import loop_polygon, polygon

MOST_PLATES = 50
SIDES = ("bottom", "right", "top", "left")
MARGIN_MM = 6.35  # kept clear along a plate's edge: 1/4 in, common practice, no source
MISMATCH_NOTED, MISMATCH_REFUSED = 0.003, 0.02  # of the diagonal the sides give
LEAN_NOTED = 0.03  # of the side


def read_plate(f: Fields, which: int, stock: Fields, source: Source, *, notched: bool = False) -> Plate | None:
    """Return the plate, None when its outline was refused; findings go to the fields' list.

    Holes and bad areas lie inside it, clear of each other; of one that is ``notched`` they may take its edge away.
    """
    if f.has("rack"):
        return plate_by_mark(f, source)
    name = f.take("name", read_text, chr(64 + which) if which <= 26 else f"plate {which}")
    kind = f.take("kind", choice("plate", "offcut"), "plate")
    margin = f.take("margin", length(source.unit, 0, 500), MARGIN_MM)
    mark = f.take("mark", read_text, "")
    metal = read_stock(stock, f.table("stock"), source.unit)
    diagonals = f.take("diagonals", lambda g, where: _pair(g, where, source.unit), (0.0, 0.0))
    outline = _outline(f, source, diagonals)
    if f.has("diagonals") and not f.has("width"):
        f.note("diagonals-unused", "diagonals", "only used with width and height", "the outline is taken as given")
    none: tuple[str, ...] = ()
    factory = f.take("factory_edges", _sides, none)
    grain = f.take("grain", number(-360, 360, "degrees from the datum edge"), None)
    rough = f.take("edges", choice("good", "rough"), "good") == "rough"
    trim = f.take("trim", _trimmed, ("bottom",) if rough else none)
    trim_mm = f.take("trim_width", length(source.unit, 3, 150), TRIM_MM)
    if trim and not f.has("width"):
        f.refuse("trim-shape", "trim", "a plate is trimmed where it is given by its sides", "width and height")
        trim = ()
    bad, closed = f.tables("holes", 200), f.tables("keep_out", 200)
    if outline is None:
        f.known |= f.data.keys()
        return None
    f.done()
    if trim:
        outline = at_trimmed_corner(outline, trim, trim_mm)
    areas = tuple((b, area) for i, b in enumerate(bad, 1) if (area := _bad_loop(b, i, source.unit)) is not None)
    whole = with_bad_areas(f, outline, areas, source.unit) if notched else _with_bad_areas(outline, areas)
    if whole is None:
        return None
    outline = whole
    keep_out = tuple(k for i, c in enumerate(closed, 1) if (k := _keep_out(c, i, source.unit)) is not None)
    off = trim_mm if trim else 0.0
    return Plate(name, kind, outline, metal, margin, diagonals, mark, factory, grain, keep_out, trim, off)


def plate_by_mark(f: Fields, source: Source) -> Plate | None:
    """Return a plate that lies on the rack: outline, metal and mark are the book's."""
    item = on_rack(f, source.rack)
    margin = f.take("margin", length(source.unit, 0, 500), MARGIN_MM)
    none: tuple[str, ...] = ()
    factory = f.take("factory_edges", _sides, none)
    grain = f.take("grain", number(-360, 360, "degrees from the datum edge"), None)
    closed = f.tables("keep_out", 200)
    keep_out = tuple(k for i, c in enumerate(closed, 1) if (k := _keep_out(c, i, source.unit)) is not None)
    f.done()
    if item is None:
        return None
    made = rack_plate(item, margin)
    name = f.take("name", read_text, made.name)
    return replace(made, name=name, factory_edges=factory, grain_deg=grain, keep_out=keep_out)


def _trimmed(given: object, where: str) -> tuple[str, ...]:
    allowed = '["bottom"], ["left"] or both: the edges that measures are taken from'
    if not isinstance(given, list) or not all(isinstance(g, str) and g.strip().lower() in TRIMMED for g in given):
        raise refuse("field-bad", where, f"{shown(given)} does not say which datum edges to trim", allowed)
    named = {g.strip().lower() for g in given}
    return tuple(s for s in TRIMMED if s in named)


def _sides(given: object, where: str) -> tuple[str, ...]:
    allowed = f'some of {", ".join(SIDES)}, as ["bottom", "left"]'
    if not isinstance(given, list) or not all(isinstance(g, str) and g.strip().lower() in SIDES for g in given):
        raise refuse("field-bad", where, f"{shown(given)} does not name edges of the plate", allowed)
    return tuple(dict.fromkeys(g.strip().lower() for g in given))


def _keep_out(f: Fields, which: int, unit: str) -> Loop | None:
    """A region parts keep out of: anywhere, also over the plate's edge."""
    loop = _bad_area(f, which, unit)
    f.done()
    if loop is not None and not loop_polygon(loop).is_valid:
        f.refuse("outline-crosses", "", "its edge crosses itself", "corners in order round the region")
        return None
    return loop


def _pair(given: object, where: str, unit: str) -> tuple[float, float]:
    if not isinstance(given, list) or len(given) != 2:
        raise refuse("field-bad", where, f"{given!s:.40} is not two diagonals", 'both, as ["62-1/2", "62-7/16"]')
    one = length(unit, 10, 50_000)
    return one(given[0], where), one(given[1], where)


def _outline(f: Fields, source: Source, diagonals: tuple[float, float]) -> Outline | None:
    ways = [k for k in ("shape", "file") if f.has(k)]
    if not ways and f.has("points"):
        ways.append("points")
    sized = f.has("width") | f.has("height")
    if len(ways) > 1 or (sized and ways and ways != ["shape"]):
        f.refuse("field-bad", "", "its outline is given in more than one way", _WAYS)
        return None
    try:
        if ways == ["points"]:
            return _at_datum(f, Outline(lines(*_named(points(source.unit)(f.data["points"], f.at("points"))))))
        if ways:
            found = read_outlines(f, source)
            return _at_datum(f, found[0][1]) if found else None
    except LaglineError as e:
        f.findings.extend(e.findings)
        return None
    one = length(source.unit, 10, 30_000)
    width, height = (f.need(k, one, 0.0, _WAYS) for k in ("width", "height"))
    return _by_size(f, width, height, diagonals) if width and height else None


_WAYS = "width and height, or points, or file, or shape with its sizes"


def _named(pts: tuple[tuple[float, float], ...]) -> tuple[tuple[tuple[float, float], ...], list[str]]:
    return pts, [f"e{i}" for i in range(1, len(pts) + 1)]


def _at_datum(f: Fields, outline: Outline) -> Outline | None:
    """Put the datum corner at (0, 0): a corner already there stays, else the bottom left of the bounding box."""
    if not polygon(outline).is_valid or outline.area < 1:
        f.refuse("outline-crosses", "", "the plate's edge crosses itself", "corners in order round the plate")
        return None
    corners = [s.start for s in outline.outer.segments]
    if any(math.hypot(*c) < 0.01 for c in corners):
        return outline
    left, bottom, _, _ = outline.bounds()
    if math.hypot(left, bottom) < 0.01:
        return outline
    f.note("datum-moved", "", "no corner at 0, 0: the plate is moved so that its bottom left is", "", Severity.MENDED)
    return Move(-left, -bottom).outline(outline)


def _by_size(f: Fields, width: float, height: float, diagonals: tuple[float, float]) -> Outline | None:
    if diagonals == (0.0, 0.0):
        f.note(
            "square-unmeasured",
            "",
            "taken as square: its diagonals were not taped",
            "diagonals = [from the datum corner, the other]",
        )
        lean = 0.0
    else:
        try:
            lean = plate_lean(width, height, *diagonals, f.at("diagonals"))
        except LaglineError as e:
            f.findings.extend(e.findings)
            return None
        _note_squareness(f, width, height, diagonals, lean)
    up = math.sqrt(height**2 - lean**2)
    pts = [(0.0, 0.0), (width, 0.0), (width + lean, up), (lean, up)]
    return Outline(lines(pts, ["bottom", "right", "top", "left"]))


def plate_lean(width: float, height: float, from_datum: float, other: float, where: str) -> float:
    """Return how far the side leans along the datum edge, from two sides and both diagonals of a parallelogram.

    s = (d1^2 - d2^2) / (4 w), by the law of cosines at the datum corner.

    Parameters: datum edge ``width`` [mm], side ``height`` [mm], diagonal ``from_datum`` to the far corner and
    the ``other`` [mm]. Returns s [mm], positive when the far corner is pushed away from the datum corner.

    Errors: LaglineError for diagonals no such plate can have: longer than both sides together, shorter than
    their difference, or more than 2 % from the length the sides give (d1^2 + d2^2 = 2 (w^2 + h^2)).
    """
    for d in (from_datum, other):
        if not abs(width - height) < d < width + height:
            say = f"a diagonal of {d:.1f} mm cannot close on sides of {width:.1f} and {height:.1f} mm"
            raise refuse("diagonal-impossible", where, say, "tape both diagonals and both sides again")
    if abs(_mismatch(width, height, from_datum, other)) > MISMATCH_REFUSED:
        say = f"the sides give a diagonal of {math.hypot(width, height):.1f} mm, taped {from_datum:.1f} and {other:.1f}"
        raise refuse("diagonal-impossible", where, say, "tape both diagonals and both sides again")
    lean = (from_datum**2 - other**2) / (4 * width)
    if abs(lean) >= height:
        raise refuse("diagonal-impossible", where, "the plate would be folded flat", "tape both diagonals again")
    return lean


def _mismatch(width: float, height: float, d1: float, d2: float) -> float:
    """Share by which the taped diagonals, taken together, differ from what the sides give."""
    return math.sqrt((d1**2 + d2**2) / 2) / math.hypot(width, height) - 1


def _note_squareness(f: Fields, width: float, height: float, diagonals: tuple[float, float], lean: float) -> None:
    off = _mismatch(width, height, *diagonals)
    if abs(off) > MISMATCH_NOTED:
        say = f"sides and diagonals disagree by {show_length(abs(off) * math.hypot(width, height), 'mm')}"
        f.note("diagonal-doubtful", "diagonals", say, "tape the sides and diagonals again", Severity.CAUTION)
    if abs(lean) > LEAN_NOTED * height:
        say = f"out of square by {show_length(abs(lean), 'mm')} over {show_length(height, 'mm')}: a very skewed plate"
        f.note("plate-skew", "diagonals", say, 'trim = ["bottom", "left"], or check the tape', Severity.CAUTION)


def _bad_loop(f: Fields, which: int, unit: str) -> Loop | None:
    """A hole or bad area, None when it was refused."""
    before = len(f.findings)
    hole = _bad_area(f, which, unit)
    f.done()
    if hole is None or len(f.findings) > before:
        return None
    area = loop_polygon(hole)
    if not area.is_valid or area.area < 1e-3:
        f.refuse("outline-crosses", "", "its edge crosses itself", "corners in order round the area")
        return None
    return hole


def _with_bad_areas(outline: Outline, bad: tuple[tuple[Fields, Loop], ...]) -> Outline:
    """Add openings and bad areas, each inside the plate and clear of the others."""
    plate = polygon(outline)
    loops = list(outline.holes)
    for f, hole in bad:
        area = loop_polygon(hole)
        if not plate.contains_properly(area):
            f.refuse(
                "bad-area-outside",
                "",
                "reaches over the plate's edge or another opening",
                "an area inside the plate, clear of others",
            )
        else:
            plate = plate.difference(area)
            loops.append(hole)
    return replace(outline, holes=tuple(loops))


def _bad_area(f: Fields, number: int, unit: str) -> Loop | None:
    place, size = length(unit, -100_000), length(unit, 0.5, 30_000)
    if f.has("points"):
        none: tuple[Point, ...] = ()
        pts = f.take("points", points(unit), none)
        return lines(pts, [f"h{number}-{i}" for i in range(1, len(pts) + 1)]) if pts else None
    if f.has("diameter"):
        x, y = (f.need(k, place, 0.0, "the centre, from the datum corner") for k in ("x", "y"))
        return circle((x, y), f.take("diameter", size, 1.0), f"h{number}")
    given = "x, y and diameter; or left, bottom, width and height; or points"
    left, bottom = (f.need(k, place, 0.0, given) for k in ("left", "bottom"))
    width, height = (f.need(k, size, 1.0, given) for k in ("width", "height"))
    return box((left + width / 2, bottom + height / 2), width, height, f"h{number}-")
