"""Steps as the heat field needs them: where the arc goes, when, and what heat it leaves."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.geometry import chain_points
from lagline.records.plan import Plan, Setting, Start
from lagline.trade.bow import edge_heat_j_mm
from lagline.trade.heat_field import Track
from lagline.trade.register import formula

FLAT_MM = 0.2
SLOWEST_MM_S = 0.5


@dataclass(frozen=True, slots=True)
class Burn:
    """One step with the arc on: its track, and when heat begins to go in [s, on the job's clock]. ``goes_on``: it is
    begun from the kerf of the step before."""

    number: int
    title: str
    plate: int
    setting: str
    track: Track
    struck_s: float
    goes_on: bool


@formula(
    "heat.left",
    text="q = 2 x bow.heat along the cut; a pierce stands first for its time with the same power",
    gives="heat a cut leaves in the plate [J/mm] and [J]",
    source="derived from pace.heat-needed; that an edge start stands no time on the plate, a pierce all of it: ours",
)
def burns_of(plan: Plan) -> tuple[Burn, ...]:
    """Return the steps that burn, in order of the clock."""
    out = []
    clocks = {c.number: c for c in plan.timetable.clocks}
    for step in plan.steps:
        clock = clocks.get(step.number)
        if clock is None or not step.path or clock.arc_s <= 0:
            continue
        setting = plan.setting(step.setting)
        pace = max(setting.pace_mm_s.value, SLOWEST_MM_S)
        length = math.fsum(s.length for s in step.path)
        stand = max(0.0, clock.arc_s - length / pace) if step.start is Start.PIERCE else 0.0
        q = heat_left_j_mm(setting)
        points = chain_points(step.path, FLAT_MM)
        if len(points) < 2 or length <= 0:
            continue
        track = Track(points, pace, q, stand, q * pace * stand, setting.kerf_mm.value / 2)
        struck = clock.end_s - track.seconds
        out.append(Burn(step.number, step.title, step.plate, step.setting, track, struck, step.start is Start.KERF))
    return tuple(out)


def heat_left_j_mm(setting: Setting, pace_mm_s: float | None = None) -> float:
    """Return the heat a cut of a setting leaves in both edges together [J/mm], at another pace where one is given."""
    pace = max(setting.pace_mm_s.value if pace_mm_s is None else pace_mm_s, SLOWEST_MM_S)
    return 2 * edge_heat_j_mm(setting.stock.metal, setting.true_thickness_mm, pace, setting.kerf_mm.value)
