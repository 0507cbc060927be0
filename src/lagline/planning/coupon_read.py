"""Reading a coupon: from a TOML file, from words on the command line, or from a form; every fault told at once.

There is one way through for all of them. What cannot be read or cannot be true is refused; what is doubtful is kept as
given, with a caution that asks (``coupon_doubts``).
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from lagline.planning.coupon_table import COUPON_LENGTHS, filled, read_table
from lagline.planning.fields import Fields, read_file, read_toml, refused, shown
from lagline.planning.kit_file import METALS
from lagline.records.coupon import Coupon, CouponCut, Dross
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, sort_findings
from lagline.records.kit import Kit

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
    written = [n for n, cut in cuts.items() if any(str(v).strip() for v in cut.values())]
    # a row left blank between others keeps its number, so that "cut 3" is the third on the scrap
    data["cuts"] = [cuts.get(n, {}) for n in range(1, max(written, default=0) + 1)]
    return coupon_from_fields(data, "coupon", kit, today)


def coupon_from_words(
    given: Mapping[str, object],
    also: Sequence[str] = (),
    cuts: Sequence[str] = (),
    kit: Kit | None = None,
    today: datetime.date | None = None,
) -> tuple[Coupon, tuple[Finding, ...]]:
    """Read a coupon from options: named values, more of them in words, and the words of each cut."""
    data = filled(given)
    found: list[Finding] = []
    for n, text in enumerate(also, 1):
        for key, value in _words(text, f"--also {n}", found).items():
            if key in data:
                found.extend(refuse("field-twice", f"--also {n}", f"{key} is given before", "each once").findings)
            data.setdefault(key, value)
    data["cuts"] = [_words(text, f"--cut {n}", found) for n, text in enumerate(cuts, 1)]
    return coupon_from_fields(data, "coupon", kit, today, tuple(found))


def _words(text: str, where: str, found: list[Finding]) -> dict[str, object]:
    """What words say, ``length=10, seconds=24, kerf top=3/32``; what cannot be read of them is added to findings."""
    out: dict[str, object] = {}
    for part in re.split(r"[,;]", text):
        if not part.strip():
            continue
        key, sign, value = part.partition("=")
        name = re.sub(r"[\s-]+", "_", key.strip().lower())
        if not sign or not name:
            say = f"{shown(part.strip())} is not name=value"
            found.extend(refuse("cut-words", where, say, "length=10, seconds=24").findings)
        elif name in out:
            say = "each once; one --cut for each cut"
            found.extend(refuse("cut-words", where, f"{name} is given twice", say).findings)
        else:
            out[name] = value.strip()
    return out


def coupon_from_fields(
    data: Mapping[str, object],
    name: str,
    kit: Kit | None = None,
    today: datetime.date | None = None,
    found: tuple[Finding, ...] = (),
) -> tuple[Coupon, tuple[Finding, ...]]:
    """Read a coupon from named values.

    Parameters: values by name, numbers or texts, and ``cuts``, a list of the same; what findings call it; the kit it
    was cut with, for what is plausible; the day of today; what was found wrong already on the way here.
    Returns the coupon without an id, and cautions and notes on it. Raises LaglineError carrying everything that
    cannot be read and everything that cannot be true at once, each with where, what was given and what is allowed.
    """
    day = today or datetime.date.today()

    def read(unit: str, metal: str) -> tuple[Coupon, list[Finding]]:
        findings = list(found)
        return read_table(Fields(filled(data), name, findings), kit, day, unit, metal), findings

    coupon, findings = read("in", "steel")
    if bad := refused(findings):
        places = {f.where for f in bad}
        # with the unit or the metal unknown, only what is wrong whichever it is
        units = ("in", "mm") if f"{name}: units" in places else ("in",)
        metals = METALS if f"{name}: metal" in places else ("steel",)
        every = [{(f.code, f.where) for f in refused(read(u, m)[1])} for u in units for m in metals]
        raise LaglineError(*(f for f in bad if all((f.code, f.where) in one for one in every)))
    return coupon, sort_findings(findings)


def coupon_toml(coupon: Coupon) -> str:
    """Return a coupon as a TOML text that reads back the same, to correct it; without id and what was said of it."""
    import tomlkit

    from lagline.planning.coupon_written import in_inches, units_of, written_pressure

    units = units_of(coupon)

    def lengths(values: Mapping[str, object]) -> dict[str, object]:
        """Lengths under their plain name in inches where they are exact so, else in mm."""
        out: dict[str, object] = {}
        for key, value in values.items():
            inches = in_inches(value) if units == "in" and key.endswith("_mm") and isinstance(value, float) else None
            out |= {key: value} if inches is None else {key.removesuffix("_mm"): inches}
        return out

    supply = None if coupon.supply_kpa_g is None else written_pressure(coupon.supply_kpa_g)
    doc = tomlkit.document()
    doc.add("units", units)
    whole = {
        "date": datetime.date.fromisoformat(coupon.date), "tip": coupon.tip, "metal": coupon.metal,
        "thickness_mm": coupon.thickness_mm, "current_a": coupon.current_a, "bench": coupon.bench or None,
        "starts": coupon.starts, "arc_min": coupon.arc_min, "supply": supply,
        **{f"{k}_mm": getattr(coupon, f"{k}_mm") for k in COUPON_LENGTHS},
        "gouge_pace_mm_s": coupon.gouge_pace_mm_s, "note": coupon.note or None,
    }  # fmt: skip
    for key, value in lengths(whole).items():
        if value is not None:
            doc.add(key, value)
    cuts = tomlkit.aot()
    for cut in coupon.cuts:
        table = tomlkit.table()
        for field, value in lengths({f: getattr(cut, f) for f in CouponCut.__dataclass_fields__}).items():
            if value is not None:
                table.add(field, str(value) if isinstance(value, Dross) else value)
        cuts.append(table)
    if coupon.cuts:
        doc.add("cuts", cuts)
    return tomlkit.dumps(doc)
