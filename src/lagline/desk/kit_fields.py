"""The fields of the kit page by their headings, with what is assumed where one is empty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.planning.job_edit import Path
from lagline.planning.kit_file import generic_kit
from lagline.records.figure import Spread
from lagline.records.length import show_length


@dataclass(frozen=True, slots=True)
class KitField:
    """One field of the kit page. ``kind``: ``text`` as the shop writes it, ``number``, ``spread``, ``choice``,
    ``list``."""

    path: Path
    label: str
    kind: str
    hint: str
    choices: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return "kit." + ".".join(map(str, self.path))


def _inch(mm: float) -> str:
    return show_length(mm, "in", 32, mark_over_mm=math.inf)


def _between(s: Spread) -> str:
    return f"empty: {_inch(s.value)}, a default from {_inch(s.low)} to {_inch(s.high)}"


def kit_fields() -> dict[str, tuple[KitField, ...]]:
    """Return the fields by their heading; hints say what is assumed."""
    g = generic_kit()
    power, torch, guides, air, hand = g.power, g.torch, g.guides, g.air, g.operator
    cfm, gal, psi, pace = 28.316846592, 3.785411784, 6.894757293, 25.4 / 60
    f = KitField
    return {
        "The set": (
            f(("power", "name"), "What you call it", "text", f"empty: {power.name}"),
            f(
                ("power", "rated_current_a"),
                "Rated current, A",
                "number",
                f"rating plate; empty: {power.rated_current_a:g} A",
            ),
            f(
                ("power", "rated_thickness"),
                "Cuts cleanly at about 10 in/min",
                "spread",
                f"mild steel, at rated current; needed with the current; {_between(power.rated_thickness_mm)}",
            ),
            f(("power", "min_current_a"), "Least current, A", "number", f"empty: {power.min_current_a:g} A"),
            f(("power", "supply_v"), "Supply, V", "number", f"empty: {power.supply_v:g} V"),
            f(("power", "cord"), "Cord, copper", "text", "extension included, such as 10 AWG; empty: not looked at"),
            f(("power", "cord_length"), "Cord, whole length", "text", "such as 50 ft; empty: not looked at"),
            f(("power", "breaker_a"), "Breaker, A", "number", "empty: not looked at"),
            f(("power", "ambient"), "Air around the set", "text", "such as 95 F; empty: 40 C, as duty is rated"),
            f(
                ("power", "arc_before_min"),
                "Arc in the ten minutes before, min",
                "number",
                "empty: none, the set begins cold",
            ),
        ),
        "The torch": (
            f(
                ("torch", "cup_radius"),
                "Cup radius at guide height",
                "spread",
                f"measure yours; {_between(torch.cup_radius_mm)}",
            ),
            f(
                ("torch", "square_side"),
                "Square side of travel",
                "choice",
                f"{torch.square_side} when not said",
                ("right", "left"),
            ),
        ),
        "Guides": (
            f(
                ("guides", "straightedges"),
                "Straightedges",
                "list",
                "their lengths with commas; empty: " + ", ".join(_inch(s) for s in guides.straightedges_mm),
            ),
            f(("guides", "width"), "Their width", "text", f"empty: {_inch(guides.width_mm)}"),
            f(("guides", "height"), "Their height", "text", f"empty: {_inch(guides.height_mm)}"),
            f(("guides", "hold"), "Held by", "choice", f"{guides.hold} when not said", ("clamp", "magnet")),
            f(
                ("guides", "clamp_reach"),
                "Clamps reach in from an edge",
                "text",
                f"empty: {_inch(guides.clamp_reach_mm)}",
            ),
            f(
                ("guides", "arm_min"),
                "Circle arm, shortest",
                "text",
                f"pivot to tip; empty: {_inch(guides.arm_min_mm)}",
            ),
            f(("guides", "arm_max"), "Circle arm, longest", "text", f"0 for none; empty: {_inch(guides.arm_max_mm)}"),
            f(("guides", "template_max"), "Largest template", "text", f"empty: {_inch(guides.template_max_mm)}"),
            f(("guides", "drill_max"), "Largest drill", "text", f"empty: {_inch(guides.drill_max_mm)}"),
        ),
        "Air": (
            f(
                ("air", "delivery"),
                "Compressor delivers",
                "text",
                f"free air, such as 11 cfm; empty: {air.delivery_l_min / cfm:.3g} cfm",
            ),
            f(("air", "tank"), "Tank", "text", f"such as 80 gal; empty: {air.tank_l / gal:.3g} gal"),
            f(("air", "cut_in"), "Starts at", "text", f"empty: {air.cut_in_kpa_g / psi:.3g} psi"),
            f(("air", "cut_out"), "Stops at", "text", f"empty: {air.cut_out_kpa_g / psi:.3g} psi"),
            f(
                ("air", "use"),
                "The torch uses",
                "spread",
                f"empty: {air.use_l_min.value / cfm:.3g} cfm, a default "
                f"from {air.use_l_min.low / cfm:.3g} to {air.use_l_min.high / cfm:.3g}",
            ),
            *_line_fields(),
        ),
        "You": (
            f(("operator", "reach"), "Reach in one go", "text", f"empty: {_inch(hand.reach_mm)}"),
            f(("operator", "hand"), "Hand", "choice", f"{hand.hand} when not said", ("right", "left")),
            f(
                ("operator", "pace_low"),
                "Slowest pace you hold",
                "text",
                f"empty: {hand.pace_low_mm_s / pace:.3g} in/min",
            ),
            f(
                ("operator", "pace_high"),
                "Fastest pace you hold",
                "text",
                f"empty: {hand.pace_high_mm_s / pace:.3g} in/min",
            ),
        ),
        "Your rates": _rate_fields(),
    }


def _rate_fields() -> tuple[KitField, ...]:
    """Fields of what a price is made of."""
    bench, f = generic_kit().bench, KitField
    prices = dict(bench.metal_per_kg)
    hour = bench.labour_per_h
    return (
        f(("quote", "shop"), "Your name on the quote", "text", "empty: a line to fill in by pen"),
        f(
            ("bench", "labour_per_h"),
            "Labour, an hour",
            "number",
            f"empty: {hour.value:g}, a default from {hour.low:g} to {hour.high:g}",
        ),
        *(
            f(("bench", "metal_per_kg", m), f"{m.capitalize()}, a kg", "number", f"new; empty: {prices[m]:g}")
            for m in prices
        ),
        f(("bench", "tip_set_cost"), "Nozzle and electrode", "number", f"together; empty: {bench.tip_set_cost:g}"),
        f(("bench", "energy_per_kwh"), "Power, a kWh", "number", f"empty: {bench.energy_per_kwh:g}"),
        f(("quote", "overhead"), "Overhead", "text", "of what the job costs, such as 15 %; empty: none"),
        f(("quote", "margin"), "Margin", "text", "of the price, such as 20 %; empty: none"),
    )


def _line_fields() -> tuple[KitField, ...]:
    """Fields of hose, regulator and place."""
    air, psi, f = generic_kit().air, 6.894757293, KitField
    line, at = air.line, air.intake
    assert line is not None
    assert at is not None
    return (
        f(
            ("air", "hose_length"),
            "Hose, tank to set",
            "text",
            f"such as 50 ft; empty: {_inch(line.hose_length_mm.value)}",
        ),
        f(("air", "hose_bore"), "Hose, true bore", "text", f"empty: {_inch(line.hose_bore_mm.value)}"),
        f(("air", "fittings"), "Couplings", "number", f"empty: {line.fittings}"),
        f(("air", "regulator"), "Regulator, air flowing", "text", f"empty: {line.regulator_kpa_g / psi:.3g} psi"),
        f(
            ("air", "torch_least"),
            "The torch needs",
            "text",
            f"air flowing; empty: {line.torch_least_kpa_g / psi:.3g} psi",
        ),
        f(("air", "altitude"), "Altitude", "text", "such as 5000 ft; empty: sea level"),
        f(("air", "intake_temp"), "Air taken in", "text", f"such as 95 F; empty: {at.intake_c * 1.8 + 32:.0f} F"),
        f(("air", "humidity"), "Its humidity", "text", f"such as 80 %; empty: {at.humidity:.0%}"),
        f(("air", "tank_temp"), "Tank", "text", f"its temperature; empty: {at.tank_c * 1.8 + 32:.0f} F"),
        f(
            ("air", "dryer"),
            "Air dried by",
            "choice",
            f"{at.dryer} when not said",
            ("none", "aftercooler", "refrigerated", "desiccant"),
        ),
    )
