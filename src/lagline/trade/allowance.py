"""Metal left on an edge to be ground away, by what the edge is for."""

from __future__ import annotations

from lagline.data import table
from lagline.records.figure import Basis, Figure
from lagline.records.job import EdgeUse
from lagline.trade.register import formula


@formula(
    "allowance.grinding",
    text="by edge use: free 0, weld 0.3 to 0.8, fit 0.4 to 1.6, machined 1.6 to 3.2 mm",
    gives="metal left on the edge [mm]",
    source="table grinding_allowance: common practice, no source",
)
def grinding_allowance(use: EdgeUse) -> Figure:
    """Metal to leave on an edge for grinding, by its use. [mm] Contested for weld edges: see the table's notes."""
    row = next(r for r in table("grinding_allowance").rows if r["use"] == use.value)
    return Figure(
        float(row["value_mm"]),
        float(row["low_mm"]),
        float(row["high_mm"]),
        "mm",
        "allowance.grinding",
        Basis.DEFAULT,
        "common practice, no source",
        (("edge use", use.value),),
    )
