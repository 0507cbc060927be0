"""The heat of a plate on the bench card: one small picture, and what the hands must know of it."""

from __future__ import annotations

from lagline.cards import scene, words
from lagline.cards.draw_heat import heat_svg
from lagline.planning.heat import PlateHeat, heat_of
from lagline.planning.heat_notes import heat_findings
from lagline.planning.heat_tracks import burns_of
from lagline.records.plan import Plan
from lagline.trade.heat_plate import handle_c

WIDTH_MM = 92.0  # of the picture, in a quarter of a page
WORK = 5e8  # squares times steps: half a second
MOST = 3  # parts and lines named


def card_heat(plan: Plan, plate: int) -> dict[str, object]:
    """Return the picture of a plate's highest temperatures as SVG and lines of text under it; no picture where no arc
    is struck."""
    heats = scene.once(plan, "heat", None, lambda: {h.plate: h for h in _all(plan)})
    if plate not in heats:
        return {"svg": "", "lines": []}
    heat = heats[plate]
    return {"svg": heat_svg(plan, heat, paper=True, wide_mm=WIDTH_MM), "lines": _lines(plan, heat)}


def _all(plan: Plan) -> tuple[PlateHeat, ...]:
    return heat_of(plan, most_work=WORK) if burns_of(plan) else ()


def _lines(plan: Plan, heat: PlateHeat) -> list[str]:
    hand = f"{handle_c().value:.0f} C"
    hot = sorted((p for p in heat.parts if p.wait_s is None or p.wait_s > 60), key=lambda p: -(p.wait_s or 1e9))
    out = ["Cut edges burn for minutes: tongs and dry leather gloves, mark parts HOT."]
    for p in hot[:MOST]:
        wait = "not for hours" if p.wait_s is None else f"after {words.clock(p.wait_s)}"
        out.append(f"{p.name}: below {hand} {wait}")
    if len(hot) > MOST:
        out.append(f"and {len(hot) - MOST} more parts, sooner")
    found = [f for f in heat_findings(plan, (heat,)) if f.code in ("heat-warm-line", "heat-bridge-warm")]
    out += [f"{f.where}: {f.message}; {f.allowed}" for f in found[:MOST]]
    if len(found) > MOST:
        out.append(f"and {len(found) - MOST} more cuts in warm metal")
    return out
