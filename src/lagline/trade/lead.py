"""Starting off the line: length of the run-in and the puddle of a pierce."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure
from lagline.trade.register import Limit, formula

SHORTEST_MM = 6.35
_T = Limit("thickness_mm", 0.8, 50, "mm")


@formula(
    "lead.length",
    text="lead-in = max(t, 1/4 in)",
    gives="least length of the run-in, in the drop [mm]",
    source="common practice, no source",
    limits=(_T,),
)
def lead_in(thickness_mm: float) -> float:
    """Least run-in for a plate thickness [mm]; longer does no harm. [mm]"""
    return max(thickness_mm, SHORTEST_MM)


@formula(
    "lead.crater",
    text="crater radius = 0.5 to 1 t",
    gives="radius of the puddle a pierce leaves [mm]",
    source="common practice, no source",
    limits=(_T,),
)
def crater_radius(thickness_mm: float) -> Figure:
    """Radius of the puddle round a pierce for a plate thickness [mm]. [mm] Keep the line clear of the high end."""
    return Figure(
        0.75 * thickness_mm,
        0.5 * thickness_mm,
        thickness_mm,
        "mm",
        "lead.crater",
        Basis.DEFAULT,
        "common practice, no source",
        (("thickness [mm]", f"{thickness_mm:g}"),),
    )
