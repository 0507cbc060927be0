"""What a plate gives and keeps: masses of parts, drops and what is left, and the largest clear rectangle in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from lagline.records.finding import Finding, Severity
from lagline.records.job import Job, Plate
from lagline.records.length import show_length
from lagline.records.plan import Blank, Layout, Method, PlateUse, Setting, Step
from lagline.shapes.region import joined, loop_polygon, pieces, polygon, swath
from lagline.trade.mass import mass_of_area

FLATTEN_MM = 0.05
GRID = 90  # lines each way of the search grid, besides the edges of the parts
BLOCK = 6  # cells each way that are asked about together first
SIDE_MM = 0.05  # how close each side is brought to the metal's edge at last
WORTH_MM = 152.4  # both sides over 6 in: worth keeping; some shops say 12 in: common practice, no source
WORTH_HIGH_MM = 304.8

Box = tuple[float, float, float, float]  # left, bottom, width, height


@dataclass(frozen=True, slots=True)
class Cleared:
    """A plate after the job, as areas [mm2 inside]: the metal left on it and the drops fallen out of parts."""

    left: BaseGeometry
    drops: BaseGeometry


def plate_uses(
    job: Job,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    layout: Layout,
    steps: tuple[Step, ...],
) -> tuple[tuple[PlateUse, ...], tuple[Finding, ...]]:
    """Return the use of every plate of the job, and a note for each offcut worth keeping.

    What is neither part nor drop nor left went to kerf and swarf.
    """
    uses: list[PlateUse] = []
    findings: list[Finding] = []
    for index, plate in enumerate(job.plates):
        use = _use(index, plate, blanks, settings, layout, steps)
        uses.append(use)
        if use.parts_kg > 0:
            findings.extend(_offcut_findings(plate, use, job.units))
    return tuple(uses), tuple(findings)


def worth_keeping(use: PlateUse) -> bool:
    """True when both sides of the largest clear rectangle are over 6 in."""
    return min(use.offcut_mm[2:]) > WORTH_MM


def cleared(
    index: int,
    plate: Plate,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    layout: Layout,
    steps: tuple[Step, ...],
) -> Cleared:
    """Return what the job leaves of one plate: everything outside the parts and their kerf, and the drops."""
    kerf = {s.id: s.kerf_mm.value for s in settings}
    outlines = [p.move.outline(blanks[p.part].cut) for p in layout.placed if p.plate == index]
    here = [s for s in steps if s.plate == index]
    gone = joined(
        swath(s.path, kerf[s.setting]) if s.path else shapely.Point(_middle(s)).buffer(s.diameter_mm / 2)
        for s in here
        if s.path or s.method is Method.DRILL
    )
    parts = joined(polygon(o, FLATTEN_MM) for o in outlines)
    filled = joined(loop_polygon(o.outer, FLATTEN_MM) for o in outlines)
    holes = joined(loop_polygon(h, FLATTEN_MM) for o in outlines for h in o.holes)
    left = polygon(plate.outline, FLATTEN_MM).difference(filled).difference(gone)
    return Cleared(left, holes.difference(parts).difference(gone))


def _middle(step: Step) -> tuple[float, float]:
    points = np.array([p for s in step.line for p in s.points(FLATTEN_MM)])
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    return float(middle[0]), float(middle[1])


def _use(
    index: int,
    plate: Plate,
    blanks: tuple[Blank, ...],
    settings: tuple[Setting, ...],
    layout: Layout,
    steps: tuple[Step, ...],
) -> PlateUse:
    metal, thickness = plate.stock.metal, plate.stock.thickness_mm

    def kg(area: float) -> float:
        return mass_of_area(metal, area, thickness).value

    placed = [p for p in layout.placed if p.plate == index]
    parts_mm2 = sum(blanks[p.part].area_mm2 for p in placed)
    after = cleared(index, plate, blanks, settings, layout, steps)
    edges = [polygon(p.move.outline(blanks[p.part].cut), 1.0).bounds for p in placed]
    return PlateUse(
        plate=index,
        parts_kg=kg(parts_mm2),
        drops_kg=kg(after.drops.area),
        left_kg=kg(after.left.area),
        use_share=parts_mm2 / plate.outline.area,
        offcut_mm=largest_rectangle(after.left, tuple(edges)),
        kept_kg=kg(kept_mm2(after)),
    )


def kept_mm2(after: Cleared) -> float:
    """Area of the pieces that are worth keeping [mm2]: a round of 6 in lies in them, as the rack's advice has it."""
    return math.fsum(
        g.area
        for g in (*pieces(after.left), *pieces(after.drops))
        if min(g.bounds[2] - g.bounds[0], g.bounds[3] - g.bounds[1]) > WORTH_MM
        and not g.buffer(-WORTH_MM / 2, quad_segs=4).is_empty
    )


def largest_rectangle(metal: BaseGeometry, edges: tuple[Box, ...] = (), least_mm: float = 0.0) -> Box:
    """Return the largest rectangle square to the axes inside an area, as (left, bottom, width, height) [mm].

    Searched on a grid of lines through the bounds, the ``edges`` given (left, bottom, right, top of what stands in
    it) and even steps between; each side is then pushed out to within 0.05 mm of the area's edge. Always inside the
    area; within a grid step of the largest there is, exactly so where its sides lie on the lines. All 0 when there
    is none, or none with both sides ``least_mm`` or more.
    """
    nothing = (0.0, 0.0, 0.0, 0.0)
    if metal.is_empty:
        return nothing
    left, bottom, right, top = metal.bounds
    xs = _lines(left, right, [e for box in edges for e in (box[0], box[2])])
    ys = _lines(bottom, top, [e for box in edges for e in (box[1], box[3])])
    hair = 1e-6  # cells are so much smaller than their lines that a cell along an edge counts as inside
    solid = _solid(metal, xs, ys, hair)
    # a side may yet be pushed out by up to a step each way
    low_x, low_y = (least_mm - 2 * float(np.diff(v).max()) for v in (xs, ys))
    best, found = 0.0, None
    tall = np.zeros(len(xs) - 1, dtype=np.int64)  # clear cells below this row's top edge, by column
    for row in range(len(ys) - 1):
        tall = np.where(solid[row], tall + 1, 0)
        for a, b, n in _in_histogram(tall):
            wide, high = xs[b] - xs[a], ys[row + 1] - ys[row + 1 - n]
            area = wide * high
            if area > best and wide >= low_x and high >= low_y:
                best, found = area, (xs[a], ys[row + 1 - n], xs[b], ys[row + 1])
    if found is None:
        return nothing
    box = _pushed_out(metal, [float(v) + h for v, h in zip(found, (hair, hair, -hair, -hair), strict=True)])
    return box if min(box[2:]) >= least_mm - SIDE_MM else nothing


def _solid(metal: BaseGeometry, xs: NDArray[np.float64], ys: NDArray[np.float64], hair: float) -> NDArray[np.bool_]:
    """Which cells between the lines lie in the area, by rows; blocks of cells are asked first."""
    shapely.prepare(metal)
    first_x, first_y = np.arange(0, len(xs) - 1, BLOCK), np.arange(0, len(ys) - 1, BLOCK)
    end_x, end_y = np.minimum(first_x + BLOCK, len(xs) - 1), np.minimum(first_y + BLOCK, len(ys) - 1)
    blocks = shapely.box(xs[first_x], ys[first_y, None], xs[end_x], ys[end_y, None])

    def of_cells(of_blocks: NDArray[np.bool_]) -> NDArray[np.bool_]:
        tall = np.repeat(of_blocks, end_y - first_y, axis=0)
        return np.repeat(tall, end_x - first_x, axis=1)

    whole = shapely.contains(metal, blocks)
    solid = of_cells(whole)
    j, i = np.nonzero(of_cells(~whole & shapely.intersects(metal, blocks)))
    solid[j, i] = shapely.contains(metal, shapely.box(xs[i] + hair, ys[j] + hair, xs[i + 1] - hair, ys[j + 1] - hair))
    return solid


def _lines(low: float, high: float, through: list[float]) -> NDArray[np.float64]:
    own = [v for v in through if low < v < high]
    if len(own) > 2 * GRID:
        own = own[:: len(own) // (2 * GRID) + 1]
    lines = np.unique(np.concatenate([np.linspace(low, high, GRID + 1), own]))
    apart: NDArray[np.float64] = lines[np.concatenate([[True], np.diff(lines) > 1e-3])]
    return apart


def _in_histogram(tall: NDArray[np.int64]) -> list[tuple[int, int, int]]:
    """Widest span of columns (from, to) for each height that cannot be widened, by the usual stack."""
    out: list[tuple[int, int, int]] = []
    stack: list[tuple[int, int]] = []  # (first column, height), heights rising
    for column, height in enumerate([*tall.tolist(), 0]):
        first = column
        while stack and stack[-1][1] >= height:
            first, h = stack.pop()
            if h > height:
                out.append((first, column, h))
        if height:
            stack.append((first, height))
    return out


def _pushed_out(metal: BaseGeometry, sides: list[float]) -> Box:
    """Move each side outwards as far as the box stays inside, one after the other, to SIDE_MM."""
    left, bottom, right, top = metal.bounds
    limits = (left, bottom, right, top)
    for i in (0, 1, 2, 3):
        inside, outside = sides[i], limits[i]
        if metal.contains(shapely.box(*sides[:i], outside, *sides[i + 1 :])):
            inside = outside
        while abs(outside - inside) > SIDE_MM:
            middle = (inside + outside) / 2
            tried = [*sides[:i], middle, *sides[i + 1 :]]
            if metal.contains(shapely.box(*tried)):
                inside = middle
            else:
                outside = middle
        sides[i] = inside
    return (sides[0], sides[1], sides[2] - sides[0], sides[3] - sides[1])


def _offcut_findings(plate: Plate, use: PlateUse, units: str) -> tuple[Finding, ...]:
    _, _, width, height = use.offcut_mm
    size = f"{show_length(width, units)} x {show_length(height, units)}"
    if not worth_keeping(use):
        return ()
    sure = min(width, height) > WORTH_HIGH_MM
    mark = f"move the mark {plate.mark} onto it before cutting" if plate.mark else "mark metal and thickness on it"
    return (
        Finding(
            "offcut-keep",
            Severity.NOTE,
            plate.name,
            f"an offcut of {size} clear is left{'' if sure else ', worth keeping in most shops'}",
            mark,
        ),
    )
