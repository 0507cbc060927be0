"""`python bench/nesting.py`: the dense layout on five open strip-packing sets, beside the bare packing library.

A set is scaled so that its strip is a plate one metre wide, and laid out as any job is: quick, pressed, checked. The
library gets the same outlines and as many whole seconds as the layout took, start to end; it takes a little longer.
"""

from __future__ import annotations

import json
import math
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import shapely

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from lagline.planning.layout import lay_out  # noqa: E402
from lagline.planning.layout_check import check_layout  # noqa: E402
from lagline.records.geometry import Outline  # noqa: E402
from lagline.records.job import Plate  # noqa: E402
from lagline.shapes.region import polygon  # noqa: E402
from tests.generate import STEEL, blank, circle, polygon_loop, random_blanks, rectangle_plate  # noqa: E402

DATA = Path(__file__).parent / "data" / "nesting"
SETS = ("dighe1", "dighe2", "shapes0", "swim", "trousers")
BEST_KNOWN = {"dighe1": 1.0, "dighe2": 1.0, "shapes0": 0.6879, "swim": 0.7594, "trousers": 0.9100}  # data/nesting
WIDE_MM = 1000.0
ROOMIER = 3e-4  # the library does not take an exact fit: for both the strip is so much wider, and counts as it is given
LIBRARY = """
import json, sys, time, spyrrow
task = json.load(sys.stdin)
items = [spyrrow.Item(str(n), [tuple(p) for p in ring], demand=count, allowed_orientations=task["turns"])
         for n, (ring, count) in enumerate(task["items"])]
strip = spyrrow.StripPackingInstance("strip", strip_height=task["height"], items=items)
config = spyrrow.StripPackingConfig(total_computation_time=task["seconds"], seed=task["seed"])
begin = time.perf_counter()
print(json.dumps([strip.solve(config).width, time.perf_counter() - begin]))
"""


@dataclass(frozen=True, slots=True)
class Strip:
    """One set, scaled: outlines with their counts, turns allowed, total area; the strip is ``WIDE_MM`` wide."""

    name: str
    outlines: tuple[tuple[tuple[tuple[float, float], ...], int], ...]
    turns_deg: tuple[float, ...]
    area_mm2: float

    @property
    def pieces(self) -> int:
        return sum(n for _, n in self.outlines)

    def density(self, length_mm: float) -> float:
        return self.area_mm2 / (WIDE_MM * length_mm)


def read(name: str) -> Strip:
    """Read one set."""
    raw = json.loads((DATA / f"{name}.json").read_text(encoding="utf-8"))
    k = WIDE_MM / raw["strip_height"]
    outlines = tuple((tuple((x * k, y * k) for x, y in i["outline"]), i["quantity"]) for i in raw["items"])
    return Strip(name, outlines, tuple(map(float, raw["rotations_deg"])), raw["total_area"] * k * k)


@dataclass(frozen=True, slots=True)
class Outcome:
    """Length used, share of it covered, seconds taken, copies placed, what the check found, area lying double."""

    length_mm: float
    density: float
    seconds: float
    placed: int = 0
    faults: int = 0
    double_mm2: float = 0.0


def lagline(strip: Strip, seconds: int, seed: int) -> Outcome:
    """Lay a set out as a job on one long plate, gap nought."""
    blanks = tuple(
        blank(f"piece {n}", Outline(polygon_loop(list(ring))), count, turns_deg=strip.turns_deg)
        for n, (ring, count) in enumerate(strip.outlines)
    )
    plates = (rectangle_plate("strip", max(1.1 * WIDE_MM, 2.5 * strip.area_mm2 / WIDE_MM), WIDE_MM * (1 + ROOMIER)),)
    begin = time.perf_counter()
    laid = lay_out(blanks, plates, 0.0, seed=seed, method="dense", seconds=seconds)
    spent = time.perf_counter() - begin
    shapes = [polygon(p.move.outline(blanks[p.part].cut)) for p in laid.placed]
    length = max(s.bounds[2] for s in shapes)
    pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects").T.tolist()
    double = sum(shapes[a].intersection(shapes[b]).area for a, b in pairs if a < b)
    faults = len(check_layout(laid, blanks, plates))
    return Outcome(length, strip.density(length), spent, len(laid.placed), faults, double)


def library(strip: Strip, seconds: int, seed: int) -> Outcome:
    """Give a set to the packing library alone."""
    task = {
        "height": WIDE_MM * (1 + ROOMIER),
        "items": strip.outlines,
        "turns": strip.turns_deg,
        "seconds": seconds,
        "seed": seed,
    }
    told = subprocess.run(
        [sys.executable, "-c", LIBRARY], input=json.dumps(task), capture_output=True, text=True, check=True
    )
    length, spent = json.loads(told.stdout)
    return Outcome(length, strip.density(length), spent)


@dataclass(frozen=True, slots=True)
class Compared:
    """Medians of some runs of one set, the two by turns."""

    strip: Strip
    ours: tuple[Outcome, ...]
    theirs: tuple[Outcome, ...]

    @property
    def density(self) -> tuple[float, float]:
        one, other = (statistics.median(o.density for o in some) for some in (self.ours, self.theirs))
        return one, other

    @property
    def sound(self) -> bool:
        """Every piece placed, nothing found by the check, in every run."""
        return all(o.placed == self.strip.pieces and not o.faults for o in self.ours)


def compare(name: str, seconds: int, runs: int) -> Compared:
    """Run layout and library on a set by turns."""
    strip = read(name)
    ours, theirs = [], []
    for seed in range(1, runs + 1):
        ours.append(lagline(strip, seconds, seed))
        theirs.append(library(strip, round(ours[-1].seconds), seed))
    return Compared(strip, tuple(ours), tuple(theirs))


def table(seconds: int = 10, runs: int = 3) -> None:
    """Print one row a set."""
    print(f"dense layout, {seconds} s, median of {runs} by turns; best known from the literature, from memory")
    print(f"{'set':10}{'pieces':>8}{'lagline':>10}{'(s)':>7}{'bare':>10}{'(s)':>7}{'ratio':>8}{'best':>7}  all; double")
    for name in SETS:
        c = compare(name, seconds, runs)
        one, other = c.density
        spent = [statistics.median(o.seconds for o in some) for some in (c.ours, c.theirs)]
        double = max(o.double_mm2 for o in c.ours)
        print(
            f"{name:10}{c.strip.pieces:8}{100 * one:9.1f}%{spent[0]:7.1f}{100 * other:9.1f}%{spent[1]:7.1f}"
            f"{one / other:8.3f}{100 * BEST_KNOWN[name]:7.1f}%  {'yes' if c.sound else 'NO'}; {double:.0e} mm2",
            flush=True,
        )


def offcuts() -> tuple[Plate, ...]:
    """Plates that are no plain rectangles: an L, a round free edge, a plate with two openings."""
    ell = polygon_loop([(0, 0), (1500, 0), (1500, 450), (700, 450), (700, 1000), (0, 1000)])
    edge = []
    for i in range(48):
        a = 2 * math.pi * i / 48
        r = 1 + 0.15 * math.sin(2 * a + 1) + 0.1 * math.sin(3 * a) + 0.05 * math.sin(7 * a)
        edge.append((800 + 700 * r * math.cos(a), 500 + 430 * r * math.sin(a)))
    openings = (circle((450, 350), 130, "o1", hole=True), circle((1100, 600), 170, "o2", hole=True))
    sheet = polygon_loop([(0, 0), (1600, 0), (1600, 900), (0, 900)])
    outlines = {
        "an L": Outline(ell),
        "free edge": Outline(polygon_loop(edge)),
        "two openings": Outline(sheet, openings),
    }
    return tuple(Plate(name, "offcut", outline, STEEL, 8.0) for name, outline in outlines.items())


def pressed_offcuts(seconds: int = 10, gap_mm: float = 5.0) -> None:
    """Print what share of each offcut's usable metal parts cover, laid the quick way and pressed; more are offered
    than fit."""
    print(f"offcuts, {seconds} s, gap {gap_mm:g} mm: share of the usable metal that lies under parts")
    print(f"{'offcut':14}{'offered':>9}{'quick':>8}{'dense':>8}  placed of offered, sound")
    for plate in offcuts():
        metal, blanks = polygon(plate.outline).buffer(-plate.margin_mm).area, []
        for b in random_blanks(3, 90, low_mm=60, high_mm=240, kinds=("gusset", "ell", "cheek", "rectangle", "disc")):
            if sum(k.area_mm2 * k.part.quantity for k in [*blanks, b]) < 0.85 * metal:
                blanks.append(b)
        shares, placed, sound = [], [], True
        for method in ("quick", "dense"):
            laid = lay_out(tuple(blanks), (plate,), gap_mm, seed=1, method=method, seconds=seconds)
            sound &= not check_layout(laid, tuple(blanks), (plate,))
            shares.append(sum(blanks[p.part].area_mm2 for p in laid.placed) / metal)
            placed.append(len(laid.placed))
        offered = sum(b.area_mm2 * b.part.quantity for b in blanks) / metal
        print(
            f"{plate.name:14}{100 * offered:8.1f}%{100 * shares[0]:7.1f}%{100 * shares[1]:7.1f}%  {placed[0]} and "
            f"{placed[1]} of {sum(b.part.quantity for b in blanks)}, {'yes' if sound else 'NO'}",
            flush=True,
        )


if __name__ == "__main__":
    given = list(map(int, sys.argv[1:3]))
    table(*given)
    pressed_offcuts(*given[:1])
