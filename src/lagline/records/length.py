"""Lengths as the shop writes them, read exactly on fractions and shown back; never wrong without saying so.

Glossary
--------
shop text : ``3/8``, ``1-1/2"``, ``5' 3-1/4"``, ``6 ft 2 in``, ``.375``, ``12 mm``, ``1½``
bare      : a number without a unit; it is taken in the default unit, ``in`` or ``mm``
"""

from __future__ import annotations

import math
import re
import unicodedata
from fractions import Fraction

from lagline.records.errors import LaglineError, refuse

INCH_MM = Fraction(127, 5)  # exact by definition, international yard and pound agreement of 1959
FOOT_MM = 12 * INCH_MM
LONGEST_MM = 1_000_000
ALLOWED = 'write 3/8, 1-1/2", 5\' 3-1/4", 6 ft 2 in, .375 in, 12 mm, 1.5 cm or 2 m'

_UNIT_MM: dict[str, Fraction] = {
    '"': INCH_MM,
    "in": INCH_MM,
    "inch": INCH_MM,
    "inches": INCH_MM,
    "'": FOOT_MM,
    "ft": FOOT_MM,
    "foot": FOOT_MM,
    "feet": FOOT_MM,
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
}
_PRIMES = str.maketrans(
    dict.fromkeys("′’‘‛`´ʹʼ", "'") | dict.fromkeys("″”“‟„ʺ", '"') | dict.fromkeys("−–‐‑", "-") | {"⁄": "/", "∕": "/"}
)
_NUMBER = (
    r"(?:(?P<{0}whole>\d+)(?:-| +)(?P<{0}num>\d+)/(?P<{0}den>\d+)"
    r"|(?P<{0}n>\d+)/(?P<{0}d>\d+)"
    r"|(?P<{0}dec>\d+\.?\d*|\.\d+))"
)
_ONE = re.compile(_NUMBER.format("a") + r" ?(?P<unit>[a-z]+\.?|\"|')?", re.ASCII)
_FEET = re.compile(
    _NUMBER.format("a") + r" ?(?:'|ft\.?|foot|feet)(?: |-| - )?" + _NUMBER.format("b") + r" ?(?:\"|in\.?|inch|inches)?",
    re.ASCII,
)


def _plain(text: str) -> str:
    """Fold primes, quotes, dashes, unicode fractions and spaces to plain letters."""
    out = []
    for c in text:
        if unicodedata.decomposition(c).startswith("<fraction>"):
            # 1½ is one and a half: the space keeps it from being read as 11/2
            out.append(" " + unicodedata.normalize("NFKD", c).translate(_PRIMES))
        else:
            out.append(" " if c.isspace() else c)
    return re.sub(" +", " ", "".join(out).translate(_PRIMES)).strip().lower().replace("''", '"')


def _number(m: re.Match[str], key: str, text: str, where: str) -> Fraction:
    g = m.groupdict()
    if g[key + "dec"] is not None:
        return Fraction(g[key + "dec"])
    whole = int(g[key + "whole"] or 0)
    num, den = (int(g[key + a] or g[key + b]) for a, b in (("num", "n"), ("den", "d")))
    if den == 0:
        raise refuse("length-bad", where, f'"{text}" divides by zero', ALLOWED)
    if g[key + "whole"] is not None and num >= den:
        raise refuse(
            "length-bad", where, f'"{text}" has a fraction of one or more beside a whole number', "such as 1-1/2"
        )
    return whole + Fraction(num, den)


def _bad(text: str, where: str, why: str = "is not a length", allowed: str = ALLOWED) -> LaglineError:
    shown = text if len(text) <= 40 else text[:37] + "..."
    return refuse("length-bad", where, f'"{shown}" {why}', allowed)


def exact_mm(given: object, default_unit: str, where: str) -> Fraction:
    """Read shop text or a bare number as an exact length.

    Parameters
    ----------
    given : text as in the module's glossary, or a whole or decimal number in the default unit
    default_unit : ``in`` or ``mm``, for numbers without a unit
    where : file and field, for the finding

    Returns
    -------
    Fraction : the length, sign kept [mm]

    Raises
    ------
    LaglineError
        for anything that is not a length beyond doubt: words, ``1/0``, NaN, decimal commas, ``3-4``,
        ``1.5-1/2``, ``1 5/4``, 12 or more inches beside feet, anything over a kilometre.
    """
    if default_unit not in ("in", "mm"):
        raise ValueError(f"default unit must be in or mm, got {default_unit!r}")
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise _bad(str(given), where)
    if isinstance(given, float) and not math.isfinite(given):
        raise _bad(str(given), where)
    if not isinstance(given, str):
        if abs(given) > LONGEST_MM:
            raise _bad(f"{float(given):g}" if abs(given) < 1e300 else "a huge number", where, "is too long")
        # through text: the 0.1 that was written, not its nearest binary neighbour
        return _checked(Fraction(str(given)) * _UNIT_MM[default_unit], str(given), where)
    if not given.strip():
        raise _bad(given, where, "is empty")
    if len(given) > 60:
        raise _bad(given, where)
    if "," in given:
        raise _bad(given, where, "has a comma", "write the decimal with a point, 12.5, and no comma between thousands")
    text = _plain(given)
    sign = -1 if text.startswith("-") else 1
    text = text.removeprefix("-").removeprefix("+").strip()
    if (m := _ONE.fullmatch(text)) is not None:
        unit = (m["unit"] or default_unit).removesuffix(".")
        if unit not in _UNIT_MM:
            raise _bad(given, where, f'has the unit "{unit}"', "in, ft, mm, cm or m, or none")
        return _checked(sign * _number(m, "a", given, where) * _UNIT_MM[unit], given, where)
    if (m := _FEET.fullmatch(text)) is not None:
        feet, inches = _number(m, "a", given, where), _number(m, "b", given, where)
        if feet.denominator != 1:
            raise _bad(given, where, "has part of a foot and inches", "whole feet beside inches")
        if inches >= 12:
            raise _bad(given, where, "has 12 inches or more beside feet", "under 12 inches beside feet")
        return _checked(sign * (feet * FOOT_MM + inches * INCH_MM), given, where)
    raise _bad(given, where)


def _checked(mm: Fraction, given: str, where: str) -> Fraction:
    if abs(mm) > LONGEST_MM:
        raise _bad(given, where, "is over a kilometre", "up to 1000 m")
    return mm


def read_length(given: object, default_unit: str, where: str, *, signed: bool = False, zero: bool = True) -> float:
    """Return the length of shop text [mm]; see :func:`exact_mm`. Negative only when ``signed``, nought only when
    ``zero``."""
    mm = exact_mm(given, default_unit, where)
    if mm < 0 and not signed:
        raise refuse("length-negative", where, f'"{given}" is below zero', "zero or more" if zero else "above zero")
    if mm == 0 and not zero:
        raise refuse("length-zero", where, f'"{given}" is zero', "above zero")
    return float(mm)


def show_fraction(mm: float, denominator: int = 16, *, feet: bool = False) -> tuple[str, float]:
    """Return the nearest shop fraction of an inch as text, and what rounding added [mm]."""
    if denominator < 1 or denominator & (denominator - 1):
        raise ValueError(f"denominator must be a power of two, got {denominator}")
    if not math.isfinite(mm):
        raise ValueError(f"length is not finite: {mm}")
    inches = Fraction(mm) / INCH_MM
    steps = math.floor(abs(inches) * denominator + Fraction(1, 2))
    whole, rest = divmod(steps, denominator)
    ft, whole = divmod(whole, 12) if feet else (0, whole)
    part = Fraction(rest, denominator)
    fraction = f"{part.numerator}/{part.denominator}" if part else ""
    text = f"{whole}-{fraction}" if whole and fraction else fraction or str(whole)
    shown = (f"{ft}' " if ft else "") + f'{text}"'
    sign = -1 if inches < 0 else 1
    moved = float(sign * Fraction(steps, denominator) * INCH_MM - Fraction(mm))
    return ("-" if sign < 0 and steps else "") + shown, moved


def show_length(
    mm: float,
    units: str,
    denominator: int = 16,
    *,
    feet: bool = False,
    mark_over_mm: float = 0.4,
    decimals: int = 1,
) -> str:
    """Return a length as the shop reads it.

    Inches come as fractions (``1-1/2"``, with ``feet`` as ``5' 3-1/4"``), with ``~`` in front when rounding to
    the fraction moved the length by more than ``mark_over_mm`` [mm] (1/64 in unless told), or rounded something
    to nothing. Millimetres come with ``decimals`` places, trailing noughts dropped.
    """
    if units == "mm":
        if not math.isfinite(mm):
            raise ValueError(f"length is not finite: {mm}")
        text = f"{mm:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
        return f"{'0' if text == '-0' else text} mm"
    if units != "in":
        raise ValueError(f"units must be in or mm, got {units!r}")
    shown, moved = show_fraction(mm, denominator, feet=feet)
    lost = shown == '0"' and abs(mm) > 0.01
    return f"~{shown}" if abs(moved) > mark_over_mm or lost else shown


def show_both(mm: float, denominator: int = 16, *, feet: bool = False) -> str:
    """Return inches with millimetres after them, ``3/8" (9.5 mm)``."""
    return f"{show_length(mm, 'in', denominator, feet=feet)} ({show_length(mm, 'mm')})"


def seconds_per_inch(pace_mm_s: float) -> float:
    """Return the beat for a pace: seconds from one inch mark to the next [s]. Pace above zero [mm/s]."""
    if not (math.isfinite(pace_mm_s) and pace_mm_s > 0):
        raise ValueError(f"pace must be above zero, got {pace_mm_s}")
    return float(INCH_MM) / pace_mm_s


def show_pace(pace_mm_s: float, units: str) -> str:
    """Return a pace as a beat: ``2.4 s per inch (25 in/min)``, or ``10.6 mm/s (2.4 s per 25 mm)``."""
    beat = seconds_per_inch(pace_mm_s)
    if units == "mm":
        return f"{pace_mm_s:.1f} mm/s ({25 / pace_mm_s:.1f} s per 25 mm)"
    if units != "in":
        raise ValueError(f"units must be in or mm, got {units!r}")
    return f"{beat:.1f} s per inch ({60 / beat:.0f} in/min)"
