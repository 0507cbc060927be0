"""Cup and kerf behind every guide: the bench's own, or as typed; the distances to set, and how they round."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.planning.kit_file import generic_kit
from lagline.records.coupon import Learned
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.job import Stock
from lagline.records.kit import Kit
from lagline.records.length import show_fraction
from lagline.records.plan import Setting
from lagline.records.setout import Column
from lagline.setouts.ask import Faults, Given, maybe_length
from lagline.setouts.bench import Bench
from lagline.trade import guide
from lagline.trade.register import out_of_range

CUP = maybe_length("cup_radius", "cup radius at guide height; empty takes the bench's", least=2, most=40)
KERF = maybe_length("kerf", "kerf width at the top; empty takes the bench's", least=0.3, most=6)


@dataclass(frozen=True, slots=True)
class Torch:
    """How the torch runs along a guide: setting, cup radius R, kerf k, and line to guide on either side [mm]."""

    kit: Kit
    setting: Setting
    cup: Figure
    kerf: Figure
    kept: Figure
    drop: Figure
    findings: tuple[Finding, ...]

    @property
    def r(self) -> float:
        return self.cup.value

    @property
    def k(self) -> float:
        return self.kerf.value


def typed(value: float, unit: str = "mm") -> Figure:
    """Return what was typed as a figure."""
    return Figure(value, value, value, unit, "given", Basis.DRAWING, "as typed")


def torch_of(given: Given, where: str) -> Torch:
    """Return cup, kerf and distances for the metal asked about.

    Without a bench behind the question the generic kit stands in, in plain steel. Errors: LaglineError when half the
    kerf is not smaller than the cup radius: the arc would lie outside the cup.
    """
    bench = given.bench or Bench(
        generic_kit(), Learned(), Stock("steel", "", given["thickness"], given.show(given["thickness"]))
    )
    setting, found = bench.setting()
    cup, kerf = given.get("cup_radius"), given.get("kerf")
    r = setting.cup_radius_mm if cup is None else typed(cup)
    k = setting.kerf_mm if kerf is None else typed(kerf)
    faults = Faults(where)
    faults.unless(
        r.value > k.value / 2,
        "cup_radius",
        f"a cup radius of {given.show(r.value)} is no more than half the kerf, {given.show(k.value / 2)}",
        "cup radius, not diameter, measured from the tip's centre to where the cup rubs; hand torch cups: 4 to 20 mm",
    )
    faults.raise_if_any()
    own = cup is None and kerf is None
    kept = setting.offset_kept_mm if own else guide.offset_figure("kept", r, k)
    drop = setting.offset_drop_mm if own else guide.offset_figure("drop", r, k)
    told = [f for f in found if f.severity is not Severity.NOTE]
    told += out_of_range("guide.kept-side", where, cup_radius_mm=r.value, kerf_mm=k.value)
    return Torch(bench.kit, setting, r, k, kept, drop, tuple(told))


ROUNDED = (
    Column("exact_mm", "exact, mm"),
    Column("inch_64", "nearest 1/64 in"),
    Column("inch_64_error_mm", "sets it off by, mm"),
    Column("half_mm", "nearest 1/2 mm"),
    Column("half_error_mm", "sets it off by, mm"),
)


def rounded(mm: float) -> tuple[float | str, ...]:
    """Return a distance as ``ROUNDED`` wants it: exact, to 1/64 in and to 1/2 mm, with what rounding adds."""
    text, moved = show_fraction(mm, 64)
    half = round(mm * 2) / 2
    return (round(mm, 3), text, round(moved, 3), half, round(half - mm, 3))


def soft(mm: float, given: Given) -> str:
    """Return a distance that need not be kept to: to the quarter inch, or whole millimetres."""
    return show_fraction(mm, 4)[0] if given.units == "in" else f"{mm:.0f} mm"


def made_for(t: Torch, given: Given) -> str:
    """Return what a printed guide is labelled with: cup, kerf, tip, metal."""
    s = t.setting
    metal = f"{s.stock.thickness_text or given.show(s.stock.thickness_mm)} {s.stock.metal}"
    return f"R {both(t.r, given)}, kerf {both(t.k, given)}, tip {s.tip}, {s.current_a:g} A, {metal}"


def both(mm: float, given: Given) -> str:
    """Return a distance as the shop reads it, with its millimetres where the shop has inches: for what is filed."""
    text = given.show(mm)
    return text if text.endswith("mm") else f"{text} ({mm:.1f} mm)"
