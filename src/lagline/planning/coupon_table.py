"""A coupon's table of named values, each read for itself, so that one bad value hides no other.

Lengths are read in shop units under their plain name (``kerf_top``), or in millimetres under the record's
(``kerf_top_mm``); a face as the gap under a square or in degrees; anything blank is taken as not measured.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from lagline.planning.coupon_doubts import doubts, impossible
from lagline.planning.coupon_fields import (
    above_zero,
    either,
    length_of,
    needed,
    read_count,
    read_day,
    read_degrees,
    read_dross,
    read_tip,
    read_yes,
    scalar,
    seconds_of,
)
from lagline.planning.fields import (
    Fields,
    choice,
    length,
    nearest,
    quantity,
    read_notes,
    read_text,
    read_thickness,
    refused,
    shown,
)
from lagline.planning.kit_file import METALS
from lagline.records.coupon import Coupon, CouponCut
from lagline.records.finding import Finding
from lagline.records.kit import Kit
from lagline.trade.set_aside import measurements

MOST_CUTS = 20
CUT_LENGTHS = ("length", "kerf_top", "kerf_bottom", "guide_near", "guide_far", "dross_height")
COUPON_LENGTHS = ("crater", "disc_asked", "disc_got", "hole_asked", "hole_got", "gouge_width", "gouge_depth")
CONDITIONS = ("units", "date", "tip", "metal", "thickness", "thickness_mm", "current", "current_a", "bench", "starts",
              "arc_min", "arc_minutes", "note")  # fmt: skip


def filled(data: Mapping[str, object]) -> dict[str, object]:
    """Return the values that are not blank."""
    return {k: v for k, v in data.items() if v is not None and not (isinstance(v, str) and not v.strip())}


def read_table(f: Fields, kit: Kit | None, day: datetime.date, unit: str, metal: str) -> Coupon:
    """Read a coupon's table: what cannot be read or cannot be true is kept with the findings of ``f``.

    ``unit`` and ``metal`` are gone by where the table's own cannot be read; a thickness not read is NaN.
    """
    findings, name = f.findings, f.where
    unit = f.take("units", choice("in", "mm"), unit)
    if not f.has("units") and _has_bare_length(f.data):
        f.note("units-taken", "units", "not said: inches", 'units = "in" or "mm"')
    metal = f.need("metal", choice(*METALS), metal, nearest("", METALS))
    bench = f.take("bench", read_text, kit.name if kit is not None and kit.origin != "built in" else "")
    lengths: dict[str, Any] = {f"{key}_mm": length_of(f, key, unit) for key in COUPON_LENGTHS}
    _from_arm(f, unit, lengths)
    coupon = Coupon(
        id="",
        date=f.take("date", read_day(day), day).isoformat(),
        tip=f.need("tip", read_tip(kit), "tip", "what is stamped on it, as in the kit"),
        metal=metal,
        thickness_mm=_thickness(f, unit, metal),
        current_a=needed(f, ("current", "current_a"), scalar("A", ("a", "amp", "amps"), 1, 500), 1.0),
        cuts=(),
        bench=bench,
        starts=f.take("starts", read_count, None),
        arc_min=either(f, ("arc_min", "arc_minutes"), scalar("min", ("min", "minutes", "minute"), 0, 100_000)),
        supply_kpa_g=_supply(f),
        **lengths,
        gouge_pace_mm_s=_gouge_pace(f, unit),
        note=f.take("note", read_notes, ""),
    )
    cuts = tuple(_cut(c, unit, coupon.thickness_mm) for c in _cuts(f, name, findings))
    coupon = _with_cuts(coupon, cuts)
    f.done(("cuts",))
    # what was measured and could not be read was measured all the same
    if not measurements(coupon) and all(x.where in {f.at(c) for c in CONDITIONS} for x in refused(findings)):
        f.refuse("coupon-empty", "", "nothing was measured", "at least one measurement, such as kerf_top of a cut")
    findings.extend(impossible(coupon, name, unit, kit))
    if not refused(findings):
        findings.extend(doubts(coupon, name, unit, kit))
    return coupon


# ---- one field at a time ----


def _has_bare_length(data: Mapping[str, object]) -> bool:
    cuts = data.get("cuts")
    tables = [data, *(c for c in (cuts if isinstance(cuts, list) else []) if isinstance(c, dict))]
    plain = ("thickness", *CUT_LENGTHS, *COUPON_LENGTHS, "gap_right", "gap_left", "lag", "arm", "gouge_length")
    return any(
        not isinstance(t[key], str) or re.fullmatch(r"[\s\d./ -]+", str(t[key]))
        for t in tables
        for key in plain
        if key in t and str(t[key]).strip()
    )


def _thickness(f: Fields, unit: str, metal: str) -> float:
    """The plate's thickness, NaN when it cannot be read. [mm]"""

    def read(given: object, where: str) -> float:
        if isinstance(given, str) and re.search(r"ga", given, re.IGNORECASE):
            mm, found = read_thickness(given, metal, "none", unit, where)
            f.findings.extend(found)
            return mm
        return length(unit, 0, 20_000)(given, where)  # whether it is a plate is asked with a hint

    plain = f.take("thickness", read, math.nan)
    exact = f.take("thickness_mm", above_zero("mm"), math.nan)
    if f.has("thickness") and f.has("thickness_mm"):
        f.refuse("field-twice", "thickness_mm", "is given beside thickness", "one of the two")
        return math.nan
    if not f.has("thickness") and not f.has("thickness_mm"):
        f.refuse("field-missing", "thickness", "is missing", "the plate's thickness, such as 3/8")
    return plain if f.has("thickness") else exact


def _supply(f: Fields) -> float | None:
    exact = f.take("supply_kpa_g", scalar("kPa", ("kpa",), 50, 3000), None)
    plain = f.take("supply", quantity("pressure", 50, 3000), None)
    if f.has("supply_kpa_g") and f.has("supply"):
        f.refuse("field-twice", "supply_kpa_g", "is given beside supply", "one of the two")
    return exact if exact is not None else plain


def _from_arm(f: Fields, unit: str, lengths: dict[str, Any]) -> None:
    """Disc and hole were both asked of one arm, pivot to tip: twice that across."""
    arm = length_of(f, "arm", unit)
    for what in ("disc", "hole"):
        if arm is not None and lengths[f"{what}_asked_mm"] is None and lengths[f"{what}_got_mm"] is not None:
            lengths[f"{what}_asked_mm"] = 2 * arm


def _gouge_pace(f: Fields, unit: str) -> float | None:
    run, seconds = length_of(f, "gouge_length", unit), seconds_of(f, "gouge_seconds")
    exact = f.take("gouge_pace_mm_s", scalar("mm/s", (), 0.2, 200), None)
    plain = f.take("gouge_pace", quantity("pace", 0.2, 200), None)
    if f.has("gouge_pace") and f.has("gouge_pace_mm_s"):
        f.refuse("field-twice", "gouge_pace_mm_s", "is given beside gouge_pace", "one of the two")
    if f.has("gouge_length") and f.has("gouge_seconds") and (f.has("gouge_pace") or f.has("gouge_pace_mm_s")):
        f.refuse("field-twice", "gouge_pace", "is given beside gouge_length and gouge_seconds", "one of the two")
    if run is not None and seconds is not None:
        return run / seconds
    return exact if exact is not None else plain


def _cuts(f: Fields, name: str, findings: list[Finding]) -> tuple[Fields, ...]:
    """The cuts, called by their number from 1."""
    given = f.data.get("cuts", []) if f.has("cuts") else []
    if not isinstance(given, list | tuple) or not all(isinstance(g, dict) for g in given):
        f.refuse("field-bad", "cuts", f"{shown(given)} is not a list of cuts", "[[cuts]] before each")
    all_ = given if isinstance(given, list | tuple) else ()
    if len(all_) > MOST_CUTS:
        f.refuse("field-bad", "cuts", f"{len(all_)} of them", f"at most {MOST_CUTS} on one coupon")
    return tuple(
        Fields(filled(g) if isinstance(g, dict) else {}, f"{name}: cut {n}", findings)
        for n, g in enumerate(all_[:MOST_CUTS], 1)
    )


def _cut(c: Fields, unit: str, thickness_mm: float) -> CouponCut:
    lengths: dict[str, Any] = {f"{key}_mm": length_of(c, key, unit) for key in CUT_LENGTHS}
    cut = CouponCut(
        seconds=seconds_of(c),
        through=c.take("through", read_yes, None),
        gap_right_mm=_face(c, "gap_right", "bevel_right_deg", unit, thickness_mm, signed=True),
        gap_left_mm=_face(c, "gap_left", "bevel_left_deg", unit, thickness_mm, signed=True),
        lag_mm=_face(c, "lag", "lag_deg", unit, thickness_mm, signed=False),
        dross=c.take("dross", read_dross, None),
        **lengths,
    )
    c.done()
    return cut


def _face(c: Fields, gap: str, angle: str, unit: str, thickness_mm: float, *, signed: bool) -> float | None:
    """A gap or a lag as a length, from itself or from an angle over the thickness. [mm]"""
    mm = length_of(c, gap, unit, signed=signed)
    deg = c.take(angle, read_degrees, None)
    if deg is not None and deg < 0 and not signed:
        c.refuse("field-bad", angle, f"{deg:g} is below zero", "0 when the lines stand upright")
        deg = None
    if c.has(angle) and (c.has(gap) or c.has(f"{gap}_mm")):
        c.refuse("field-twice", angle, f"is given beside {gap}", "one of the two")
        return None
    return mm if deg is None else thickness_mm * math.tan(math.radians(deg))


def _with_cuts(coupon: Coupon, cuts: tuple[CouponCut, ...]) -> Coupon:
    while cuts and cuts[-1] == CouponCut():
        cuts = cuts[:-1]
    return replace(coupon, cuts=cuts)
