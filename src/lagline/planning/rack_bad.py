"""Holes and bad areas of a piece on the rack: inside it an opening, over its edge taken off its outline."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from lagline.planning.fields import Fields
from lagline.planning.offcuts import outline_of
from lagline.records.finding import Severity
from lagline.records.geometry import Loop, Outline
from lagline.records.length import show_length
from lagline.shapes.region import loop_polygon, pieces, polygon

_NOTHING_MM2 = 1e-3  # of metal: drawn areas meet no closer than this
_LEAST_MM = 10.0  # a piece narrower than that is no plate; as for one given by its sides


def with_bad_areas(f: Fields, outline: Outline, bad: tuple[tuple[Fields, Loop], ...], unit: str) -> Outline | None:
    """Return a piece without its bad areas, None when nothing of it is left.

    An area inside the plate and clear of the others is an opening as it was given. All others, burnt or notched edges
    and areas that run into each other, are cut from the outline, drawn within 0.01 mm; of a piece they cut through the
    largest stays, and what falls off is said. One that meets no metal is refused.
    """
    whole = polygon(outline)
    areas = [loop_polygon(loop) for _, loop in bad]
    inner: list[int] = []
    for i, (own, _) in enumerate(bad):
        if whole.intersection(areas[i]).area < _NOTHING_MM2:
            own.refuse("bad-area-outside", "", "lies where there is no metal", "an area that reaches onto the piece")
            continue
        others = [a for k, a in enumerate(areas) if k != i]
        if whole.contains_properly(areas[i]) and not any(areas[i].intersects(a) for a in others):
            inner.append(i)
    over = [a for i, a in enumerate(areas) if i not in inner]
    if not over:
        return replace(outline, holes=(*outline.holes, *(bad[i][1] for i in inner)))
    left = sorted(pieces(whole.difference(shapely.union_all(over))), key=lambda p: -p.area)
    if not left or min(_size(left[0])) < _LEAST_MM:
        f.refuse("bad-area-all", "holes", "nothing of the piece is left between them", "areas smaller than the piece")
        return None
    kept, lost = left[0], [p for p in left[1:] if p.area >= _NOTHING_MM2]
    if lost:
        fell = " and ".join(" x ".join(show_length(v, unit) for v in _size(p)) for p in lost[:4])
        many = "a piece falls" if len(lost) == 1 else f"{len(lost)} pieces fall"
        say = f"{many} off, {fell}{' and more' if len(lost) > 4 else ''}: the largest is kept"
        f.note("bad-area-apart", "holes", say, "put each other one on the rack of its own", Severity.CAUTION)
    # an edge that no area touched stays as it was given
    base = outline_of(kept)
    if kept.exterior.equals(whole.exterior):
        base = Outline(outline.outer, base.holes)
    mine = [bad[i][1] for i in inner if kept.contains(areas[i])]
    return replace(base, holes=(*base.holes, *mine))


def _size(piece: Polygon) -> tuple[float, float]:
    left, bottom, right, top = piece.bounds
    return right - left, top - bottom
