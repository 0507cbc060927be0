"""What one gouging pass takes out: a heat balance at the arc, with the same constants as the pace of a cut."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.figure import Basis, Figure, Spread
from lagline.records.kit import PowerSet
from lagline.shapes.groove import segment_area, segment_length
from lagline.trade.heat import cylinder_loss, half_loss
from lagline.trade.metals import hot_diffusivity, property_of
from lagline.trade.pace import AMBIENT_C, INCH_MM, LEADING_HALF, load_voltage, voltage_at
from lagline.trade.register import Limit, formula

IPM = INCH_MM / 60
SHALLOW_DEG, STEEP_DEG = 15.0, 25.0
SLOWEST_MM_S, FASTEST_MM_S = 20 * IPM, 50 * IPM
DEEPEST_PASS_MM = 3 / 16 * INCH_MM
# No figure is published. The trade's middle pass, 1/8 deep and 5/16 wide at 30 in/min, wants 0.8, 0.5 and 0.4 of the
# arc at 45, 65 and 85 A; sets' ratings for cutting want 0.4 to 0.8 (docs/setouts/gouge.md).
SHARE = Spread(0.5, 0.3, 0.7, default=True)
# One pass by hand is not like the next: what repeats of one gouge differ by is ours, +-15 %.
REPEAT_LOG = 0.15
_WIDTH_READ_MM, _DEPTH_READ_MM, _PACE_READ = 0.8, 0.4, 0.05

_W = Limit("width_mm", 3, 15, "mm", "the trade's passes are 1/4 to 3/8 in wide")
_D = Limit("depth_mm", 0.5, 7, "mm", "the trade's passes are 1/16 to 3/16 in deep")
_V = Limit("pace_mm_s", SLOWEST_MM_S, FASTEST_MM_S, "mm/s", "the trade's 20 to 50 in/min")


@formula(
    "gouge.shape",
    text="depth/width = 1/4 at 15 deg to 1/2 at 25 deg, evenly between",
    gives="depth of a pass over its width [-]",
    source="ends of the trade's passes, 1/16 deep by 1/4 wide and 3/16 by 3/8; steeper is deeper and narrower: "
    "common practice, no source; that it goes evenly with the angle is ours",
    limits=(Limit("angle_deg", SHALLOW_DEG, STEEP_DEG, "deg"),),
)
def shape_of(angle_deg: float) -> float:
    """Depth over width of a pass at a working angle, torch to plate [deg]. [-]"""
    return 0.25 + 0.25 * (angle_deg - SHALLOW_DEG) / (STEEP_DEG - SHALLOW_DEG)


@formula(
    "gouge.arc-power",
    text="P = (U2 + 20) I, U2 the set's arc voltage in cutting",
    gives="arc power in gouging [W]",
    source="conventional load lines 100 + 0.4 I for gouging and 80 + 0.4 I for cutting, IEC 60974-1 (from memory)",
    limits=(Limit("current_a", 15, 130, "A", "hand torches on air"),),
)
def arc_power(power: PowerSet, current_a: float) -> float:
    """Arc power in gouging at a current [A]. [W]"""
    return (voltage_at(power, current_a) + load_voltage(current_a, gouging=True) - load_voltage(current_a)) * current_a


@formula(
    "gouge.heat-needed",
    text="P = v A rho h_melt + loss(Pe) k_th (Tm - T0) s/2, A area and s arc length of the pass, Pe = v (w/2)/alpha",
    gives="heat a gouging pass takes [W]",
    source="energy balance (derived) with heat.cylinder-loss, taken for half the metal's edge since a slot has two "
    "sides; properties from table metals",
    limits=(_W, _D, _V),
)
def heat_needed(metal: str, pace_mm_s: float, width_mm: float, depth_mm: float) -> float:
    """Heat needed to melt out a pass and to make up for what the plate draws away.

    Parameters: metal, pace [mm/s], width, depth [mm] of the pass, its section an arc. Returns [W]. Rises with each.
    Deep and narrow it is pace.heat-needed times the depth, but for the rounded floor.
    """
    p = property_of
    melt = pace_mm_s * segment_area(width_mm, depth_mm) * melt_heat(metal)
    pe = pace_mm_s * width_mm / 2 / (hot_diffusivity(metal) * 1e6)
    loss = half_loss(pe) if metal in LEADING_HALF else cylinder_loss(pe)
    rise = p(metal, "melt").value - AMBIENT_C
    side = segment_length(width_mm, depth_mm) / 2
    return melt + loss * p(metal, "hot_conductivity").value * 1e-3 * rise * side


def melt_heat(metal: str) -> float:
    """Heat to melt a volume of metal from cold. [J/mm3]"""
    return property_of(metal, "density").value * 1e-9 * property_of(metal, "melt_heat").value * 1e3


@dataclass(frozen=True, slots=True)
class Pass:
    """One pass: width and depth of its arc-shaped section [mm]."""

    width_mm: float
    depth_mm: float

    @property
    def area_mm2(self) -> float:
        return segment_area(self.width_mm, self.depth_mm)


@formula(
    "gouge.pass",
    text="the d that solves eta P = v A rho h_melt + loss k_th dT s/2 with w = d/shape",
    gives="depth and width of one pass [mm]",
    source="inverse of gouge.heat-needed (derived)",
    limits=(_V, Limit("angle_deg", SHALLOW_DEG, STEEP_DEG, "deg")),
)
def one_pass(metal: str, heat_w: float, pace_mm_s: float, angle_deg: float) -> Pass:
    """Pass that uses up a heat [W] at a pace [mm/s] and a working angle [deg]. One root; grows with heat."""
    shape = shape_of(angle_deg)
    low, high = 1e-6, 1.0
    while heat_needed(metal, pace_mm_s, high / shape, high) < heat_w:
        low, high = high, 2 * high
    for _ in range(55):
        middle = (low + high) / 2
        if heat_needed(metal, pace_mm_s, middle / shape, middle) < heat_w:
            low = middle
        else:
            high = middle
    return Pass(low / shape, low)


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured gouge: width, depth [mm], pace [mm/s], current [A], one pass."""

    width_mm: float
    depth_mm: float
    pace_mm_s: float
    current_a: float


@formula(
    "gouge.share",
    text="eta = 0.5 (0.3 to 0.7) times the metal's share of steel; from a reading eta = heat needed/(U I)",
    gives="share of arc power that a pass uses [-]",
    source="no published figure; what the trade's passes and the sets' ratings want (derived from common practice)",
    limits=(Limit("current_a", 15, 130, "A", "hand torches on air"),),
)
def share_figure(metal: str, power: PowerSet, reading: Reading | None = None) -> Figure:
    """Share of the arc that goes into a pass, by default or from a measured gouge. [-]

    A reading's spread is that of the ruler, the watch and a hand's own repeats, added as squares of logarithms.
    """
    if reading is None:
        steel = property_of(metal, "share_of_steel")
        down = math.hypot(math.log(SHARE.low / SHARE.value), math.log(steel.low / steel.value))
        up = math.hypot(math.log(SHARE.high / SHARE.value), math.log(steel.high / steel.value))
        value = SHARE.value * steel.value
        return Figure(
            value, value * math.exp(-down), min(1.0, value * math.exp(up)), "", "gouge.share", Basis.DEFAULT,
            "no published figure; common practice, no source", (("metal", metal),),
        )  # fmt: skip
    arc = arc_power(power, reading.current_a)

    def at(width: float, depth: float, pace: float) -> float:
        return heat_needed(metal, pace, width, depth) / arc

    w, d, v = reading.width_mm, reading.depth_mm, reading.pace_mm_s
    value = at(w, d, v)
    moved = (at(w + _WIDTH_READ_MM, d, v), at(w, d + _DEPTH_READ_MM, v), at(w, d, v * (1 + _PACE_READ)))
    spread = math.exp(math.hypot(REPEAT_LOG, *(math.log(m / value) for m in moved)))
    return Figure(
        value, value / spread, max(value, min(1.0, value * spread)), "", "gouge.share", Basis.COUPON,
        "your measured gouge; repeats by hand +-15 %, ours",
        (("width [mm]", f"{w:.2f}"), ("depth [mm]", f"{d:.2f}"), ("pace [mm/s]", f"{v:.2f}"),
         ("current [A]", f"{reading.current_a:g}")),
    )  # fmt: skip
