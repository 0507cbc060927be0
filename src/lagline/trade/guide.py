"""Where a guide goes: straightedge, circle arm, template. R is the cup's radius at guide height, k the kerf."""

from __future__ import annotations

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
