"""Where a guide goes: straightedge, circle arm, template. R is the cup's radius at guide height, k the kerf."""

from __future__ import annotations

import math

from lagline.records.figure import Basis, Figure
from lagline.trade.register import Limit, formula

SOURCE = "derived: geometry of cup, kerf and guide"
CUP = Limit("cup_radius_mm", 2.0, 40.0, "mm", "hand torch cups")
KERF = Limit("kerf_mm", 0.3, 6.0, "mm", "hand plasma kerfs")
RADIUS = Limit("radius_mm", 1.0, 5000.0, "mm")


@formula("guide.kept-side", text="R - k/2", gives="line to guide, guide on the kept part [mm]", source=SOURCE,
         limits=(CUP, KERF))  # fmt: skip
def kept_side(cup_radius_mm: float, kerf_mm: float) -> float:
    """Return the distance from the finished line to a guide clamped on the kept part [mm].

    The cup rubs the guide at R from the tip's centre, and the tip's centre runs k/2 beyond the line.

    >>> kept_side(11.0, 1.7)
    10.15
    """
    return cup_radius_mm - kerf_mm / 2


@formula("guide.drop-side", text="R + k/2", gives="line to guide, guide on the drop [mm]", source=SOURCE,
         limits=(CUP, KERF))  # fmt: skip
def drop_side(cup_radius_mm: float, kerf_mm: float) -> float:
    """Return the distance from the finished line to a guide clamped on the drop [mm].

    >>> drop_side(11.0, 1.7)
    11.85
    """
    return cup_radius_mm + kerf_mm / 2


@formula("guide.arm", text="disc kept: D/2 + k/2; hole kept: D/2 - k/2", gives="pivot to tip centre [mm]",
         source=SOURCE, limits=(RADIUS, KERF))  # fmt: skip
def arm(radius_mm: float, kerf_mm: float, *, disc: bool) -> float:
    """Return the circle arm's setting, pivot to tip centre [mm], for a kept disc or a kept hole of that radius.

    >>> arm(50.0, 2.0, disc=True), arm(50.0, 2.0, disc=False)
    (51.0, 49.0)
    """
    return radius_mm + (kerf_mm / 2 if disc else -kerf_mm / 2)


@formula("guide.arm-to-cup", text="arm - R", gives="pivot to the near edge of the cup [mm]", source=SOURCE,
         limits=(RADIUS, CUP, KERF))  # fmt: skip
def arm_to_cup(arm_mm: float, cup_radius_mm: float) -> float:
    """Return the distance from pivot to the near edge of the cup [mm]: what a tape reads at the bench.

    >>> arm_to_cup(51.0, 11.0)
    40.0
    """
    return arm_mm - cup_radius_mm


def offset_figure(side: str, cup: Figure, kerf: Figure) -> Figure:
    """Return the distance from the finished line to a guide on the "kept" or "drop" side, with its spread [mm].

    Cup and kerf are taken as independent: the root sum of squares of what each does. Coupons, which measure the two
    together, say it better (``coupon.offset``).
    """
    rule, sign = (kept_side, -1) if side == "kept" else (drop_side, 1)
    value = rule(cup.value, kerf.value)
    thin, wide = (kerf.value - kerf.low) / 2, (kerf.high - kerf.value) / 2
    less, more = (wide, thin) if sign < 0 else (thin, wide)
    return Figure(
        value,
        value - math.hypot(cup.value - cup.low, less),
        value + math.hypot(cup.high - cup.value, more),
        "mm",
        f"guide.{side}-side",
        Basis.DEFAULT if Basis.DEFAULT in (cup.basis, kerf.basis) else cup.basis,
        SOURCE,
        (
            ("cup_radius_mm", f"{cup.value:.2f} ({cup.low:.2f} to {cup.high:.2f})"),
            ("kerf_mm", f"{kerf.value:.2f} ({kerf.low:.2f} to {kerf.high:.2f})"),
        ),
    )
