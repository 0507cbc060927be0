"""What a layout will ask of the bench, before its cuts are put in order: for choosing between layouts."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.planning.plate_use import WORTH_MM, Box, largest_rectangle
from lagline.records.job import Job
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Cut, Layout, Method, Setting, Start, StraightGuide
from lagline.shapes.along import chain_length
from lagline.shapes.region import joined, loop_polygon, polygon
from lagline.trade.mass import mass_of_area
from lagline.trade.register import formula
from lagline.trade.wear import PIERCE_STARTS

SLOWEST_MM_S = 0.5


@dataclass(frozen=True, slots=True)
class Estimate:
    """A layout in numbers: copies without a place, guide set-ups, bench minutes, metal used and everything in money,
    and the width and height of the largest clear rectangle left on any plate that is cut [mm]."""

    left_over: int
    setups: int
    minutes: float
    metal: float
    money: float
    offcut_mm: tuple[float, float]

    @property
    def offcut_mm2(self) -> float:
        """The area of the largest clear rectangle [mm2]."""
        return self.offcut_mm[0] * self.offcut_mm[1]

    @property
    def rank(self) -> tuple[float, ...]:
        """Least is best: everything placed first, then money."""
        return (self.left_over, self.money)


@formula(
    "estimate.minutes",
    text="sum of set-ups (once where the guide stays) + starts + path / pace; walking, rests and waits left out",
    gives="bench time of a layout, for comparing layouts [min]",
    source="times from the kit: common practice, no source, until timed at the bench",
)
def cut_seconds(cut: Cut, setting: Setting, kit: Kit) -> tuple[int, float]:
    """Guide set-ups of a cut and the time it takes by itself [s]."""
    bench = kit.bench
    if cut.role == "drill":
        return 0, bench.drill_s.value
    by_method = {
        Method.STRAIGHTEDGE: bench.straight_setup_s.value,
        Method.ARM: bench.arm_setup_s.value,
        Method.TEMPLATE: bench.template_setup_s.value,
    }
    setups, total = 0, 0.0
    for n, p in enumerate(cut.passes):
        if p.start is None and p.method in by_method:
            times = 1 + (p.guide.shifts if isinstance(p.guide, StraightGuide) else 0)
            setups, total = setups + times, total + times * by_method[p.method]
        start = p.start if p.start is not None else cut.entries[0].start if n == 0 else Start.KERF
        total += bench.pierce_s.value if start is Start.PIERCE else bench.start_s.value
        if start is Start.DRILLED and cut.role != "slot":  # a slot's ends are drilled by cuts of their own
            total += bench.drill_s.value
        total += chain_length(p.path) / max(setting.pace_mm_s.value, SLOWEST_MM_S)
    return setups, total


def estimate(
    job: Job, kit: Kit, blanks: tuple[Blank, ...], settings: tuple[Setting, ...], layout: Layout, cuts: tuple[Cut, ...]
) -> Estimate:
    """Estimate a layout with the cuts made for it. Metal without a price in the kit counts nothing."""
    by_id = {s.id: s for s in settings}
    told = [cut_seconds(c, by_id[c.setting], kit) for c in cuts]
    minutes = math.fsum(t for _, t in told) / 60
    pierces = sum(
        sum(s is Start.PIERCE for s in (c.entries[0].start if c.entries else None, *(p.start for p in c.passes)))
        for c in cuts
    )
    starts = sum(len(c.passes) for c in cuts if c.role != "drill") + (PIERCE_STARTS.value - 1) * pierces
    metal, offcut = _metal(job, kit, blanks, settings, layout)
    wear = starts / max(kit.bench.starts_per_tip_set.value, 1.0) * kit.bench.tip_set_cost
    money = minutes / 60 * kit.bench.labour_per_h.value + metal + wear
    return Estimate(sum(n for _, n in layout.unplaced), sum(n for n, _ in told), minutes, metal, money, offcut)


def _metal(
    job: Job, kit: Kit, blanks: tuple[Blank, ...], settings: tuple[Setting, ...], layout: Layout
) -> tuple[float, tuple[float, float]]:
    """Metal charged [money] and the largest rectangle left on a plate that is cut [mm]: what is gone of a plate with an
    offcut worth keeping, else the whole plate."""
    prices = dict(kit.bench.metal_per_kg)
    kerf = {s.stock.key: s.kerf_mm.value for s in settings if s.bevel_deg == 0}
    total, best = 0.0, (0.0, 0.0)
    for index, plate in enumerate(job.plates):
        here = [p.move.outline(blanks[p.part].cut) for p in layout.placed if p.plate == index]
        if not here:
            continue
        solids = [loop_polygon(o.outer, 0.1) for o in here]
        whole = polygon(plate.outline, 0.1)
        left = whole - joined(s.buffer(kerf.get(plate.stock.key, 0.0), join_style="mitre") for s in solids)
        edges: tuple[Box, ...] = tuple(s.bounds for s in solids)
        _, _, w, h = largest_rectangle(left, edges)
        best = max(best, (w, h), key=lambda size: size[0] * size[1])
        used = whole.area - left.area if min(w, h) > WORTH_MM else whole.area
        kg = mass_of_area(plate.stock.metal, used, plate.stock.thickness_mm).value
        total += prices.get(plate.stock.metal, 0.0) * kg
    return total, best
