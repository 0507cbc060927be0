"""Reading a coupon: from a TOML file, from words on the command line, or from a form; every fault told at once.

What cannot be true is refused. What is doubtful is kept as given, with a caution that asks (``coupon_doubts``).
Lengths are read in shop units under their plain name (``kerf_top``), or in millimetres under the record's
(``kerf_top_mm``); a face as the gap under a square or in degrees; anything blank is taken as not measured.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from lagline.planning.coupon_doubts import doubts, impossible
from lagline.planning.coupon_fields import (
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
    read_file,
    read_notes,
    read_text,
    read_thickness,
    read_toml,
    refused,
    shown,
)
from lagline.planning.kit_file import METALS
from lagline.records.coupon import Coupon, CouponCut, Dross
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, sort_findings
from lagline.records.kit import Kit
from lagline.trade.set_aside import measurements

MOST_CUTS = 20
CUT_LENGTHS = ("length", "kerf_top", "kerf_bottom", "guide_near", "guide_far", "dross_height")
COUPON_LENGTHS = ("crater", "disc_asked", "disc_got", "hole_asked", "hole_got", "gouge_width", "gouge_depth")
_FORM_CUT = re.compile(r"cut(\d{1,2})\.([a-z_]{1,40})", re.ASCII)


def read_coupon(
    path: Path, kit: Kit | None = None, today: datetime.date | None = None
) -> tuple[Coupon, tuple[Finding, ...]]:
    """Read a coupon file. Returns and raises as :func:`coupon_from_fields`."""
    return coupon_from_text(read_file(path), path.name, kit, today)


def coupon_from_text(
    text: str, name: str, kit: Kit | None = None, today: datetime.date | None = None
) -> tuple[Coupon, tuple[Finding, ...]]:
    """Read a coupon from TOML text; ``name`` is what findings call it."""
    return coupon_from_fields(read_toml(text, name), name, kit, today)


def coupon_from_form(
    form: Mapping[str, str], kit: Kit | None = None, today: datetime.date | None = None
) -> tuple[Coupon, tuple[Finding, ...]]:
    """Read a coupon from the texts of a form: ``tip``, ``kerf_top`` of cut 2 under ``cut2.kerf_top``."""
    data: dict[str, object] = {}
    cuts: dict[int, dict[str, object]] = {}
    for key, value in form.items():
        if m := _FORM_CUT.fullmatch(key):
            cuts.setdefault(int(m[1]), {})[m[2]] = value
        else:
            data[key] = value
    filled = [n for n, cut in cuts.items() if any(str(v).strip() for v in cut.values())]
    # a row left blank between others keeps its number, so that "cut 3" is the third on the scrap
    data["cuts"] = [cuts.get(n, {}) for n in range(1, max(filled, default=0) + 1)]
    return coupon_from_fields(data, "coupon", kit, today)


def cut_from_words(text: str, where: str) -> dict[str, object]:
    """Read one cut from words: ``length=10, seconds=24, kerf top=3/32``. Errors: LaglineError."""
    out: dict[str, object] = {}
    for part in re.split(r"[,;]", text):
        if not part.strip():
            continue
        key, sign, value = part.partition("=")
        name = re.sub(r"[\s-]+", "_", key.strip().lower())
        if not sign or not name:
            raise refuse("cut-words", where, f"{shown(part.strip())} is not name=value", "length=10, seconds=24")
        if name in out:
            raise refuse("cut-words", where, f"{name} is given twice", "each once; one --cut for each cut")
        out[name] = value.strip()
    return out


def coupon_from_fields(
    data: Mapping[str, object], name: str, kit: Kit | None = None, today: datetime.date | None = None
) -> tuple[Coupon, tuple[Finding, ...]]:
    """Read a coupon from named values.

    Parameters: values by name, numbers or texts, and ``cuts``, a list of the same; what findings call it; the kit it
    was cut with, for what is plausible; the day of today.
    Returns the coupon without an id, and cautions and notes on it. Raises LaglineError carrying everything that
    cannot be true at once, each with where, what was given and what is allowed.
    """
    findings: list[Finding] = []
    f = Fields(_filled(data), name, findings)
    unit = f.take("units", choice("in", "mm"), "in")
    if not f.has("units") and _has_bare_length(data):
        f.note("units-taken", "units", "not said: inches", 'units = "in" or "mm"')
    day = today or datetime.date.today()
    metal = f.need("metal", choice(*METALS), "steel", nearest("", METALS))
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
    if not refused(findings):
        if not measurements(coupon):
            f.refuse("coupon-empty", "", "nothing was measured", "at least one measurement, such as kerf_top of a cut")
        findings.extend(impossible(coupon, name, unit, kit))
    if bad := refused(findings):
        raise LaglineError(*bad)
    findings.extend(doubts(coupon, name, unit, kit))
    return coupon, sort_findings(findings)


def coupon_toml(coupon: Coupon) -> str:
    """Return a coupon as a TOML text that reads back the same, for correcting it; without id and set aside."""
    import tomlkit

    doc = tomlkit.document()
    doc.add("units", "mm")
    whole = {
        "date": datetime.date.fromisoformat(coupon.date), "tip": coupon.tip, "metal": coupon.metal,
        "thickness_mm": coupon.thickness_mm, "current_a": coupon.current_a, "bench": coupon.bench or None,
        "starts": coupon.starts, "arc_min": coupon.arc_min, "supply_kpa_g": coupon.supply_kpa_g,
        **{f"{k}_mm": getattr(coupon, f"{k}_mm") for k in COUPON_LENGTHS},
        "gouge_pace_mm_s": coupon.gouge_pace_mm_s, "note": coupon.note or None,
    }  # fmt: skip
    for key, value in whole.items():
        if value is not None:
            doc.add(key, value)
    cuts = tomlkit.aot()
    for cut in coupon.cuts:
        table = tomlkit.table()
        for field in CouponCut.__dataclass_fields__:
            value = getattr(cut, field)
            if value is not None:
                table.add(field, str(value) if isinstance(value, Dross) else value)
        cuts.append(table)
    if coupon.cuts:
        doc.add("cuts", cuts)
    return tomlkit.dumps(doc)


# ---- one field at a time ----


def _filled(data: Mapping[str, object]) -> dict[str, object]:
    """The values that are not blank."""
    return {k: v for k, v in data.items() if v is not None and not (isinstance(v, str) and not v.strip())}


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
    if f.has("thickness_mm"):
        return length_of(f, "thickness", unit) or 1.0
    if not f.has("thickness"):
        f.refuse("field-missing", "thickness", "is missing", "the plate's thickness, such as 3/8")
        return 1.0

    def read(given: object, where: str) -> float:
        if isinstance(given, str) and re.search(r"ga", given, re.IGNORECASE):
            mm, found = read_thickness(given, metal, "none", unit, where)
            f.findings.extend(found)
            return mm
        return length(unit, 0, 20_000)(given, where)  # whether it is a plate is asked with a hint

    return f.take("thickness", read, 1.0)


def _supply(f: Fields) -> float | None:
    if f.has("supply_kpa_g"):
        return f.take("supply_kpa_g", scalar("kPa", ("kpa",), 50, 3000), None)
    return f.take("supply", quantity("pressure", 50, 3000), None)


def _from_arm(f: Fields, unit: str, lengths: dict[str, Any]) -> None:
    """Disc and hole were both asked of one arm, pivot to tip: twice that across."""
    arm = length_of(f, "arm", unit)
    for what in ("disc", "hole"):
        if arm is not None and lengths[f"{what}_asked_mm"] is None and lengths[f"{what}_got_mm"] is not None:
            lengths[f"{what}_asked_mm"] = 2 * arm


def _gouge_pace(f: Fields, unit: str) -> float | None:
    run, seconds = length_of(f, "gouge_length", unit), seconds_of(f, "gouge_seconds")
    if run is not None and seconds is not None:
        if f.has("gouge_pace") or f.has("gouge_pace_mm_s"):
            f.refuse("field-twice", "gouge_pace", "is given beside gouge_length and gouge_seconds", "one of the two")
        return run / seconds
    if f.has("gouge_pace_mm_s"):
        return f.take("gouge_pace_mm_s", scalar("mm/s", (), 0.2, 200), None)
    return f.take("gouge_pace", quantity("pace", 0.2, 200), None)


def _cuts(f: Fields, name: str, findings: list[Finding]) -> tuple[Fields, ...]:
    """The cuts, called by their number from 1."""
    given = f.data.get("cuts", []) if f.has("cuts") else []
    if not isinstance(given, list | tuple) or not all(isinstance(g, dict) for g in given):
        f.refuse("field-bad", "cuts", f"{shown(given)} is not a list of cuts", "[[cuts]] before each")
        return ()
    if len(given) > MOST_CUTS:
        f.refuse("field-bad", "cuts", f"{len(given)} of them", f"at most {MOST_CUTS} on one coupon")
        return ()
    return tuple(Fields(_filled(g), f"{name}: cut {n}", findings) for n, g in enumerate(given, 1))


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
    if c.has(angle):
        if c.has(gap) or c.has(f"{gap}_mm"):
            c.refuse("field-twice", angle, f"is given beside {gap}", "one of the two")
            return None
        deg = c.take(angle, read_degrees, None)
        if deg is not None and deg < 0 and not signed:
            c.refuse("field-bad", angle, f"{deg:g} is below zero", "0 when the lines stand upright")
            return None
        return None if deg is None else thickness_mm * math.tan(math.radians(deg))
    c.known.add(angle)
    return length_of(c, gap, unit, signed=signed)


def _with_cuts(coupon: Coupon, cuts: tuple[CouponCut, ...]) -> Coupon:
    while cuts and cuts[-1] == CouponCut():
        cuts = cuts[:-1]
    return replace(coupon, cuts=cuts)
