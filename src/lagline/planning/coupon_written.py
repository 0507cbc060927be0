"""A coupon's values as a shop writes them, to be corrected: 3/8 and 90 psi, not 9.525 mm and 620.52813 kPa.

What was typed is not kept, so each value is written the shortest way that reads back the same to the last bit.
"""

from __future__ import annotations

from collections.abc import Callable

from lagline.planning.fields import length, quantity
from lagline.records.coupon import Coupon
from lagline.records.errors import LaglineError
from lagline.records.length import INCH_MM, show_fraction
from lagline.trade.set_aside import measurements

PSI_KPA = 6.894757293168361
IN = float(INCH_MM)


def _reads_back(text: str, value: float, read: Callable[[object, str], float]) -> bool:
    try:
        return read(text, "") == value
    except LaglineError:
        return False


def in_inches(mm: float) -> str | None:
    """Return a length [mm] as a fraction or short decimal of an inch, None where neither is exact."""
    sign = "-" if mm < 0 else ""
    texts = [sign + show_fraction(abs(mm), 64)[0].removesuffix('"'), *(f"{mm / IN:.{n}f}" for n in (1, 2, 3, 4))]
    return next((t for t in texts if _reads_back(t, mm, length("in", -1e6, 1e6))), None)


def _short_mm(mm: float) -> bool:
    return round(mm, 2) == mm


def _fits(mm: float, units: str) -> bool:
    """Is a length plainly of that unit: exact and shorter there, or exact there alone?"""
    inches, plain = in_inches(mm), f"{mm:g}"
    if inches is None or not _short_mm(mm):
        return (inches is not None) if units == "in" else _short_mm(mm)
    return len(inches) < len(plain) if units == "in" else len(plain) < len(inches)


def units_of(coupon: Coupon) -> str:
    """Return the unit most of a coupon's lengths were plainly measured in: ``in`` or ``mm``."""
    lengths = [coupon.thickness_mm]
    lengths += [v for n, v in measurements(coupon) if n.endswith("_mm") and isinstance(v, float)]
    return "in" if sum(_fits(v, "in") for v in lengths) > sum(_fits(v, "mm") for v in lengths) else "mm"


def written_length(mm: float, units: str) -> str:
    """Return a length [mm] as text that reads back the same in a form in ``units``; the other unit is named."""
    inches = in_inches(mm)
    if inches is not None and (units == "in" or _fits(mm, "in")) and not _fits(mm, "mm"):
        return inches if units == "in" else f"{inches} in"
    return f"{mm:g} mm" if float(f"{mm:g}") == mm else f"{mm!r} mm"


def written_pressure(kpa_g: float) -> str:
    """Return a pressure [kPa gauge] as text that reads back the same: whole psi where they are exact."""
    psi = f"{kpa_g / PSI_KPA:.4g} psi"
    return psi if _reads_back(psi, kpa_g, quantity("pressure", 50, 3000)) else f"{kpa_g!r} kPa"
