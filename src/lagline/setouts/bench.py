"""The torch a set-out is for: kit, coupons, metal and thickness, and how it cuts square, tilted, thicker or thinner."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lagline.planning.settings import setting_of
from lagline.records.coupon import Learned
from lagline.records.finding import Finding
from lagline.records.job import Stock
from lagline.records.kit import Kit
from lagline.records.length import show_length
from lagline.records.plan import Setting


@dataclass(frozen=True, slots=True)
class Bench:
    """Kit, what coupons taught, the metal, and the current wished for [A, None for the plan's own choice]."""

    kit: Kit
    learned: Learned
    stock: Stock
    current_a: float | None = None
    findings: tuple[Finding, ...] = ()  # of reading the kit and the coupons

    def setting(self, bevel_deg: float = 0.0, thickness_mm: float | None = None) -> tuple[Setting, tuple[Finding, ...]]:
        """Return how this torch cuts the metal leaning by a bevel [deg], or through another thickness [mm]."""
        stock = self.stock
        if thickness_mm is not None:
            text = stock.thickness_text
            units = "in" if text and "mm" not in text else "mm"
            stock = replace(stock, thickness_mm=thickness_mm, thickness_text=show_length(thickness_mm, units, 64))
        return setting_of(stock, bevel_deg, self.kit, self.current_a, self.learned)
