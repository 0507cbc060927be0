"""What the settings stage has to say: the weakest link, and findings on current, thickness, pierce and pace."""

from __future__ import annotations

from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.job import Stock
from lagline.records.kit import Kit, Tip

NEAR_ENOUGH = 0.98  # a pace that rounds to the hand's slowest is not worth a caution
SLACK_MM = 1e-6  # as thick as the rating is within it, however it rounds


def _mm(value: float) -> str:
    return f"{value:.1f} mm ({value / 25.4:.2f} in)"


def _ipm(pace_mm_s: float) -> str:
    return f"{pace_mm_s * 60 / 25.4:.0f} in/min"


def _both(pace_mm_s: float) -> str:
    return f"{_ipm(pace_mm_s)} ({pace_mm_s:.1f} mm/s)"


def _band(low_mm_s: float, high_mm_s: float) -> str:
    return f"{low_mm_s * 60 / 25.4:.0f} to {_ipm(high_mm_s)} ({low_mm_s:.1f} to {high_mm_s:.1f} mm/s)"


def weakest(
    kit: Kit, tip: Tip, amps: float, true_mm: float, edge: Figure, sever: Figure, pierce: Figure, clean: Figure
) -> str:
    """Name the first link that fails, in the order that stops the cut; empty when nothing does."""
    if amps > kit.power.rated_current_a + 1e-9:
        return f"set: {amps:g} A asked of {kit.power.rated_current_a:g} A"
    if amps > tip.max_current_a + 1e-9:
        return f"tip: {amps:g} A on a tip for {tip.max_current_a:g} A"
    if true_mm > sever.value:
        return f"thickness: {true_mm:.1f} mm true, {sever.value:.1f} mm severed from the edge"
    if true_mm > edge.value + SLACK_MM:
        return f"thickness: {true_mm:.1f} mm true, {edge.value:.1f} mm cut clean from the edge"
    if true_mm > pierce.value:
        return f"pierce: {true_mm:.1f} mm true, {pierce.value:.1f} mm pierced"
    low, high = kit.operator.pace_low_mm_s, kit.operator.pace_high_mm_s
    if not low * NEAR_ENOUGH <= clean.value <= high:
        return f"hand: {_ipm(clean.value)} wanted, {low * 60 / 25.4:.0f} to {_ipm(high)} held"
    return ""


def current_findings(name: str, kit: Kit, amps: float, tip: Tip) -> list[Finding]:
    """Say when the current asked for is not one that set and tip can carry."""
    found = []
    top = min(kit.power.rated_current_a, tip.max_current_a)
    if amps > kit.power.rated_current_a + 1e-9:
        found.append(
            Finding(
                "current-above-set",
                Severity.NO_GO,
                name,
                f"{amps:g} A is asked for and the set gives {kit.power.rated_current_a:g} A",
                f"{kit.power.min_current_a:g} to {top:g} A with this set and these tips",
            )
        )
    elif amps > tip.max_current_a + 1e-9:
        found.append(
            Finding(
                "current-above-tip",
                Severity.NO_GO,
                name,
                f"{amps:g} A is asked for and the largest tip, {tip.name}, carries {tip.max_current_a:g} A",
                f"a tip for {amps:g} A, or {top:g} A at most",
            )
        )
    if amps < kit.power.min_current_a - 1e-9:
        found.append(
            Finding(
                "current-below-set",
                Severity.CAUTION,
                name,
                f"{amps:g} A is asked for and the set's least is {kit.power.min_current_a:g} A",
                f"{kit.power.min_current_a:g} to {top:g} A",
            )
        )
    return found


def thickness_findings(
    name: str,
    stock: Stock,
    angle: float,
    true_mm: float,
    amps: float,
    kit: Kit,
    edge: Figure,
    sever: Figure,
    pierce: Figure,
) -> list[Finding]:
    """Say when a plate is beyond a clean cut, a rough one, or a pierce, and what would do instead."""
    what = f"{stock.metal} {stock.thickness_text or f'{stock.thickness_mm:g} mm'}"
    if angle:
        what += f" at {angle:g} deg is {_mm(true_mm)} through and"
    at = f"at {amps:g} A"
    found = []
    if true_mm > sever.value + SLACK_MM:
        ways = ["a bigger set (rated about " + _mm(_rating_needed(kit, edge, true_mm)) + " in mild steel)", "a saw"]
        if stock.metal == "steel":
            ways.append("oxy-fuel")
        if amps < kit.power.rated_current_a - 1e-9:
            ways.insert(0, f"more current, the set gives {kit.power.rated_current_a:g} A")
        if angle:
            ways.append("cut square and grind the bevel")
        found.append(
            Finding(
                "too-thick",
                Severity.NO_GO,
                name,
                f"{what} is beyond this set {at} even from the edge: clean to {_mm(edge.value)}, "
                f"severed to about {_mm(sever.value)}",
                "; ".join(ways),
            )
        )
        return found
    if true_mm > edge.value + SLACK_MM:
        found.append(
            Finding(
                "sever-only",
                Severity.CAUTION,
                name,
                f"{what} can only be severed {at}: clean to {_mm(edge.value)}; slow, rough, with dross to clean off",
                f"clean from {edge.low:.1f} to {edge.high:.1f} mm, by how the set was rated",
            )
        )
    if true_mm > pierce.value:
        found.append(
            Finding(
                "pierce-beyond",
                Severity.CAUTION,
                name,
                f"{what} is too thick to pierce {at}: {_mm(pierce.value)} expected, "
                f"{pierce.low:.1f} to {pierce.high:.1f} mm",
                "start from an edge, or drill the start through first",
            )
        )
    elif true_mm > pierce.low:
        found.append(
            Finding(
                "pierce-near",
                Severity.NOTE,
                name,
                f"{what} is within the spread of what this set pierces {at}: {pierce.low:.1f} to {pierce.high:.1f} mm",
                "roll the pierce, or start from an edge; try one on scrap",
            )
        )
    return found


def _rating_needed(kit: Kit, edge: Figure, true_mm: float) -> float:
    return kit.power.rated_thickness_mm.value * true_mm / edge.value


def pace_findings(name: str, clean: Figure, kit: Kit) -> list[Finding]:
    """Say when the clean pace [mm/s] is outside the hand's band."""
    low, high = kit.operator.pace_low_mm_s, kit.operator.pace_high_mm_s
    band = _band(low, high)
    if clean.value > high:
        return [
            Finding(
                "pace-above-hand",
                Severity.CAUTION,
                name,
                f"the arc wants {_both(clean.value)} and the hand holds {_ipm(high)}: planned at {_ipm(high)}, "
                "expect a wider kerf and slow dross that flicks off",
                f"{band}; less current, a smaller tip, or a steadier guide",
            )
        ]
    if clean.value < low * NEAR_ENOUGH:
        return [
            Finding(
                "pace-below-hand",
                Severity.CAUTION,
                name,
                f"the arc only carries {_both(clean.value)}: slow for a hand, shaky and drossy below 8 to 10 in/min",
                f"{band}; more current where the set has it, rest the hand, lean on a guide",
            )
        ]
    return []


def kerf_note(tip: Tip, width: Figure) -> Finding:
    """Say that a kerf is a default, and how to replace it."""
    return Finding(
        "kerf-default",
        Severity.NOTE,
        f"tip {tip.name}",
        f"kerf {width.value:.2f} mm is a default, {width.low:.2f} to {width.high:.2f} mm likely",
        "cut one scrap both sides of a guide, measure, and put the kerf in the kit",
    )
