"""What the heat field of a plate is worked out with: warm properties, loss to the air, marks, and the line source."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from lagline.data import table
from lagline.records.figure import Basis, Figure
from lagline.trade import heat
from lagline.trade.metals import property_of
from lagline.trade.register import Limit, formula

WARM_FROM_C, WARM_TO_C = 20.0, 300.0
# W/m2K a face: still air 5 to 8 and radiation of a scaled face 5 to 10 at 60 to 200 C; a draught doubles the first
LOSS_W_M2K = (12.0, 6.0, 25.0)
HANDLE_C = 50.0
_CODES = {
    "steel": (heat.steel_capacity, heat.steel_conductivity),
    "stainless": (heat.stainless_capacity, heat.stainless_conductivity),
    "aluminium": (heat.aluminium_capacity, heat.aluminium_conductivity),
}


@dataclass(frozen=True, slots=True)
class Warm:
    """A metal between 20 and 300 C: heat capacity per volume [J/mm3K] and conductivity [W/mmK], held constant."""

    rho_c_j_mm3k: float
    k_w_mmk: float

    @property
    def diffusivity_mm2_s(self) -> float:
        """How fast heat spreads [mm2/s]."""
        return self.k_w_mmk / self.rho_c_j_mm3k


@formula(
    "heat.warm-means",
    text="c, k = means of the code's formulas from 20 to 300 C",
    gives="constant properties of the heat field",
    source="EN 1993-1-2, its annex C, EN 1999-1-2 (from memory); the range is where the field is believed: ours",
)
@cache
def warm(metal: str) -> Warm:
    """Return a metal's means from 20 to 300 C, which the field takes for the whole plate.

    The hot means of table metals go up to 1200 C: they are for the cut front. Simpson's rule, exact for the codes'
    cubics. Check: steel 510.4 J/kgK (EN 1993-1-2: 142.92 kJ/kg from 20 to 300 C), 48.67 W/mK.
    """
    density = property_of(metal, "density").value  # refuses a metal that is not known
    capacity, conductivity = _CODES[metal]
    ends = (WARM_FROM_C, (WARM_FROM_C + WARM_TO_C) / 2, WARM_TO_C)
    c, k = ((f(ends[0]) + 4 * f(ends[1]) + f(ends[2])) / 6 for f in (capacity, conductivity))
    return Warm(density * c * 1e-9, k * 1e-3)


@formula(
    "heat.surface-loss",
    text="lambda = 2 h/(rho c t), h = 12 W/m2K (6 to 25) on either face",
    gives="share of its rise a plate loses to air and bench in a second [1/s]",
    source="natural convection 2 to 25 W/m2K, Incropera table 1.1 (from memory); radiation 4 eps sigma T^3 with "
    "eps 0.8 (derived); held constant and the same below as above: ours, no source",
    limits=(Limit("thickness_mm", 0.8, 50, "mm"),),
)
def loss_per_s(metal: str, thickness_mm: float, film_w_m2k: float = LOSS_W_M2K[0]) -> float:
    """Return how fast a plate cools of itself [1/s]: exp(-lambda s) is left after s seconds.

    Parameters: metal, thickness [mm], film coefficient of a face [W/m2K]. Check: 10 mm steel, 12 W/m2K: 28 min to 1/e.
    """
    return 2 * film_w_m2k * 1e-6 / (warm(metal).rho_c_j_mm3k * thickness_mm)


@formula(
    "heat.line-source",
    text="T - T0 = P/(2 pi k t) exp(-v x/2 alpha) K0(r sqrt((v/2 alpha)^2 + lambda/alpha)), x ahead of the source",
    gives="rise of a thin plate round a line source moving steadily [K]",
    source="Rosenthal, with loss from the faces (from memory)",
    limits=(Limit("thickness_mm", 0.8, 50, "mm"),),
)
def line_source_rise(
    power_w: float, pace_mm_s: float, ahead_mm: float, aside_mm: float, metal: str, thickness_mm: float,
    loss_s: float = 0.0,
) -> float:  # fmt: skip
    """Return the steady rise beside a moving line source [K].

    Parameters: power [W], pace [mm/s], place ahead of and beside the source [mm], metal, thickness [mm], loss [1/s].
    The judge of the field, and the field's limit on a wide plate.
    """
    from scipy.special import kve

    m = warm(metal)
    a = m.diffusivity_mm2_s
    r = math.hypot(ahead_mm, aside_mm)
    s = pace_mm_s / (2 * a)
    root = math.sqrt(s * s + loss_s / a)
    return float(
        power_w / (2 * math.pi * m.k_w_mmk * thickness_mm) * kve(0, root * r) * math.exp(-s * ahead_mm - root * r)
    )


@formula(
    "heat.handle",
    text="bare metal may be held for a minute below about 50 C; glove and tongs above",
    gives="temperature below which a part is called fit to handle [C]",
    source="burn thresholds of bare metal: 51 C for 1 min, 48 C for 10 min, ISO 13732-1 (from memory)",
)
def handle_c() -> Figure:
    """Return the temperature below which a part may be taken in the bare hand [C]."""
    return Figure(
        HANDLE_C, 45.0, 60.0, "C", "heat.handle", Basis.STANDARD,
        "ISO 13732-1: bare metal held a minute burns from 51 C; 60 C a few seconds, ASTM C1055 (from memory)",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mark:
    """A temperature whose line is drawn: what it means in the shop, and the source of that."""

    temperature_c: float
    word: str
    source: str


@cache
def marks(metal: str) -> tuple[Mark, ...]:
    """Return the temperatures whose lines are drawn on a plate of a metal, coolest first."""
    rows = [r for r in table("heat_marks").rows if r["metal"] in ("any", metal)]
    found = (Mark(float(r["temperature_c"]), r["word"], r["source"]) for r in rows)
    return tuple(sorted(found, key=lambda m: m.temperature_c))
