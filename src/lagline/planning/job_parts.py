"""The parts of a job file: each from a named shape or a drawing, with its edges' use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from lagline.planning.fields import Fields, choice, length, nearest, number, read_flag, read_text, shown, whole
from lagline.planning.job_stock import read_stock
from lagline.planning.rack_use import Rack, no_rack
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Line, Outline, Point
from lagline.records.job import Edge, EdgeUse, Part, Size
from lagline.records.length import show_length
from lagline.shapes.named import SHAPES, make_shape
from lagline.shapes.units import ASKED

T = TypeVar("T")
MOST_COPIES = 5000
MOST_PARTS = 500
BRIDGE_MM = 6.35, 50.8  # narrower burns away, wider is no bridge; common practice, no source
_POINTS = 'three or more pairs of x and y, such as [[0, 0], [12, 0], [0, "6-1/2"]]'
_QUARTERS: tuple[float, ...] = (0.0, 90.0, 180.0, 270.0)


@dataclass(frozen=True)
class Source:
    """Where a job's drawings are looked for, and its default unit."""

    folder: Path
    unit: str
    anywhere: bool  # whether a drawing may lie outside the folder
    rack: Rack = no_rack


def read_part(f: Fields, stock: Fields, source: Source) -> tuple[Part, ...]:
    """Return the part (or with ``each`` one part per outline of the drawing); findings go to the fields' list."""
    given_name = f.take("name", read_text, "")
    quantity = f.take("quantity", whole(1, MOST_COPIES), 1)
    size = Size(f.take("size", choice("finished", "cut"), "finished"))
    tolerance = f.take("tolerance", length(source.unit, 0, 50), 0.0)
    turns = f.take("turns", read_turns, _QUARTERS)
    mirror = f.take("mirror", read_flag, False)
    grain = f.take("grain", number(-360, 360, "degrees on the drawing"), None)
    bridge = f.take("bridge", _read_bridge(source.unit), None)
    metal = read_stock(stock, f.table("stock"), source.unit)
    found = read_outlines(f, source)
    edges, bevels = f.table("edges"), f.table("bevels")
    if not found:
        f.known |= f.data.keys()  # what the fields are allowed to be is not known either
        return ()
    f.done()
    parts = []
    for suffix, outline, origin in found:
        name = (given_name or origin.rsplit("/", 1)[-1].rsplit(".", 1)[0].replace("_", " ")) + suffix
        made = read_edges(edges, bevels, outline)
        parts.append(Part(name, outline, quantity, metal, made, size, tolerance, turns, mirror, origin, grain, bridge))
    return tuple(parts)


def _read_bridge(unit: str) -> Callable[[object, str], float]:
    """Return a reader for the width of a part's bridges, 0 for none [mm]."""
    one = length(unit, 0, BRIDGE_MM[1])

    def read(given: object, where: str) -> float:
        wide = one(given, where)
        if 0 < wide < BRIDGE_MM[0]:
            raise refuse(
                "field-bad", where, f"a bridge of {shown(given)} would burn away", "0 for none, or 1/4 in to 2 in"
            )
        return wide

    return read


def read_turns(given: object, where: str) -> tuple[float, ...]:
    """Read how a part may be turned on the plate: "any", "fixed", or angles in degrees."""
    if isinstance(given, str) and given.strip().lower() in ("any", "fixed"):
        return () if given.strip().lower() == "any" else (0.0,)
    allowed = '"any", "fixed" or angles in degrees such as [0, 180]'
    if not isinstance(given, list) or not 1 <= len(given) <= 72:
        raise refuse("field-bad", where, f"{shown(given)} does not say how the part may be turned", allowed)
    read = number(-360, 360, "degrees")
    return tuple(sorted({read(g, where) % 360 for g in given}))


def read_outlines(f: Fields, source: Source) -> list[tuple[str, Outline, str]]:
    """Return (name suffix, outline, origin) from ``shape`` or ``file``, empty when refused."""
    if f.has("shape") == f.has("file"):
        both = "both shape and file are given" if f.has("shape") else "neither shape nor file is given"
        f.refuse("field-missing", "", both, 'one of them: shape = "gusset" with its sizes, or file = "cheek.dxf"')
        return []
    try:
        return _from_file(f, source) if f.has("file") else _from_shape(f, source)
    except LaglineError as e:
        f.findings.extend(e.findings)
        return []


def _from_shape(f: Fields, source: Source) -> list[tuple[str, Outline, str]]:
    word = read_text(f.data["shape"], f.at("shape")).lower().replace(" ", "_")
    shape = SHAPES.get(word)
    if shape is None:
        raise refuse("shape-unknown", f.at("shape"), f"{shown(f.data['shape'])} is not a shape", nearest(word, SHAPES))
    before = len(f.findings)
    values: dict[str, object] = {}
    for p in shape.params:
        if not f.has(p.name):
            continue
        if p.kind == "length":
            values[p.name] = f.take(p.name, length(source.unit), 0.0)
        elif p.kind == "points":
            values[p.name] = f.take(p.name, points(source.unit), None)
        else:
            values[p.name] = f.data[p.name]
    if len(f.findings) > before:
        return []
    outline, findings = make_shape(word, values, f.where)  # type: ignore[arg-type]
    f.findings.extend(findings)
    return [("", outline, word)]


def points(unit: str) -> Callable[[object, str], tuple[Point, ...]]:
    """Return a reader for a list of [x, y] pairs in shop lengths, negative allowed [mm]."""

    def read(given: object, where: str) -> tuple[Point, ...]:
        if not isinstance(given, list) or not 3 <= len(given) <= 1000:
            raise refuse("field-bad", where, f"{shown(given)} is not a list of points", _POINTS)
        one = length(unit, -100_000)
        out = []
        for i, pair in enumerate(given, 1):
            if not isinstance(pair, list) or len(pair) != 2:
                raise refuse("field-bad", f"{where}[{i}]", f"{shown(pair)} is not a point", _POINTS)
            out.append((one(pair[0], f"{where}[{i}]"), one(pair[1], f"{where}[{i}]")))
        return tuple(out)

    return read


def _from_file(f: Fields, source: Source) -> list[tuple[str, Outline, str]]:
    from lagline.shapes.read import read_drawing  # ezdxf and svgelements are slow to load

    name = read_text(f.data["file"], f.at("file"))
    drawing_unit = f.take("drawing_unit", choice(*ASKED), None)
    pick = f.take("outline", whole(1, 10_000), 0)
    each = f.take("each", read_flag, False)
    path = source.folder / name
    if not source.anywhere and not path.resolve().is_relative_to(source.folder.resolve()):
        raise refuse("file-outside", f.at("file"), f"{shown(name)} lies outside the job's folder", "a file in it")
    if path.is_dir():
        raise refuse("file-is-folder", f.at("file"), f"{shown(name)} is a folder", "the name of the drawing in it")
    if not path.is_file():
        raise refuse(
            "file-missing", f.at("file"), f"there is no file {shown(name)}", "a DXF or SVG beside the job file"
        )
    drawing = read_drawing(path, drawing_unit)
    f.findings.extend(drawing.findings)
    crossed = tuple(x for x in drawing.findings if x.code in _CROSSED)
    found = _choose(f, name, drawing.outlines, pick, each)
    if crossed and not pick and not each:
        _may_be_replaced(f, name, found[0][1], crossed, source.unit)
    return found


_CROSSED = ("outlines-cross", "outline-crosses-itself")


def _may_be_replaced(f: Fields, name: str, taken: Outline, crossed: tuple[Finding, ...], units: str) -> None:
    """Stop a plan whose part may be no more than what is left of a drawing, an outline being left out for crossing."""
    x0, y0, x1, y1 = taken.bounds()
    size = f"{show_length(x1 - x0, units)} by {show_length(y1 - y0, units)}"
    more = f", and {len(crossed) - 1} more such" if len(crossed) > 1 else ""
    say = (
        f"{shown(name)}: {crossed[0].message}{more}; the largest outline that is left, {size}, may not be the part "
        "that was drawn"
    )
    allowed = "mend the drawing, or say which is meant: outline = its number"
    f.note("outline-left-out", "file", say, allowed, Severity.NO_GO)


def _choose(
    f: Fields, name: str, outlines: tuple[Outline, ...], pick: int, each: bool
) -> list[tuple[str, Outline, str]]:
    """Pick the outlines of a drawing that are meant, and say so when there was a choice."""
    if each and pick:
        raise refuse("field-bad", f.at("each"), "outline and each are both given", "one of them")
    if not outlines:
        raise refuse("drawing-empty", f.at("file"), f"{shown(name)} has no closed outline", "a drawing of a part")
    if pick > len(outlines):
        raise refuse("field-bad", f.at("outline"), f"the drawing has {len(outlines)}", f"1 to {len(outlines)}")
    if each:
        return [(f" {i}" if len(outlines) > 1 else "", o, name) for i, o in enumerate(outlines, 1)]
    chosen = pick or max(range(1, len(outlines) + 1), key=lambda i: outlines[i - 1].area)
    if not pick and len(outlines) > 1:
        say = f"{shown(name)} has {len(outlines)} outlines; the largest, number {chosen}, is taken"
        f.note("outline-chosen", "file", say, "outline = the number wanted, or each = true for all of them")
    return [("", outlines[chosen - 1], name)]


def read_edges(uses: Fields, bevels: Fields, outline: Outline) -> tuple[Edge, ...]:
    """Return one edge per segment of the outline.

    A field names one edge, or several: ``all``, ``outer``, ``holes``; ``bottom``, ``right``, ``top``, ``left`` for the
    straight edges on that side of a drawing; or what edge names begin with (``bolt`` for ``bolt-1``, ``bolt-2`` ...,
    ``h1`` for ``h1.1``, ``h1.2`` ...). The narrower name wins over the wider, whatever their order in the file.
    """
    use = _per_edge(uses, outline, choice(*EdgeUse), "free")
    bevel = _per_edge(bevels, outline, number(0, 60, "degrees"), 0.0)
    return tuple(Edge(n, EdgeUse(use[n]), bevel[n]) for loop in outline.loops for n in loop.names)


def _per_edge(f: Fields, outline: Outline, read: Callable[[object, str], T], default: T) -> dict[str, T]:
    outer = outline.outer.names
    everything = tuple(n for loop in outline.loops for n in loop.names)
    wide = {"all": everything, "outer": outer, "holes": everything[len(outer) :], **_sides(outline)}
    matched: list[tuple[int, str, tuple[str, ...]]] = []
    for key in f.data:
        if key in everything:
            matched.append((1000, key, (key,)))
        elif key in wide:
            matched.append((list(wide).index(key) - len(wide), key, wide[key]))
        elif some := tuple(n for n in everything if n.startswith((f"{key}-", f"{key}."))):
            matched.append((len(key), key, some))
    out = dict.fromkeys(everything, default)
    for _, key, names in sorted(matched, key=lambda m: m[0]):
        out |= dict.fromkeys(names, f.take(key, read, default))
    f.done((*wide, *everything))
    return out


def _sides(outline: Outline) -> dict[str, tuple[str, ...]]:
    """Straight outer edges lying on each side of the outline's bounding box, where there are any."""
    left, bottom, right, top = outline.bounds()
    on = {"bottom": (1, bottom), "right": (0, right), "top": (1, top), "left": (0, left)}
    found = {
        side: tuple(
            n
            for s, n in zip(outline.outer.segments, outline.outer.names, strict=True)
            if isinstance(s, Line) and abs(s.start[axis] - at) < 0.1 and abs(s.end[axis] - at) < 0.1
        )
        for side, (axis, at) in on.items()
    }
    return {side: names for side, names in found.items() if names}


def check_names(parts: list[tuple[Part, Fields]]) -> tuple[Part, ...]:
    """Return the parts with names of their own: the file's own names must differ, the others are numbered."""
    seen: dict[str, str] = {}
    for part, f in parts:
        if f.has("name"):
            if part.name.lower() in seen:
                say = f'"{part.name}" is also the name of {seen[part.name.lower()]}'
                f.refuse("name-twice", "name", say, "a name of its own for each part")
            seen.setdefault(part.name.lower(), f.where)
    out = []
    for part, f in parts:
        name, n = part.name, 1
        while not f.has("name") and name.lower() in seen:
            n += 1
            name = f"{part.name} {n}"
        seen.setdefault(name.lower(), f.where)
        out.append(replace(part, name=name))
    return tuple(out)
