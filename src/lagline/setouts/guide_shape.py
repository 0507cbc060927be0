"""The outline a template is for: a named shape with its sizes as text, or a drawing."""

from __future__ import annotations

import math
import re
from pathlib import Path

from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Outline
from lagline.records.length import read_length
from lagline.setouts.ask import Faults, Given
from lagline.shapes.named import SHAPES, make_shape
from lagline.shapes.named_values import Given as Size
from lagline.shapes.named_values import Param

_NAME = re.compile(r"([A-Za-z][A-Za-z_-]*)\s*=\s*")
_STOP = (Severity.NO_GO, Severity.REFUSED)
MOST_HOLES = 100  # more are no work for a template, and their sheet could not be read
HOW = "name=size pairs with spaces between, such as"


def _say(shape: str) -> str:
    needed = " ".join(f"{p.name}=..." for p in SHAPES[shape].params if p.required)
    return f"{HOW} {needed}; a {shape} may have " + ", ".join(p.name for p in SHAPES[shape].params)


def _points(text: str, units: str, where: str) -> Size:
    """Corners as ``0,0 12,0 0,6-1/2``."""
    pairs = [p.split(",") for p in text.split()]
    return [[read_length(c, units, where, signed=True) for c in p] for p in pairs]


def _value(p: Param | None, text: str, units: str, where: str) -> Size:
    if p is None:
        return text
    place = f"{where}, {p.name.replace('_', ' ')}"
    if p.kind == "length":
        return read_length(text, units, place)
    if p.kind == "points":
        return _points(text, units, place)
    if p.kind in ("count", "angle"):
        try:
            return float(text.removesuffix("deg").removesuffix("°"))
        except ValueError:
            return text  # the shape's own reader says what it is not
    return text


def read_sizes(shape: str, text: str, units: str, where: str) -> dict[str, Size]:
    """Return the sizes of a shape from text such as ``length=12 width=3-1/2``.

    Errors: LaglineError naming what could not be read, every fault at once.
    """
    faults = Faults(where)
    found = list(_NAME.finditer(text))
    before = text[: found[0].start()] if found else text
    if before.strip(" ,;"):
        faults.add("sizes", f'"{before.strip()[:40]}" is not a size', _say(shape), "template-sizes")
    params = {p.name: p for p in SHAPES[shape].params}
    out: dict[str, Size] = {}
    for n, m in enumerate(found):
        name = m[1].lower().replace("-", "_")
        end = found[n + 1].start() if n + 1 < len(found) else len(text)
        value = text[m.end() : end].strip(" ,;")
        if name in out:
            faults.add("sizes", f"{name} is given twice", _say(shape), "template-sizes")
        elif not value:
            faults.add("sizes", f"{name} has no size after its =", _say(shape), "template-sizes")
        else:
            try:
                out[name] = _value(params.get(name), value, units, where)
            except LaglineError as error:
                faults.found.extend(error.findings)
    faults.raise_if_any()
    return out


def _drawn(path: str, where: str) -> tuple[str, Outline, tuple[Finding, ...]]:
    from lagline.shapes.read import read_drawing

    drawing = read_drawing(Path(path))
    wrong = [f for f in drawing.findings if f.severity in _STOP]
    if wrong or not drawing.outlines:
        raise LaglineError(*(wrong or drawing.findings))
    told = list(drawing.findings)
    if len(drawing.outlines) > 1:
        message = f"the drawing holds {len(drawing.outlines)} outlines: the template is for the largest"
        told.append(
            Finding("template-largest", Severity.CAUTION, where, message, "one drawing for each template to be made")
        )
    return Path(path).stem.replace("_", " "), drawing.outlines[0], tuple(told)


def outline_of(given: Given, where: str) -> tuple[str, Outline, tuple[Finding, ...]]:
    """Return what the template is for: its name, its outline, and what was noticed in reading it.

    Errors: LaglineError for a missing or unreadable file, an outline that crosses itself, sizes that are none, neither
    or both of file and sizes.
    """
    file, sizes = given.words.get("file", ""), given.words.get("sizes", "")
    faults = Faults(where)
    shape = given.word("shape")
    if file and sizes:
        faults.add("file", "both a drawing and sizes are given", "a file, or a shape with its sizes", "template-both")
    if not file and not sizes:
        faults.add(
            "sizes", f"the sizes of the {shape} are needed", f"{_say(shape)}; or a drawing file", "template-none"
        )
    faults.raise_if_any()
    if file:
        drawn = _drawn(file, where)
        _few(len(drawn[1].holes), where)
        return drawn
    values = read_sizes(shape, sizes, given.units, where)
    counted = [v for p in SHAPES[shape].params if p.kind == "count" and p.name != "sides"
               for v in (values.get(p.name, p.default),) if isinstance(v, int | float)]  # fmt: skip
    _few(math.prod(counted) if counted else 0, where)
    outline, told = make_shape(shape, values, where)
    return "plate by points" if shape == "points" else shape.replace("_", " "), outline, told


def _few(holes: float, where: str) -> None:
    if holes > MOST_HOLES:
        message = f"{holes:.0f} holes are too many for a template"
        allowed = f"at most {MOST_HOLES}: set them out by coordinates, and print the outline without them"
        raise refuse("template-holes", where, message, allowed)
