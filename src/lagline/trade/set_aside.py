"""Measurements of a coupon by name, and a coupon without those its user has set aside.

A measurement has a name in records, ``crater_mm`` or ``cuts[0].kerf_top_mm`` (counted from 0, as in the record), and
is said to people in words, ``crater`` or ``cut 1 kerf top`` (counted from 1, as on the scrap). Both are understood.
"""

from __future__ import annotations

import re
from dataclasses import fields, replace

from lagline.records.coupon import Coupon, CouponCut

CUT_FIELDS = tuple(f.name for f in fields(CouponCut))
COUPON_FIELDS = (
    "supply_kpa_g",
    "crater_mm",
    "disc_asked_mm",
    "disc_got_mm",
    "hole_asked_mm",
    "hole_got_mm",
    "gouge_width_mm",
    "gouge_depth_mm",
    "gouge_pace_mm_s",
)
_WORDS = re.compile(r"cut[\s_-]*(\d{1,3})[\s_:,.-]+(.+)", re.ASCII)
_NAME = re.compile(r"cuts\[(\d{1,3})\]\.(\w+)", re.ASCII)
_UNIT = re.compile(r"_(mm_s|mm|kpa_g)$", re.ASCII)


def measurements(coupon: Coupon) -> tuple[tuple[str, object], ...]:
    """Return what was measured on a coupon, by name, in the order of the record; what is missing is left out."""
    of_cuts = ((f"cuts[{n}].{f}", getattr(cut, f)) for n, cut in enumerate(coupon.cuts) for f in CUT_FIELDS)
    of_it = ((f, getattr(coupon, f)) for f in COUPON_FIELDS)
    return tuple((name, value) for name, value in (*of_cuts, *of_it) if value is not None)


def measurement_name(text: str) -> str | None:
    """Return the name in records of a measurement given in words or by that name.

    None for a word that is no measurement of any coupon.
    """
    plain = text.strip().lower()
    if m := _NAME.fullmatch(plain):
        return plain if m[2] in CUT_FIELDS else None
    m = _WORDS.fullmatch(plain)
    field = _field(m[2] if m else plain, CUT_FIELDS if m else COUPON_FIELDS)
    if field is None or (m and int(m[1]) < 1):
        return None
    return f"cuts[{int(m[1]) - 1}].{field}" if m else field


def in_words(text: str) -> str:
    """Return a text with every name of a measurement of a cut in words, counted from 1."""
    return _NAME.sub(lambda m: f"cut {int(m[1]) + 1} {_UNIT.sub('', m[2]).replace('_', ' ')}", text)


def _field(text: str, known: tuple[str, ...]) -> str | None:
    word = re.sub(r"[\s_-]+", "_", text.strip())
    if word in known:
        return word
    return next((k for k in known if _UNIT.sub("", k) == word), None)


def without_set_aside(coupon: Coupon) -> Coupon:
    """Return the coupon as it counts: measurements set aside are missing and named no more; what stands still is."""
    aside = set(coupon.set_aside)
    cuts = tuple(
        replace(cut, **{f: None for f in CUT_FIELDS if f"cuts[{n}].{f}" in aside}) for n, cut in enumerate(coupon.cuts)
    )
    rest = {f: None for f in COUPON_FIELDS if f in aside}
    return replace(coupon, cuts=cuts, set_aside=(), **rest)  # type: ignore[arg-type]
