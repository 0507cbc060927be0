"""Reading a coupon: from a TOML file, from words on the command line, or from a form; every fault told at once.

What cannot be true is refused. What is doubtful is kept as given, with a caution that asks (``coupon_doubts``).
Lengths are read in shop units under their plain name (``kerf_top``), or in millimetres under the record's
(``kerf_top_mm``); a face as the gap under a square or in degrees; anything blank is taken as not measured.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from lagline.planning.coupon_doubts import doubts, impossible
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

T = TypeVar("T")
MOST_CUTS = 20
CUT_LENGTHS = ("length", "kerf_top", "kerf_bottom", "guide_near", "guide_far", "dross_height")
COUPON_LENGTHS = ("crater", "disc_asked", "disc_got", "hole_asked", "hole_got", "gouge_width", "gouge_depth")
_MAY_BE_ZERO = ("guide_near", "dross_height", "gouge_depth", "crater", "lag")
DROSS_WORDS = {
    "none": Dross.NONE, "no": Dross.NONE, "clean": Dross.NONE,
    "slow": Dross.SLOW, "thick": Dross.SLOW, "heavy": Dross.SLOW, "bubbly": Dross.SLOW,
    "fast": Dross.FAST, "thin": Dross.FAST, "hard": Dross.FAST, "bead": Dross.FAST,
}  # fmt: skip
_YES, _NO = ("yes", "y", "true", "on", "1"), ("no", "n", "false", "off", "0")
_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*([a-z°]*)\.?", re.ASCII | re.IGNORECASE)
_NUMBER_DEG = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*(°|deg|degrees|degree)?\.?", re.IGNORECASE)
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
    lengths: dict[str, Any] = {f"{key}_mm": _length(f, key, unit) for key in COUPON_LENGTHS}
    _from_arm(f, unit, lengths)
    coupon = Coupon(
        id="",
        date=f.take("date", _date(day), day).isoformat(),
        tip=f.need("tip", _tip(kit), "tip", "what is stamped on it, as in the kit"),
        metal=metal,
        thickness_mm=_thickness(f, unit, metal),
        current_a=_needed(f, ("current", "current_a"), scalar("A", ("a", "amp", "amps"), 1, 500), 1.0),
        cuts=(),
        bench=bench,
        starts=f.take("starts", _count, None),
        arc_min=_either(f, ("arc_min", "arc_minutes"), scalar("min", ("min", "minutes", "minute"), 0, 100_000)),
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


def scalar(unit: str, words: tuple[str, ...], least: float, most: float) -> Callable[[object, str], float]:
    """Return a reader for a number, plain or as text with its unit, within limits, both allowed."""
    allowed = f"{least:g} to {most:g} {unit}"

    def read(given: object, where: str) -> float:
        if isinstance(given, str):
            m = _NUMBER.fullmatch(given.strip())
            if m is None:
                hint = ", with a point and not a comma" if "," in given else ""
                raise refuse("field-bad", where, f"{shown(given)} is not a number", allowed + hint)
            if m[2] and m[2].lower() not in words:
                raise refuse("unit-wrong", where, f'{shown(given)} has the unit "{m[2]}"', allowed)
            value = float(m[1])
        elif isinstance(given, int | float) and not isinstance(given, bool):
            value = float(given) if abs(given) < 1e300 or isinstance(given, float) else math.inf
        else:
            raise refuse("field-bad", where, f"{shown(given)} is not a number", allowed)
        if not math.isfinite(value) or not least <= value <= most:
            raise refuse("field-bad", where, f"{shown(given)} is out of range", allowed)
        return value

    return read


def _degrees(given: object, where: str) -> float:
    if isinstance(given, str) and (m := _NUMBER_DEG.fullmatch(given.strip())):
        given = float(m[1])
    return scalar("degrees", (), -60, 60)(given, where)


def _flag(given: object, where: str) -> bool:
    if isinstance(given, bool):
        return given
    word = given.strip().lower() if isinstance(given, str) else ""
    if word not in (*_YES, *_NO):
        raise refuse("field-bad", where, f"{shown(given)} is neither yes nor no", "yes or no")
    return word in _YES


def _dross(given: object, where: str) -> Dross:
    word = given.strip().lower() if isinstance(given, str) else ""
    if word not in DROSS_WORDS:
        say = "none (clean), slow (thick, bubbly, flicks off) or fast (thin hard bead)"
        raise refuse("dross-word", where, f"{shown(given)} is no word for dross", say)
    return DROSS_WORDS[word]


def _count(given: object, where: str) -> int:
    value = scalar("starts", ("starts", "start"), 0, 1_000_000)(given, where)
    if value != int(value):
        raise refuse("field-bad", where, f"{shown(given)} is not a whole number", "a whole number of starts")
    return int(value)


def _date(today: datetime.date) -> Callable[[object, str], datetime.date]:
    def read(given: object, where: str) -> datetime.date:
        if isinstance(given, datetime.datetime):
            given = given.date()
        if isinstance(given, str):
            try:
                given = datetime.date.fromisoformat(given.strip())
            except ValueError:
                raise refuse("field-bad", where, f"{shown(given)} is not a day", "year-month-day, 2026-11-25") from None
        if not isinstance(given, datetime.date):
            raise refuse("field-bad", where, f"{shown(given)} is not a day", "year-month-day, 2026-11-25")
        if given > today:
            raise refuse("date-future", where, f"{given} has not come yet", f"up to today, {today}")
        if given.year < 1990:
            raise refuse("date-old", where, f"{given} is too long ago", "1990 or later")
        return given

    return read


def _tip(kit: Kit | None) -> Callable[[object, str], str]:
    """A tip's name; one that differs from the kit's only in case or space is taken as the kit writes it."""

    def read(given: object, where: str) -> str:
        text = read_text(str(given) if isinstance(given, int) and not isinstance(given, bool) else given, where)
        known = {re.sub(r"\s+", "", t.name.lower()): t.name for t in kit.torch.tips} if kit is not None else {}
        return known.get(re.sub(r"\s+", "", text.lower()), text)

    return read


def _length(f: Fields, key: str, unit: str, *, signed: bool = False) -> float | None:
    """A length under its plain name in shop units, or under the record's in millimetres; None when absent."""
    plain, exact = key, f"{key}_mm"
    if f.has(plain) and f.has(exact):
        f.refuse("field-twice", exact, f"is given beside {plain}", "one of the two")
        return None
    zero = signed or key in _MAY_BE_ZERO

    def read(in_unit: str) -> Callable[[object, str], float]:
        def one(given: object, where: str) -> float:
            mm = length(in_unit, -1000.0 if signed else 0.0, 20_000.0)(given, where)
            if mm == 0 and not zero:
                raise refuse("length-zero", where, f"{shown(given)} is zero", "above zero; leave out what was not read")
            return mm

        return one

    if f.has(exact):
        return f.take(exact, read("mm"), None)
    return f.take(plain, read(unit), None)


def _either(f: Fields, keys: tuple[str, ...], read: Callable[[object, str], T]) -> T | None:
    given = [k for k in keys if f.has(k)]
    if len(given) > 1:
        f.refuse("field-twice", given[1], f"is given beside {given[0]}", "one of the two")
        return None
    return f.take(given[0], read, None) if given else None


def _needed(f: Fields, keys: tuple[str, ...], read: Callable[[object, str], float], stand_in: float) -> float:
    if not any(f.has(k) for k in keys):
        f.refuse("field-missing", keys[0], "is missing", "what the set was at, in amps")
        return stand_in
    value = _either(f, keys, read)
    return stand_in if value is None else value


def _thickness(f: Fields, unit: str, metal: str) -> float:
    if f.has("thickness_mm"):
        return _length(f, "thickness", unit) or 1.0
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
    arm = _length(f, "arm", unit)
    for what in ("disc", "hole"):
        if arm is not None and lengths[f"{what}_asked_mm"] is None and lengths[f"{what}_got_mm"] is not None:
            lengths[f"{what}_asked_mm"] = 2 * arm


def _gouge_pace(f: Fields, unit: str) -> float | None:
    run, seconds = _length(f, "gouge_length", unit), _seconds(f, "gouge_seconds")
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
    lengths: dict[str, Any] = {f"{key}_mm": _length(c, key, unit) for key in CUT_LENGTHS}
    cut = CouponCut(
        seconds=_seconds(c),
        through=c.take("through", _flag, None),
        gap_right_mm=_face(c, "gap_right", "bevel_right_deg", unit, thickness_mm, signed=True),
        gap_left_mm=_face(c, "gap_left", "bevel_left_deg", unit, thickness_mm, signed=True),
        lag_mm=_face(c, "lag", "lag_deg", unit, thickness_mm, signed=False),
        dross=c.take("dross", _dross, None),
        **lengths,
    )
    c.done()
    return cut


def _seconds(c: Fields, key: str = "seconds") -> float | None:
    allowed = "above 0 up to 3600 s"

    def read(given: object, where: str) -> float:
        try:
            value = scalar("s", ("s", "sec", "secs", "second", "seconds"), -1e9, 1e9)(given, where)
        except LaglineError as e:
            raise LaglineError(*(replace(f, allowed=allowed) for f in e.findings)) from None
        if not 0 < value <= 3600:
            say = "is no time" if value == 0 else "is below zero" if value < 0 else "is over an hour"
            raise refuse("seconds-not-above-zero", where, f"{shown(given)} {say}", allowed)
        return value

    return c.take(key, read, None)


def _face(c: Fields, gap: str, angle: str, unit: str, thickness_mm: float, *, signed: bool) -> float | None:
    """A gap or a lag as a length, from itself or from an angle over the thickness. [mm]"""
    if c.has(angle):
        if c.has(gap) or c.has(f"{gap}_mm"):
            c.refuse("field-twice", angle, f"is given beside {gap}", "one of the two")
            return None
        deg = c.take(angle, _degrees, None)
        if deg is not None and deg < 0 and not signed:
            c.refuse("field-bad", angle, f"{deg:g} is below zero", "0 when the lines stand upright")
            return None
        return None if deg is None else thickness_mm * math.tan(math.radians(deg))
    c.known.add(angle)
    return _length(c, gap, unit, signed=signed)


def _with_cuts(coupon: Coupon, cuts: tuple[CouponCut, ...]) -> Coupon:
    while cuts and cuts[-1] == CouponCut():
        cuts = cuts[:-1]
    return replace(coupon, cuts=cuts)
