"""How far a strip bows when one long edge is cut: the heat left along it shrinks it. A first estimate, no more."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure
from lagline.trade.metals import property_of
from lagline.trade.pace import heat_needed
from lagline.trade.register import Limit, formula

FORCE_N_PER_J_MM = 200.0  # tendon force a J/mm of heat leaves behind; a rule of welding, unproven for plasma
SPREAD = 3.0  # how wrong it may be either way; ours, no source
UNSAID_MM_PER_M = 3.0  # bow allowed where a part states no tolerance; common practice, no source
E_STEEL_MPA = 205_000.0
E_OF_STEEL = {"steel": 1.0, "stainless": 0.95, "aluminium": 0.34}  # stiffness over steel's (from memory)


@formula(
    "bow.heat",
    text="q = (P/t - v k rho h_melt) t / (2 v)",
    gives="heat left in one edge by a cut [J/mm]",
    source="conduction loss of pace.heat-needed (derived), half of it to either side",
    limits=(Limit("thickness_mm", 0.8, 50, "mm"), Limit("pace_mm_s", 0.5, 200, "mm/s")),
)
def edge_heat_j_mm(metal: str, thickness_mm: float, pace_mm_s: float, kerf_mm: float) -> float:
    """Heat that conduction leaves in one edge, per length of cut. [J/mm]

    Parameters: metal, plate [mm], pace [mm/s], kerf [mm]. Falls with pace, rises with thickness.
    """
    melt = property_of(metal, "density").value * 1e-9 * property_of(metal, "melt_heat").value * 1e3
    loss = heat_needed(metal, pace_mm_s, kerf_mm) - pace_mm_s * kerf_mm * melt
    return loss * thickness_mm / pace_mm_s / 2


@formula(
    "bow.strip",
    text="camber = L^2/8 6 F/(E t w^2), F = 200 N per J/mm of heat left in the edge",
    gives="camber of a strip whose one long edge is cut [mm]",
    source="beam under an edge force (derived); tendon force is a rule of welding (from memory), unproven for plasma; "
    "a third to three times: ours, no source",
    limits=(Limit("aspect", 4, 200, "-", "shorter pieces hardly bow"), Limit("thickness_mm", 0.8, 50, "mm")),
)
def strip_camber(metal: str, thickness_mm: float, width_mm: float, length_mm: float, heat_j_mm: float) -> Figure:
    """Camber of a strip after one long edge was cut. [mm]

    Parameters: metal, thickness, width, length [mm], heat left in the edge [J/mm]. Goes with 1/width^2 and length^2.
    Check: 20 J/mm, 6 mm steel, 25 mm by 4 ft: 5.8 mm.
    """
    stiff = E_STEEL_MPA * E_OF_STEEL[metal]
    value = length_mm**2 / 8 * 6 * FORCE_N_PER_J_MM * heat_j_mm / (stiff * thickness_mm * width_mm**2)
    return Figure(
        value,
        value / SPREAD,
        value * SPREAD,
        "mm",
        "bow.strip",
        Basis.DEFAULT,
        "rule of welding, unproven for plasma; a third to three times",
        (
            ("width [mm]", f"{width_mm:.0f}"),
            ("length [mm]", f"{length_mm:.0f}"),
            ("heat left in the edge [J/mm]", f"{heat_j_mm:.0f}"),
        ),
    )


@formula(
    "bow.judged",
    text="(value + high end) / 2 of the camber",
    gives="camber that bridges are decided by: the middle of the upper half of its spread [mm]",
    source="derived from the spread of bow.strip; that the middle of its upper half is what counts: ours, no source",
    limits=(Limit("camber_mm", 0, 1000, "mm"),),
)
def judged_bow_mm(camber: Figure) -> float:
    """Return the camber by which a strip is judged [mm]: halfway from the value to the high end of its spread."""
    return (camber.value + camber.high) / 2


@formula(
    "bow.allowed",
    text="the part's tolerance; 3 mm a metre where it states none",
    gives="camber a strip may have [mm]",
    source="3 mm a metre (1/32 in a foot): common practice, no source",
    limits=(Limit("length_mm", 1, 30_000, "mm"),),
)
def allowed_bow_mm(tolerance_mm: float, length_mm: float) -> float:
    """Return how far a strip may bow [mm]. Parameters: tolerance [mm], 0 when not stated; its length [mm]."""
    return tolerance_mm or UNSAID_MM_PER_M * length_mm / 1000
