"""What a coupon page was asked for: bench, tip, metal, thickness, current; and which field a finding belongs to."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from lagline.planning.coupon_fields import scalar
from lagline.planning.coupon_written import units_of, written_length, written_pressure
from lagline.planning.fields import read_thickness
from lagline.planning.kit_file import METALS
from lagline.records.coupon import Coupon
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding
from lagline.records.kit import Kit
from lagline.records.length import show_fraction

FIRST = {"kit": "", "metal": "steel", "units": "in", "paper": "letter"}
CONDITIONS = ("kit", "tip", "metal", "thickness", "current", "units", "paper", "gouge")
CUT_FIELDS = ("length", "seconds", "kerf_top", "kerf_bottom", "guide_near", "guide_far", "gap_right", "gap_left", "lag",
              "dross_height", "through", "dross")  # fmt: skip
COUPON_FIELDS = (
    "tip", "metal", "thickness", "current", "units", "date", "starts", "arc_min", "supply", "crater", "arm",
    "disc_asked", "disc_got", "hole_asked", "hole_got", "gouge_width", "gouge_depth", "gouge_length", "gouge_seconds",
    "gouge_pace", "note",
)  # fmt: skip
CUTS = 3
_WHERE_CUT = re.compile(r"(?:coupon: )?cut (\d+)(?:: |, )([a-z_]+)")
_WHERE = re.compile(r"(?:coupon: )?([a-z_]+)")


@dataclass(frozen=True, slots=True)
class Asked:
    """One condition on one bench."""

    key: str
    kit: Kit
    tip: str
    metal: str
    thickness_mm: float
    current_a: float
    units: str
    paper: str
    gouge: bool


def read_asked(text: Mapping[str, str], kits: Mapping[str, Kit]) -> Asked:
    """Return what was asked for. Errors: LaglineError with everything that will not do."""
    found: list[Finding] = []
    kit = kits.get(text.get("kit", ""))
    if kit is None:
        raise refuse("bench-unknown", "kit", "there is no such bench here", "choose one of the list")
    units = _one_of("units", text.get("units", "in"), ("in", "mm"), found)
    paper = _one_of("paper", text.get("paper", "letter"), ("letter", "a4"), found)
    metal = _one_of("metal", text.get("metal", "steel"), METALS, found)
    tips = {t.name: t for t in kit.torch.tips}
    tip = tips.get(text.get("tip", ""))
    if tip is None:
        found.extend(refuse("tip-unknown", "tip", f"{kit.name} has no such tip", ", ".join(tips)).findings)
    thickness, current = 1.0, 1.0
    given = text.get("thickness", "").strip()
    try:
        if not given:
            raise refuse("field-missing", "thickness", "is missing", "3/8, 10 ga, 12 mm")
        thickness, _ = read_thickness(given, metal, "none", units, "thickness")
        if not 0.8 <= thickness <= 50:
            raise refuse("thickness-bad", "thickness", f"{thickness:.2f} mm is beyond a hand torch", "0.8 to 50 mm")
    except LaglineError as e:
        found.extend(e.findings)
    try:
        if text.get("current", "").strip():
            top = min(kit.power.rated_current_a, tip.max_current_a) if tip else kit.power.rated_current_a
            current = scalar("A", ("a", "amp", "amps"), 10, top)(text["current"], "current")
        elif tip is not None:
            current = min(tip.max_current_a, kit.power.rated_current_a)
    except LaglineError as e:
        found.extend(e.findings)
    if found or tip is None:
        raise LaglineError(*found)
    key, gouge = text.get("kit", ""), text.get("gouge") == "yes"
    return Asked(key, kit, tip.name, metal, thickness, current, units, paper, gouge)


def _one_of(name: str, given: str, allowed: tuple[str, ...], found: list[Finding]) -> str:
    if given in allowed:
        return given
    found.extend(refuse("field-bad", name, f'there is no "{given[:40]}"', ", ".join(allowed)).findings)
    return allowed[0]


def query(typed: Mapping[str, str], **more: str) -> str:
    """Return conditions as the end of an address."""
    return urlencode({k: v for k, v in ({k: typed.get(k, "") for k in CONDITIONS} | more).items() if v})


def conditions_of(coupon: Coupon, kits: Mapping[str, Kit], units: str = "in") -> dict[str, str]:
    """Return the conditions of a coupon as a form holds them."""
    key = next((k for k, kit in kits.items() if kit.name == coupon.bench), "")
    return {
        **FIRST, "kit": key, "tip": coupon.tip, "metal": coupon.metal, "thickness": as_written(coupon.thickness_mm),
        "current": f"{coupon.current_a:g}", "units": units,
    }  # fmt: skip


def as_written(thickness_mm: float) -> str:
    """Return a thickness as the shop writes it when that is exact, else in millimetres."""
    text, moved = show_fraction(thickness_mm, 64)
    return text if abs(moved) < 1e-6 else f"{thickness_mm:.6g} mm"


def field_of(finding: Finding) -> str:
    """Return the form's field a finding is about, empty when it is about the whole."""
    if m := _WHERE_CUT.match(finding.where):
        return f"cut{m[1]}.{m[2]}"
    if m := _WHERE.fullmatch(finding.where):
        return {"current_a": "current", "thickness_mm": "thickness"}.get(m[1], m[1])
    return ""


def by_field(findings: tuple[Finding, ...]) -> dict[str, list[Finding]]:
    """Return findings by the field they belong beside."""
    out: dict[str, list[Finding]] = {}
    for f in findings:
        out.setdefault(field_of(f), []).append(f)
    return out


def form_only(text: Mapping[str, str], kit: Kit) -> dict[str, str]:
    """Return what a form says of a coupon, without what only the page needs; names as the reader knows them."""
    out = {k: text[k] for k in COUPON_FIELDS if text.get(k, "").strip()}
    for key, value in text.items():
        number, _, name = key.partition(".")
        if name in CUT_FIELDS and re.fullmatch(r"cut\d{1,2}", number, re.ASCII):
            out[key] = value
    if kit.origin != "built in":
        out["bench"] = kit.name
    return out


def typed_of(coupon: Coupon, kits: Mapping[str, Kit]) -> dict[str, str]:
    """Return a coupon as the form would hold it, exactly, in the unit it was plainly measured in."""
    units = units_of(coupon)

    def length(mm: float | None) -> str:
        return "" if mm is None else written_length(mm, units)

    out = (
        conditions_of(coupon, kits, units)
        | {"thickness": length(coupon.thickness_mm)}
        | {"date": coupon.date, "note": coupon.note}
    )
    for name in ("starts", "arc_min"):
        value = getattr(coupon, name)
        out[name] = "" if value is None else _plain(value)
    out["supply"] = "" if coupon.supply_kpa_g is None else written_pressure(coupon.supply_kpa_g)
    out["gouge_pace"] = "" if coupon.gouge_pace_mm_s is None else f"{coupon.gouge_pace_mm_s!r} mm/s"
    for name in ("crater", "disc_asked", "disc_got", "hole_asked", "hole_got", "gouge_width", "gouge_depth"):
        out[name] = length(getattr(coupon, f"{name}_mm"))
    for n, cut in enumerate(coupon.cuts, 1):
        for name in CUT_FIELDS:
            if name == "through":
                out[f"cut{n}.through"] = "" if cut.through is None else "yes" if cut.through else "no"
            elif name == "dross":
                out[f"cut{n}.dross"] = "" if cut.dross is None else str(cut.dross)
            elif name == "seconds":
                out[f"cut{n}.seconds"] = "" if cut.seconds is None else _plain(cut.seconds)
            else:
                out[f"cut{n}.{name}"] = length(getattr(cut, f"{name}_mm"))
    return out


def _plain(value: float) -> str:
    """A number without needless digits that reads back the same."""
    return f"{value:g}" if float(f"{value:g}") == value else repr(value)
