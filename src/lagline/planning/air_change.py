"""What would have to change for the air to carry a flow: the smallest tank, compressor, bore or the longest hose."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.planning.air_path import (
    falling_kpa_s,
    hose_wants_kpa_g,
    least_kpa_g,
    line_term,
    longest_flow_s,
    made_l_min,
    outside_kpa_abs,
    tank_l,
    tank_ref_kpa,
)
from lagline.records.kit import Air
from lagline.records.length import show_length
from lagline.trade.air import receiver_l
from lagline.trade.air_line import FITTING_M, least_bore_mm

GALLON_L, CFM_L_MIN, PSI_KPA = 3.785411784, 28.316846592, 6.894757293


@dataclass(frozen=True, slots=True)
class AirChange:
    """Each alone makes the flow possible; None where it alone cannot. ``pieces`` at most a full tank's worth each."""

    tank_l: float | None
    plate_l_min: float | None
    bore_mm: float | None
    hose_m: float | None
    pieces: int | None


def air_change(air: Air, flow_s: float, use_l_min: float) -> AirChange:
    """Return the smallest change of each kind for a flow of a length [s] at a use of free air [L/min].

    From a full tank, the compressor running. Pre-flow and post-flow come again with each piece.
    """
    least, made, ref = least_kpa_g(air, use_l_min), made_l_min(air), tank_ref_kpa(air)
    room = air.cut_out_kpa_g - least
    tank = plate = None
    if room > 0:
        tank = receiver_l(flow_s, use_l_min, made, air.cut_out_kpa_g, least, ref)
        needed = use_l_min - 60 * room * tank_l(air) / (ref * flow_s) if flow_s > 0 else 0.0
        plate = max(0.0, needed) * air.delivery_l_min / made
    bore, hose = _hose(air, flow_s, use_l_min)
    around = air.pre_flow_s + air.post_flow_s
    longest = longest_flow_s(air, use_l_min) - around
    pieces = math.ceil((flow_s - around) / longest - 1e-9) if longest > 0 else None
    return AirChange(tank, plate, bore, hose, pieces)


def _hose(air: Air, flow_s: float, use: float) -> tuple[float | None, float | None]:
    """Smallest bore and longest hose [mm, m]; None when the hose is not what stops it, or alone cannot mend it."""
    if air.line is None or hose_wants_kpa_g(air, use) <= air.least_kpa_g:
        return None, None
    outside, line = outside_kpa_abs(air), air.line
    may = air.cut_out_kpa_g - max(0.0, falling_kpa_s(air, use)) * flow_s  # the tank at the end of the flow
    head, end = may + outside, line.torch_least_kpa_g + outside
    if may < air.least_kpa_g or head <= end:
        return None, None
    worth = line.fittings * FITTING_M
    metres = line.hose_length_mm.value / 1000 + worth
    longest = metres * (head**2 - end**2) / (2 * line_term(air, use)) - worth
    return least_bore_mm(metres, use, head, end), longest if longest >= 0 else None


def both_volumes(litres: float) -> str:
    """A tank in gallons and litres."""
    return f"{litres / GALLON_L:.3g} gal ({litres:.3g} L)"


def both_flows(l_min: float) -> str:
    """Free air in cfm and litres a minute."""
    return f"{l_min / CFM_L_MIN:.2g} cfm ({l_min:.3g} L/min)"


def both_pressures(kpa: float) -> str:
    """Gauge pressure in psi and kPa."""
    return f"{kpa / PSI_KPA:.0f} psi ({kpa:.0f} kPa)"


def change_words(c: AirChange) -> str:
    """Return what would do, the cheapest first, as one line."""
    ways = []
    if c.pieces is not None and c.pieces > 1:
        ways.append(f"cut it in {'two' if c.pieces == 2 else c.pieces}, the tank filled before each")
    if c.bore_mm is not None:
        ways.append(f"a hose with a true bore of {show_length(c.bore_mm + 0.05, 'mm')}")
    if c.hose_m is not None:
        ways.append(f"a hose no longer than {c.hose_m / 0.3048:.0f} ft ({c.hose_m:.1f} m)")
    if c.tank_l is not None and c.tank_l > 0:
        ways.append(f"a tank of {both_volumes(c.tank_l)}")
    if c.plate_l_min is not None and c.plate_l_min > 0:
        ways.append(f"a compressor of {both_flows(c.plate_l_min)}")
    return "; or ".join(ways) or "set cut-out higher where tank and plate allow it, or let the torch need less"
