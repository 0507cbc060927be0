"""Which templates an outline takes: one board with the openings it has room for, the rest each on its own sheet."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import Polygon

from lagline.planning.features import hole_feature
from lagline.records.errors import refuse
from lagline.records.geometry import Loop, Outline, Point
from lagline.setouts.ask import Given
from lagline.setouts.guide_torch import Torch
from lagline.shapes.region import loop_polygon
from lagline.shapes.rolled import Rolled, roll, shifted
from lagline.trade.holes import minimum_hole, must_drill

WALL_MM = 8.0  # board between two edges that does not break; common practice, no source
ALIKE_MM = 0.02


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole of the part: how it is made (``opening``, ``own template`` or ``drill``) and what leads the cup."""

    name: str
    kind: str  # hole, slot, window
    centre: Point
    size_mm: float
    way: str
    loop: Loop
    rolled: Rolled | None
    sheet: int = 0  # which own template, from 1


@dataclass(frozen=True, slots=True)
class Boards:
    """The templates for an outline: the board for its outer edge, and its holes."""

    loop: Loop
    main: Rolled
    holes: tuple[Hole, ...]

    @property
    def own(self) -> tuple[tuple[Hole, int], ...]:
        """The first hole of each own template, and how many use it."""
        numbers = sorted({h.sheet for h in self.holes if h.sheet})
        return tuple(
            (next(h for h in self.holes if h.sheet == n), sum(h.sheet == n for h in self.holes)) for n in numbers
        )


def boards_for(outline: Outline, t: Torch, given: Given, where: str) -> Boards:
    """Return the templates of an outline.

    Errors: LaglineError when the part is too narrow for a template, or the hole for the cup, and when a hole to be kept
    has holes itself.
    """
    kept_hole = given.word("keep") == "hole"
    if kept_hole and outline.holes:
        message = (
            f"the outline is to be a hole, but has {len(outline.holes)} hole{'s' * (len(outline.holes) > 1)} in it"
        )
        raise refuse("template-hole-in-hole", where, message, "keep part, or an outline without holes")
    # a hole runs clockwise so that its metal is on the left
    outer = outline.outer.reversed() if kept_hole else outline.outer
    main = roll(outer, t.r, t.k, inside=kept_hole)
    if main is None:
        raise _no_room(t, given, kept_hole, where)
    return Boards(outer, main, () if kept_hole else _holes(outline, main, t, given))


def _no_room(t: Torch, given: Given, hole: bool, where: str) -> Exception:
    if hole:
        least = max(t.k, minimum_hole(given["thickness"]).value)
        return refuse(
            "template-no-cup",
            where,
            f"the cup, {given.show(2 * t.r)} across, does not go into the template's opening: the hole is nowhere "
            f"wider than the kerf, {given.show(t.k)}",
            f"by hand a hole of {given.show(least)} or more; drill it",
        )
    return refuse(
        "template-no-board",
        where,
        f"nothing is left for a template: the part is nowhere wider than {given.show(2 * t.kept.value)}, twice the "
        "distance from line to template",
        "a straightedge, or a circle arm for a disc; or a smaller cup",
    )


def _holes(outline: Outline, main: Rolled, t: Torch, given: Given) -> tuple[Hole, ...]:
    board = Polygon(main.edge)
    free = board.buffer(-WALL_MM)
    out: list[Hole] = []
    seen: list[tuple[Rolled, Loop, int]] = []
    round_ones: dict[float, tuple[Point, Rolled | None]] = {}
    for loop in outline.holes:
        f = hole_feature(loop)
        made = _round(f.at, f.size_mm, loop, t, round_ones) if f.kind == "hole" else roll(loop, t.r, t.k, inside=True)
        drill = made is None or (f.kind == "hole" and must_drill(f.size_mm, given["thickness"]))
        if drill or made is None:
            out.append(Hole(f.where, f.kind, f.at, f.size_mm, "drill", loop, None))
            continue
        opening = Polygon(made.edge)
        if free.covers(opening):
            free = free.difference(opening.buffer(WALL_MM).simplify(0.05))
            out.append(Hole(f.where, f.kind, f.at, f.size_mm, "opening", loop, made))
            continue
        number = next((n for _, known, n in seen if _alike(known, loop)), len({n for _, _, n in seen}) + 1)
        seen.append((made, loop, number))
        out.append(Hole(f.where, f.kind, f.at, f.size_mm, "own template", loop, made, number))
    return tuple(out)


def _round(
    at: Point, size: float, loop: Loop, t: Torch, known: dict[float, tuple[Point, Rolled | None]]
) -> Rolled | None:
    """The template of a round hole, made once for each size."""
    key = round(size, 4)
    if key not in known:
        known[key] = (at, roll(loop, t.r, t.k, inside=True))
    (x, y), made = known[key]
    return None if made is None else shifted(made, at[0] - x, at[1] - y)


def _alike(a: Loop, b: Loop) -> bool:
    """Whether two holes are the same, one only shifted."""
    p, q = loop_polygon(a), loop_polygon(b)
    if abs(p.area - q.area) > ALIKE_MM * p.length:
        return False
    dx, dy = p.centroid.x - q.centroid.x, p.centroid.y - q.centroid.y
    moved = Polygon([(x + dx, y + dy) for x, y in q.exterior.coords])
    return bool(p.symmetric_difference(moved).area < ALIKE_MM * p.length)
