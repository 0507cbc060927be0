"""How far a part may come out from its size: every contribution named, joined as a root sum of squares."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.data import table
from lagline.records.figure import Basis, Figure
from lagline.trade.register import Limit, formula
from lagline.trade.uncertainty import Source, propagate


@dataclass(frozen=True, slots=True)
class Contribution:
    """One plus-or-minus on the cut line [mm] and where it comes from."""

    name: str
    plus_minus_mm: float
    source: str


def _row(kind: str, item: str) -> dict[str, str]:
    for row in table("hand_tolerance").rows:
        if row["kind"] == kind and row["item"] == item:
            return row
    known = ", ".join(r["item"] for r in table("hand_tolerance").rows if r["kind"] == kind)
    raise ValueError(f"{kind} must be one of {known}, got {item!r}")


@formula(
    "tolerance.method",
    text="by method from table hand_tolerance",
    gives="plus or minus that a method or a mark-out line holds [mm]",
    source="table hand_tolerance: common practice, no source",
)
def method_tolerance(kind: str, item: str) -> Figure:
    """What a mark-out line (kind ``line``) or a way of leading the torch (kind ``guide``) holds, plus or minus. [mm]"""
    row = _row(kind, item)
    low, high = float(row["low_mm"]), float(row["high_mm"])
    return Figure(
        (low + high) / 2,
        low,
        high,
        "mm",
        "tolerance.method",
        Basis.DEFAULT,
        "common practice, no source",
        ((kind, item),),
    )


@formula(
    "tolerance.tilt",
    text="shift = height tan(tilt)",
    gives="how far a leaning torch moves the cut [mm]",
    source="geometry (derived)",
    limits=(Limit("tilt_deg", 0, 15, "deg"),),
)
def tilt_shift(height_mm: float, tilt_deg: float) -> float:
    """How far a lean [deg] moves the arc over a height [mm] (guide plus standoff, or the plate). [mm]

    Check: 12 mm at 3 deg is 0.63 mm.
    """
    return height_mm * math.tan(math.radians(tilt_deg))


@formula(
    "tolerance.stack",
    text="plus or minus = sqrt(SUM c_i^2)",
    gives="plus or minus on one cut edge [mm]",
    source="independent contributions, root sum of squares: JCGM 100:2008, law of propagation (from memory)",
)
def stack(contributions: tuple[Contribution, ...]) -> Figure:
    """Join contributions to the place of one edge, each plus or minus [mm], as independent.

    The low end is the largest single contribution, the high end their plain sum: what full luck and none give.
    """
    sizes = [abs(c.plus_minus_mm) for c in contributions]
    sources = tuple(Source(c.name, 0.0, size) for c, size in zip(contributions, sizes, strict=True))
    total = propagate(math.fsum, sources).u
    return Figure(
        total,
        max(sizes, default=0.0),
        math.fsum(sizes),
        "mm",
        "tolerance.stack",
        Basis.DEFAULT,
        "root sum of squares of the contributions named",
        tuple((f"{c.name} [mm]", f"{c.plus_minus_mm:.2f} ({c.source})") for c in contributions),
    )


@formula(
    "tolerance.on-size",
    text="on size = sqrt(e1^2 + e2^2)",
    gives="plus or minus on a size between two cut edges [mm]",
    source="independent edges (derived)",
)
def on_size(first: Figure, second: Figure) -> Figure:
    """Plus or minus on a size between two edges, each with its own plus or minus. [mm]"""
    return Figure(
        math.hypot(first.value, second.value),
        math.hypot(first.low, second.low),
        first.high + second.high,
        "mm",
        "tolerance.on-size",
        Basis.DEFAULT,
        "root sum of squares of both edges",
        (("first edge [mm]", f"{first.value:.2f}"), ("second edge [mm]", f"{second.value:.2f}")),
    )
