"""What keeps cut metal straight and flat, in numbers: both edges, bridges, waiting; and when thin plate dishes.

First estimates, as the camber is: their spread is shown, and is wide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.figure import Basis, Figure
from lagline.trade.bow import E_OF_STEEL, E_STEEL_MPA, FORCE_N_PER_J_MM, SPREAD
from lagline.trade.heat_plate import warm
from lagline.trade.register import Limit, formula

# EN 1993-1-1, EN 1993-1-4, EN 1999-1-1 (from memory) [1/K]
EXPANSION = {"steel": 12e-6, "stainless": 16e-6, "aluminium": 23e-6}
POISSON = 0.3
BUCKLE_K = (4.0, 1.0, 7.0)  # long edges hinged; low: one long edge free, rounded up; high: edges clamped


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way to cut a strip, and the camber that is left of it [mm]."""

    way: str
    left_mm: Figure
    why: str


@formula(
    "bow.hot",
    text="camber = L^2/8 6 alpha_T q/(rho c t w^2), gone after about w^2/(pi^2 alpha) seconds",
    gives="camber of a strip while the heat is still in its one edge, away from it [mm]",
    source="thermal bending of a beam (derived)",
    limits=(Limit("aspect", 4, 200, "-"), Limit("thickness_mm", 0.8, 50, "mm")),
)
def hot_camber_mm(metal: str, thickness_mm: float, width_mm: float, length_mm: float, heat_j_mm: float) -> float:
    """Return how far a strip that is free to move bends while one edge is hot, the hot edge outside [mm].

    Parameters: metal, thickness, width, length [mm], heat in the edge [J/mm]. About three times the lasting bow, and
    the other way. Check: 20 J/mm, 6 mm steel, 25 mm by 4 ft: 17.8 mm.
    """
    bend = 6 * EXPANSION[metal] * heat_j_mm / (warm(metal).rho_c_j_mm3k * thickness_mm * width_mm**2)
    return length_mm**2 / 8 * bend


@formula(
    "bow.evens-out",
    text="tau = w^2/(pi^2 alpha)",
    gives="time in which heat evens out across a strip to a third [s]",
    source="first mode of an insulated strip (derived)",
    limits=(Limit("width_mm", 5, 1000, "mm"),),
)
def evens_out_s(metal: str, width_mm: float) -> float:
    """Return the time in which a difference across a strip falls to 1/e [s]. Check: 50 mm steel, 21 s."""
    return width_mm**2 / (math.pi**2 * warm(metal).diffusivity_mm2_s)


@formula(
    "bow.rest-of-both",
    text="left = camber x |q1 - q2|/q; at most the whole spread of the heat by the pace, a third of it expected",
    gives="camber left when both long edges are cut alike [mm]",
    source="equal forces along both edges balance (derived); that a third of the spread is usual: ours, no source",
)
def left_of_both(camber: Figure, heat_j_mm: float, heat_low_j_mm: float, heat_high_j_mm: float) -> Figure:
    """Return what is left of a strip's camber when both edges are cut.

    Parameters: camber of one edge, heat in an edge as expected and at the ends of the pace's spread [J/mm].
    """
    uneven = (heat_high_j_mm - heat_low_j_mm) / heat_j_mm if heat_j_mm > 0 else 0.0
    return Figure(
        camber.value * uneven / 3, 0.0, camber.high * min(uneven, 1.0) if uneven else 0.0, "mm", "bow.rest-of-both",
        Basis.DEFAULT, "equal edges balance (derived); how unequal hands make them: ours, no source",
        (("unequal by at most", f"{uneven:.0%}"),),
    )  # fmt: skip


def remedies(camber: Figure, heat_j_mm: float, heat_low_j_mm: float, heat_high_j_mm: float) -> tuple[Remedy, ...]:
    """Return the ways to cut a strip beside each other, straightest last."""
    both = left_of_both(camber, heat_j_mm, heat_low_j_mm, heat_high_j_mm)
    return (
        Remedy("one long edge cut, the other left", camber, "one edge shrinks; nothing balances it"),
        Remedy("both long edges cut", both, "what the second edge shrinks balances the first"),
        Remedy("both, held by bridges until cold", both, "as both, and it cannot bend away from the line while hot"),
    )


@formula(
    "bow.dish",
    text="ratio = (2 F/(w t)) / (K pi^2 E/(12 (1 - nu^2)) (t/w)^2), F = 200 N per J/mm, K = 4 (1 to 7)",
    gives="how near a thin part comes to going out of flat when its edges are cut: over 1 it may [-]",
    source="buckling of a long plate, Timoshenko (from memory); tendon force as in bow.strip; a third to three times",
    limits=(Limit("thickness_mm", 0.8, 50, "mm"), Limit("width_mm", 20, 3000, "mm")),
)
def dish_ratio(metal: str, thickness_mm: float, width_mm: float, heat_j_mm: float) -> Figure:
    """Return the stress that shrunk edges leave in the middle of a part over what buckles it [-].

    Parameters: metal, thickness, narrow side [mm], heat left in an edge [J/mm]. Goes with w/t^3.
    Check: 8 J/mm, 1.5 mm steel, 600 mm wide: 0.77.
    """
    stiff = E_STEEL_MPA * E_OF_STEEL[metal]
    pushed = 2 * FORCE_N_PER_J_MM * heat_j_mm / (width_mm * thickness_mm)
    holds = math.pi**2 * stiff / (12 * (1 - POISSON**2)) * (thickness_mm / width_mm) ** 2
    k, low, high = BUCKLE_K
    return Figure(
        pushed / (k * holds), pushed / (high * holds) / SPREAD, pushed / (low * holds) * SPREAD, "", "bow.dish",
        Basis.DEFAULT, "plate buckling with a rule of welding for the force; unproven for plasma",
        (("narrow side [mm]", f"{width_mm:.0f}"), ("heat left in an edge [J/mm]", f"{heat_j_mm:.0f}")),
    )  # fmt: skip


@formula(
    "bow.dish-depth",
    text="a = (2 w/pi) sqrt((s - s_cr)/E), wave as long as the part is wide",
    gives="depth of the wave once a part is out of flat [mm]",
    source="shortening of a sine wave (derived)",
)
def dish_depth_mm(metal: str, thickness_mm: float, width_mm: float, heat_j_mm: float, ratio: float) -> float:
    """Return how deep a part waves whose ratio (bow.dish) is above 1 [mm]; 0 below."""
    if ratio <= 1:
        return 0.0
    stiff = E_STEEL_MPA * E_OF_STEEL[metal]
    pushed = 2 * FORCE_N_PER_J_MM * heat_j_mm / (width_mm * thickness_mm)
    return 2 * width_mm / math.pi * math.sqrt(pushed * (1 - 1 / ratio) / stiff)
