"""Guide, cup and arc of a leaning torch: what to set, and why a guide is too low or too high."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.plan import Setting
from lagline.records.setout import Number, exact
from lagline.setouts.ask import Faults, Field, Given, choice, maybe_length
from lagline.trade import bevel_guide
from lagline.trade.bevel_guide import Lean, guide_figure

USUAL_CUP_MM = 25.4
LONG_ARC_MM = 9.525  # 3/8 in is the longest that is taught, and high: common practice, no source

FIELDS: tuple[Field, ...] = (
    choice("kept", "side the part lies on, seen along the travel", "right", "left"),
    choice("guide_on", "where the guide is clamped", "both", "kept", "drop"),
    maybe_length("guide_height", "height of the guide; empty takes the least that serves", least=0.5, most=100),
    maybe_length("cup_radius", "cup radius; empty takes the bench's", least=2, most=40),
    maybe_length("cup_length", "length of the cup's straight part; empty takes 1 in", USUAL_CUP_MM, least=2, most=100),
    maybe_length("kerf", "kerf across the torch; empty takes the bench's", least=0.3, most=6),
    maybe_length("standoff", "arc length along the torch; empty takes the least the cup allows", least=0, most=40),
)


@dataclass(frozen=True, slots=True)
class Guided:
    """A leaning torch and its guides; a distance is None where no guide of that height serves on that side.

    ``over_kept``: the torch leans over the kept part (land at the bottom), else over the drop.
    """

    lean: Lean
    over_kept: bool
    height_mm: float
    kept: Figure | None
    drop: Figure | None
    findings: tuple[Finding, ...]


def _typed(value: float | None, otherwise: Figure) -> Figure:
    return otherwise if value is None else Figure(value, value, value, "mm", "given", Basis.DRAWING, "as typed")


def afterwards(setting: Setting, bevel_deg: float, units: str) -> tuple[float, Figure]:
    """Return the height of a guide on the part, and its distance from the mark-out line [mm], for a bevel on an edge
    that was cut square: nothing is left on the other side to clamp to, and the torch leans over the part."""
    lean = Lean(setting.cup_radius_mm, setting.kerf_mm, _held(setting, setting.cup_radius_mm, bevel_deg), bevel_deg)
    height = _useful_height(lean, USUAL_CUP_MM, True, units)
    return height, bevel_guide.guide_figure(lean, height, kept=True, leans_over=True)


def _arc(given: Given, setting: Setting, cup: Figure, bevel_deg: float) -> Figure:
    """The arc length held: as typed, else the kit's standoff, but never shorter than the leaning cup allows."""
    typed = given.get("standoff")
    return _held(setting, cup, bevel_deg) if typed is None else _typed(typed, cup)


def _held(setting: Setting, cup: Figure, bevel_deg: float) -> Figure:
    """The kit's standoff, but never shorter than the leaning cup allows."""
    least = [bevel_guide.least_arc(r, bevel_deg) for r in (cup.low, cup.value, cup.high)]
    kit = setting.standoff_mm
    low, value, high = (max(a, b) for a, b in zip((kit.low, kit.value, kit.high), least, strict=True))
    key = "bevel.least-arc" if least[1] > kit.value else kit.formula
    inputs = (("standoff_mm", f"{kit.value:.2f}"), ("rim touches at [mm]", f"{least[1]:.2f}"))
    return Figure(value, low, high, "mm", key, kit.basis, kit.source, inputs)


def serves_from(lean: Lean) -> float:
    """Least height of a guide that serves on the side the torch leans away from [mm]."""
    return bevel_guide.rim_height(lean.cup.value, lean.bevel_deg, lean.arc.value)


def _step(mm: float, units: str) -> float:
    """Round a height up to the next 1/16 in or whole millimetre."""
    step = 25.4 / 16 if units == "in" else 1.0
    return math.ceil(mm / step - 1e-9) * step


def _useful_height(lean: Lean, cup_length_mm: float, over_only: bool, units: str) -> float:
    """A height that serves on either side where there is one, else halfway up what the torch may lean over."""
    r, a, s = lean.cup.value, lean.bevel_deg, lean.arc.value
    low_rim = s * math.cos(math.radians(a)) - r * math.sin(math.radians(a))
    tallest = bevel_guide.tallest(r, a, s, cup_length_mm)
    inside = bevel_guide.away(r, lean.kerf.value, a, s, kept=True) < 0
    if over_only or inside or _step(serves_from(lean), units) > tallest:
        return _step(min(max(low_rim + 3.0, 6.35), (max(low_rim, 0.0) + tallest) / 2), units)
    return _step(serves_from(lean), units)


def guided(
    given: Given, setting: Setting, bevel_deg: float, over_kept: bool, drop_gone: bool, where: str, faults: Faults
) -> Guided:
    """Return arc, guide height and both distances of a torch leaning by a bevel; faults are added, not raised.

    With ``drop_gone`` (cut square first) a guide can only lie on the kept part.
    ``faults.raise_if_any()`` has to follow: what is returned then is only good when nothing was added.
    """
    cup = _typed(given.get("cup_radius"), setting.cup_radius_mm)
    kerf = _typed(given.get("kerf"), setting.kerf_mm)
    lean = Lean(cup, kerf, _arc(given, setting, cup, bevel_deg), bevel_deg)
    side, length = given.word("guide_on"), given["cup_length"]
    if drop_gone and side == "drop":
        faults.add("guide_on", "cut square first there is no drop left to clamp a guide on", "kept; or land by grind")
    if drop_gone:
        side = "kept"
    sides = ("kept", "drop") if side == "both" else (side,)
    leans_over = {"kept": over_kept, "drop": not over_kept}
    least = bevel_guide.least_arc(cup.value, bevel_deg)
    if lean.arc.value < least - 1e-6:
        allowed = f"{given.show(least)} or more at {bevel_deg:g} deg with this cup; or lean less; or a narrower cup"
        faults.add("standoff", f"{given.show(lean.arc.value)} puts the rim of the leaning cup into the plate", allowed)
    height = given.get("guide_height")
    if height is None:
        height = _useful_height(lean, length, all(leans_over[s] for s in sides), given.units)
    findings: list[Finding] = []
    figures: dict[str, Figure | None] = {"kept": None, "drop": None}
    for s in sides:
        wrong = _unserved(given, lean, height, leans_over[s], length)
        if wrong is None:
            figures[s] = guide_figure(lean, height, kept=s == "kept", leans_over=leans_over[s])
        elif side == "both":
            findings.append(Finding("guide-height", Severity.CAUTION, where, f"guide on the {s}: {wrong[0]}", wrong[1]))
        else:
            faults.add("guide_height", *wrong)
    if side == "both" and figures["kept"] is None and figures["drop"] is None:
        faults.add("guide_height", f"a guide {given.show(height)} high serves on neither side", _heights(given, lean))
    if lean.arc.value > LONG_ARC_MM + 1e-6:
        findings.append(_long_arc(given, lean, where))
    return Guided(lean, over_kept, height, figures["kept"], figures["drop"], tuple(findings))


def _heights(given: Given, lean: Lean) -> str:
    most = bevel_guide.tallest(lean.cup.value, lean.bevel_deg, lean.arc.value, given["cup_length"])
    return (
        f"up to {given.show(most)} where the torch leans over it, "
        f"{given.show(_step(serves_from(lean), given.units))} or more where it leans away"
    )


def _unserved(
    given: Given, lean: Lean, height_mm: float, leans_over: bool, cup_length_mm: float
) -> tuple[str, str] | None:
    """Say why a guide of that height does not serve, and what would; None when it does."""
    r, a, s = lean.cup.value, lean.bevel_deg, lean.arc.value
    shown = given.show(height_mm)
    if not leans_over:
        face = bevel_guide.away(r, lean.kerf.value, a, s, kept=True)
        if face < 0:
            why = (
                f"at {a:g} deg with an arc of {given.show(s)} the cup's rim stands inside the cut: the guide would too"
            )
            return why, "clamp it on the side the torch leans over; or a shorter arc; or less lean"
        least = serves_from(lean)
        if height_mm >= least - 1e-6:
            return None
        better = f"{given.show(_step(least, given.units))} or more, packed up if need be; or clamp it on the other side"
        return f"{shown} is too low for the lean: the cup's rim is {given.show(least)} up there and rides over", better
    up = bevel_guide.touch_up(r, a, s, height_mm)
    if up < -1e-6:
        low = s * math.cos(math.radians(a)) - r * math.sin(math.radians(a))
        return f"{shown} is too low: the rim passes over it", f"{given.show(_step(low, given.units))} or more"
    if up > cup_length_mm + 1e-6:
        most = bevel_guide.tallest(r, a, s, cup_length_mm)
        if most < 0.5:
            return f"the cup is too short to bear on a guide at {a:g} deg", "a longer cup, less lean, the other side"
        return (
            f"{shown} is too high for the lean: it bears {given.show(up)} up, above the cup's straight part",
            f"{given.show(most)} or less; or clamp it on the other side",
        )
    return None


def _long_arc(given: Given, lean: Lean, where: str) -> Finding:
    return Finding(
        "arc-long",
        Severity.CAUTION,
        where,
        f"leaning {lean.bevel_deg:g} deg the cup's rim holds the tip {given.show(lean.arc.value)} from the plate: "
        "a long arc, wider kerf, may go out",
        "a narrower cup or none; less lean and grind the rest; try it on scrap",
    )


def lean_numbers(g: Guided) -> tuple[Number, ...]:
    """Return the numbers that hands set on guide and torch."""
    lean = g.lean
    r, a, s = lean.cup.value, lean.bevel_deg, lean.arc.value
    source = bevel_guide.SOURCE
    out = []
    for side, figure, leans_over in (("kept", g.kept, g.over_kept), ("drop", g.drop, not g.over_kept)):
        if figure is not None:
            on = "the kept part" if side == "kept" else "the drop"
            how = "torch leans over it" if leans_over else "torch leans away from it"
            out.append(Number(f"offset_{side}_mm", f"line to guide, guide on {on}; {how}", figure, main=True))
    out.append(
        Number("guide_height_mm", "height of the guide", exact(g.height_mm, "mm", "bevel.rim-height", source), True)
    )
    high = exact(serves_from(lean), "mm", "bevel.rim-height", source)
    out.append(Number("rim_height_mm", "least guide height where the torch leans away from it", high))
    out.append(Number("arc_mm", "arc length along the torch, tip to plate", lean.arc))
    out.append(Number("cup_radius_mm", "cup radius where the guide bears", lean.cup))
    out.append(Number("kerf_mm", "kerf across the torch", lean.kerf))
    if (g.kept if g.over_kept else g.drop) is not None:
        up = exact(bevel_guide.touch_up(r, a, s, g.height_mm), "mm", "bevel.touch-up", source)
        out.append(Number("touch_up_mm", "the guide it leans over bears this far up from the cup's rim", up))
    return tuple(out)
