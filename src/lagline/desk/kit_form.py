"""A kit as one page of fields: how they stand in the kit text, what is assumed where one is empty, and the text with
the fields filled in."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

import numpy as np

from lagline.book.shelf import KIT
from lagline.data import table
from lagline.desk.kit_fields import kit_fields
from lagline.planning.fields import read_toml
from lagline.planning.job_edit import Path, remove_value, set_value
from lagline.planning.kit_file import MOST_TIPS, generic_kit
from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit

DUTY_ASSUMED = 50  # % of ten minutes at the rated current, as the generic set
KERF_OVER_BORE = 1.5  # common practice, no source
SHARE, FULL = "kit.power.duty_share", "kit.power.duty_full_a"
TIP_KEYS = ("name", "max_current_a", "bore")


def _say(value: object) -> str:
    if isinstance(value, Mapping):
        value = value.get("value")
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return "" if value is None else str(value)


def _dig(data: object, path: Path) -> object:
    for key in path:
        in_list = isinstance(data, list) and isinstance(key, int) and key < len(data)
        if in_list or (isinstance(data, Mapping) and key in data):
            data = data[key]  # type: ignore[index]
        else:
            return None
    return data


def _spread_cells(name: str, value: object) -> dict[str, str]:
    ends = value if isinstance(value, Mapping) else {}
    return {name: _say(value), f"{name}.low": _say(ends.get("low")), f"{name}.high": _say(ends.get("high"))}


def as_it_stands(kit_text: str) -> dict[str, str]:
    """Return what each field of the page holds, empty where the kit says nothing.

    Errors: LaglineError for a text that is not TOML.
    """
    data = read_toml(kit_text, KIT)
    out = {"kit.name": _say(data.get("name")), "kit.units": _say(data.get("units")) or "in"}
    for field in (f for group in kit_fields().values() for f in group):
        value = _dig(data, field.path)
        out |= _spread_cells(field.name, value) if field.kind == "spread" else {field.name: _say(value)}
    out[SHARE] = out[FULL] = ""
    duty, rated = _dig(data, ("power", "duty")), _dig(data, ("power", "rated_current_a"))
    for pair in duty if isinstance(duty, list) else ():
        if isinstance(pair, Mapping):
            share = _share(_say(pair.get("share")))
            if share == 100:
                out[FULL] = _say(pair.get("current_a"))
            elif pair.get("current_a") == rated:
                out[SHARE] = "" if share is None else f"{share:g}"
    tips = data.get("tips")
    for i, tip in enumerate(tips if isinstance(tips, list) else ()):
        at = f"kit.tips.{i}"
        out |= {f"{at}.{k}": _say(_dig(tip, (k,))) for k in TIP_KEYS}
        out |= _spread_cells(f"{at}.kerf", _dig(tip, ("kerf",)))
    return out


def tip_rows(typed: Mapping[str, str]) -> int:
    """Return how many rows of tips the page shows: those there are and one more, three at least."""
    used = [int(m[1]) + 1 for k, v in typed.items() if v and (m := re.match(r"kit\.tips\.(\d{1,2})\.", k))]
    return min(max(3, max(used, default=0) + 1), MOST_TIPS)


def _share(text: str) -> float | None:
    """A share of ten minutes in percent, from ``50``, ``50 %`` or ``0.5``."""
    bare = text.replace("%", "").strip()
    if not re.fullmatch(r"\d{1,3}(\.\d{1,4})?", bare, re.ASCII):
        return None
    value = float(bare) * (100 if "%" not in text and float(bare) <= 1 else 1)
    return value if 1 <= value <= 100 else None


def _number(name: str, text: str) -> int | float:
    if re.fullmatch(r"-?\d{1,7}", text, re.ASCII):
        return int(text)
    if re.fullmatch(r"-?\d{1,7}\.\d{1,6}", text, re.ASCII):
        return float(text)
    raise refuse("field-bad", name, f'"{text[:40]}" is not a number', "a number such as 65, without its unit")


class _Filling:
    """A kit text being filled in; only what differs from how it stands is written."""

    def __init__(self, text: str, given: Mapping[str, str]) -> None:
        self.text, self.was = text, as_it_stands(text)
        self.given = {k: " ".join(v.split())[:200] for k, v in given.items() if k.startswith("kit.")}
        self.findings: list[Finding] = []

    def now(self, name: str) -> str:
        return self.given.get(name, self.was.get(name, ""))

    def differs(self, *names: str) -> bool:
        return any(self.now(n) != self.was.get(n, "") for n in names)

    def write(self, name: str, path: Path, kind: str) -> None:
        names = (name, f"{name}.low", f"{name}.high") if kind == "spread" else (name,)
        if not self.differs(*names):
            return
        try:
            value, low, high = self.now(name), self.now(f"{name}.low"), self.now(f"{name}.high")
            if not value:
                if kind == "spread" and (low or high):
                    raise refuse("field-missing", name, "low or high is given without the value", "all three, or none")
                if self.was.get(name):
                    self.text = remove_value(self.text, path)
                return
            made: object = value
            if kind == "number":
                made = _number(name, value)
            elif kind == "list":
                made = [t.strip() for t in value.split(",") if t.strip()]
            elif kind == "spread" and (low or high):
                made = {"value": value, "low": low or value, "high": high or value}
            self.text = set_value(self.text, path, made)
        except LaglineError as e:
            self.findings.extend(e.findings)

    def duty(self) -> None:
        """Two pairs from the rating plate; one missing follows by equal heating, I2 t constant."""
        rated = "kit.power.rated_current_a"
        if not self.differs(rated, SHARE, FULL):
            return
        if not self.now(rated):
            if self.now(SHARE) or self.now(FULL):
                self.findings.extend(refuse("field-missing", rated, "is missing beside the duty", "A").findings)
            elif _dig(read_toml(self.text, KIT), ("power", "duty")) is not None:
                self.text = remove_value(self.text, ("power", "duty"))
            return
        try:
            amps = float(_number(rated, self.now(rated)))
            share = _share(self.now(SHARE) or f"{DUTY_ASSUMED} %") if self.now(SHARE) or not self.now(FULL) else None
            if self.now(SHARE) and share is None:
                raise refuse("field-bad", SHARE, f'"{self.now(SHARE)[:40]}" is not a share', "1 to 100, in percent")
            if not 0 < amps < 1e4:
                return  # the kit's reader says so beside the current
            full = float(_number(FULL, self.now(FULL))) if self.now(FULL) else amps * math.sqrt((share or 100) / 100)
            if not 0 < full <= amps:
                raise refuse("field-bad", FULL, f"{full:g} A is not up to the rated current", f"up to {amps:g} A")
        except LaglineError as e:
            self.findings.extend(f for f in e.findings if f.where != rated)  # told where it is written
            return
        share = share if share is not None else 100 * (full / amps) ** 2
        pairs = [{"current_a": _plain(amps), "share": f"{share:.3g} %"}]
        if full < amps and share < 100:
            pairs.append({"current_a": _plain(full), "share": "100 %"})
        self.text = set_value(self.text, ("power", "duty"), pairs)

    def tips(self) -> None:
        data = read_toml(self.text, KIT).get("tips")
        there = len(data) if isinstance(data, list) else 0
        gone, end = [], there
        for i in range(MOST_TIPS):
            at = f"kit.tips.{i}"
            cells = [f"{at}.{k}" for k in (*TIP_KEYS, "kerf", "kerf.low", "kerf.high")]
            if not any(self.now(c) for c in cells):
                gone += [i] * (i < there)
                continue
            if i >= there:
                made = self._new_tip(at)
                if made is not None:
                    self.text, end = set_value(self.text, ("tips", end), made), end + 1
                continue
            amps = self.now(f"{at}.max_current_a")
            if re.fullmatch(r"\d{1,3}(\.\d{1,3})?", amps, re.ASCII):
                self.given[f"{at}.bore"] = self.now(f"{at}.bore") or f"{usual_bore_mm(float(amps)):.2g} mm"
                self.given[f"{at}.name"] = self.now(f"{at}.name") or f"{amps} A"
            for key, kind in (("name", "text"), ("max_current_a", "number"), ("bore", "text"), ("kerf", "spread")):
                self.write(f"{at}.{key}", ("tips", i, key), kind)
        for i in reversed(gone):
            self.text = remove_value(self.text, ("tips", i))
        if there and not read_toml(self.text, KIT).get("tips"):
            self.text = remove_value(self.text, ("tips",))  # none of your own: the generic ones again

    def _new_tip(self, at: str) -> dict[str, object] | None:
        try:
            if not self.now(f"{at}.max_current_a"):
                raise refuse("field-missing", f"{at}.max_current_a", "is missing", "the most the tip carries, A")
            amps = _number(f"{at}.max_current_a", self.now(f"{at}.max_current_a"))
        except LaglineError as e:
            self.findings.extend(e.findings)
            return None
        tip: dict[str, object] = {
            "name": self.now(f"{at}.name") or f"{amps:g} A",
            "bore": self.now(f"{at}.bore") or f"{usual_bore_mm(amps):.2g} mm",
            "max_current_a": amps,
        }
        kerf, low, high = (self.now(f"{at}.kerf{end}") for end in ("", ".low", ".high"))
        if kerf:
            tip["kerf"] = {"value": kerf, "low": low or kerf, "high": high or kerf} if low or high else kerf
        elif low or high:
            say = "low or high is given without the value"
            self.findings.extend(refuse("field-missing", f"{at}.kerf", say, "all three, or none").findings)
            return None
        return tip


def _plain(amps: float) -> int | float:
    rounded = round(amps, 1)
    return int(rounded) if rounded == int(rounded) else rounded


def usual_bore_mm(current_a: float) -> float:
    """Return a tip's usual bore [mm]: the usual kerf at its current [A] over 1.5. Common practice, no source."""
    rows = table("kerf_by_current").rows
    middle = [(float(r["kerf_low_mm"]) + float(r["kerf_high_mm"])) / 2 for r in rows]
    return float(np.interp(current_a, [float(r["current_a"]) for r in rows], middle)) / KERF_OVER_BORE


def fill(kit_text: str, given: Mapping[str, str]) -> str:
    """Return the kit text with the page's fields ``kit.*`` filled in, the rest as it was.

    Errors: LaglineError with everything this page can see at once, ``where`` being the field; whether a value is
    allowed the kit's reader says.
    """
    f = _Filling(kit_text, given)
    f.write("kit.name", ("name",), "text")
    if f.now("kit.units") != (f.was["kit.units"]):
        f.text = set_value(f.text, ("units",), f.now("kit.units"))
    for field in (x for group in kit_fields().values() for x in group):
        f.write(field.name, field.path, field.kind)
    f.duty()
    f.tips()
    if f.findings:
        raise LaglineError(*dict.fromkeys(f.findings))
    return f.text


def kit_field_of(finding: Finding) -> str:
    """Return the page's field a finding of the kit's reader is about; empty when it has none."""
    if re.fullmatch(r"kit\.[a-z_]+(\.[a-z_0-9]+)+", finding.where):
        return finding.where
    m = re.fullmatch(r"[^:]+: tips\[(\d+)\][^:]*: ([a-z_]+)(?:\W.*)?", finding.where)
    if m:
        return f"kit.tips.{int(m[1]) - 1}.{m[2]}"
    m = re.fullmatch(r"[^:]+: bench: metal_per_kg: ([a-z]+)", finding.where)
    if m:
        return f"kit.bench.metal_per_kg.{m[1]}"
    m = re.fullmatch(r"[^:]+: (power|torch|guides|air|operator|bench|quote): ([a-z_]+)(?:\W.*)?", finding.where)
    if not m:
        return ""
    return SHARE if m[2] == "duty" else f"kit.{m[1]}.{m[2]}"


def assumed(kit: Kit) -> Finding | None:
    """Return the caution that the generic set was planned with, None once the set is described."""
    generic = generic_kit()
    if kit.power != generic.power:
        return None
    every = (kit.torch, kit.guides, kit.air) == (generic.torch, generic.guides, generic.air)
    what = "every figure is a default" if every else "its current, duty and thickness are defaults"
    return Finding("generic-set", Severity.CAUTION, kit.name, f"generic set: {what}", "describe yours")


def kit_hints() -> dict[str, str]:
    """Return what is assumed where a field is empty, by field."""
    out = {f.name: f.hint for group in kit_fields().values() for f in group}
    out[SHARE] = f"of ten minutes, rating plate; empty: {DUTY_ASSUMED} %, as the generic set"
    return out
