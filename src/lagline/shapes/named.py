"""Shapes the shop has a word for, made from a few sizes; one table feeds the job file, the page and the docs."""

from __future__ import annotations

from collections.abc import Mapping

import shapely

from lagline.records.errors import refuse
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Outline
from lagline.shapes.named_plates import PLATES
from lagline.shapes.named_rounds import ROUNDS
from lagline.shapes.named_values import Faults, Given, Param, Shape, nearest, read_values, show
from lagline.shapes.region import loop_polygon

__all__ = ["SHAPES", "Param", "Shape", "make_shape"]

SHAPES: dict[str, Shape] = {s.name: s for s in (*PLATES, *ROUNDS)}
THIN_LAND_MM = 3.0


def _word(names: tuple[str, ...]) -> str:
    """What to call a hole with these edge names: its own name, or what they begin with."""
    return names[0] if len(names) == 1 else names[0].rsplit("-", 1)[0]


def _check_lands(outline: Outline, faults: Faults) -> tuple[Finding, ...]:
    """Fault holes that break the outside or each other; note thin lands that are left."""
    outer = loop_polygon(outline.outer)
    if not outer.is_valid or outer.area < 1e-3:
        faults.add("", f"the outline is not sound: {shapely.is_valid_reason(outer)}", "edges that do not cross")
        return ()
    holes = [loop_polygon(h) for h in outline.holes]
    words = [_word(h.names) for h in outline.holes]
    thin: list[tuple[float, str]] = []
    for i, (hole, word) in enumerate(zip(holes, words, strict=True)):
        if not outer.contains_properly(hole):
            faults.add("", f"{word} breaks the outside edge or lies outside the part", "holes inside the part")
            continue
        thin.append((outer.exterior.distance(hole), f"between {word} and the outside edge"))
        for other, name in zip(holes[:i], words[:i], strict=True):
            if hole.intersects(other):
                faults.add("", f"{word} runs into {name}", "holes apart from each other")
            else:
                thin.append((hole.distance(other), f"between {word} and {name}"))
    land, place = min(thin, default=(THIN_LAND_MM, ""))
    if land >= THIN_LAND_MM:
        return ()
    message = f"only {show(round(land, 2))} mm of metal is left {place}"
    return (Finding("thin-land", Severity.CAUTION, faults.where, message, "it may burn through: check the sizes"),)


def make_shape(name: str, values: Mapping[str, Given], where: str) -> tuple[Outline, tuple[Finding, ...]]:
    """Return the outline of a named shape, and what was noticed.

    Parameters
    ----------
    name : a key of ``SHAPES``
    values : sizes by name: lengths [mm], angles [deg], counts, words; what is left out takes its default
    where : part or field, for the findings

    Errors: ``LaglineError`` carrying every fault at once (unknown shape or size, out of range, a hole that breaks an
    edge, a corner that takes more than the side has).
    """
    shape = SHAPES.get(name)
    if shape is None:
        raise refuse("shape-unknown", where, f"there is no shape {name!r}", nearest(str(name), SHAPES))
    faults = Faults(where)
    checked = read_values(shape, values, faults)
    faults.raise_if_any()
    assert checked is not None
    shape.check(checked, faults)
    faults.raise_if_any()
    outline = shape.build(checked)
    findings = _check_lands(outline, faults)
    faults.raise_if_any()
    return outline, findings
