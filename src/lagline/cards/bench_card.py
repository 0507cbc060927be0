"""The bench card: what is on it. How it looks is in ``bench_card.typ``."""

from __future__ import annotations

from lagline.cards import words
from lagline.cards.card_setup import cell_mm, setup_data
from lagline.cards.card_tables import bevel_rows, why_rows
from lagline.cards.card_verdict import headline, lost_findings
from lagline.cards.draw_plate import part_key, plate_svg
from lagline.cards.heat_on_card import card_heat
from lagline.cards.mark_out import mark_out
from lagline.cards.typeset import page, to_pdf
from lagline.cards.why import runs
from lagline.records.figure import Figure
from lagline.records.finding import Severity, sort_findings
from lagline.records.plan import Method, Plan

Data = dict[str, object]

CHECKS = (
    "Fire: everything that burns is moved or shielded 35 ft (10.7 m) round and below; a watch and an "
    "extinguisher stand by, and stay at least half an hour after (29 CFR 1910.252; local rules first).",
    "Air to breathe: draught or extraction runs; paint, zinc and grease are off the cut line.",
    "Lens, ears, gloves, leathers: lens by the rule named above; ears covered.",
    "Set off at the switch before tips are touched. Tip, electrode and cup are the ones named, and sound.",
    "Air: tank drained, pressure set while flowing.",
    "Work clamp on bright metal that stays, close to the cut; not through bearings or chain.",
    "Plate: diagonals taped, laid out from the datum corner only, cut lines marked, kerf on the waste side.",
    "Clear space under every cut; nothing can drop on a foot, a hose or a lead.",
    "One scrap cut at the beat given: sparks leave the bottom, lag lines lean back a little, dross knocks off.",
)


def _range(f: Figure, form: str = "{:.0f}") -> str:
    lo, hi = form.format(f.low), form.format(f.high)
    return form.format(f.value) + (f" ({lo} to {hi})" if lo != hi else "")


def _front(plan: Plan) -> list[list[str]]:
    """Return the facts of the first page as label and text."""
    job, units, kit, t = plan.job, plan.job.units, plan.kit, plan.totals
    stocks = dict.fromkeys(
        f"{b.part.stock.thickness_text} {b.part.stock.grade or b.part.stock.metal}, {b.part.stock.coating}"
        for b in plan.blanks
    )
    plates = "; ".join(
        f"{p.name} ({p.kind}, {' x '.join(words.tape(v, units) for v in words.taped(p))}"
        f"{', mark ' + p.mark if p.mark else ''}{', ' + trimmed if (trimmed := words.trimmed(p, units)) else ''})"
        for p in job.plates
    )
    cutting = {s.setting for s in plan.steps if s.path}
    used = [s for s in plan.settings if s.id in cutting]
    sets = "; ".join(
        f"{s.stock.thickness_text + ' ' + s.stock.metal + ': ' if len(used) > 1 else ''}{s.current_a:.0f} A, "
        f"tip {s.tip}, {words.tip_height(s, units)}"
        for s in used
    )
    kg = f"{t.parts_kg:.1f} kg ({t.parts_kg / 0.45359237:.0f} lb)"
    metres = f"{t.cut_length_mm / 1000:.1f} m"
    feet = metres if units == "mm" else f"{t.cut_length_mm / 304.8:.0f} ft ({metres})"
    return [
        ["stock", "; ".join(stocks)],
        ["plates", plates],
        ["set", f"{kit.power.name}; {sets}" if sets else kit.power.name],
        ["time", f"{_range(t.minutes)} min in all, {t.arc_min:.1f} min of it arc, {t.setups} set-ups"],
        ["starts", f"{t.starts}, of which {t.pierces} pierced or from a drilled hole; {feet} to cut"],
        ["cost", f"{_range(t.cost)} {kit.bench.currency}"],
        ["parts", f"{sum(b.part.quantity for b in plan.blanks)} wanted, {len(plan.layout.placed)} placed, {kg}"],
        ["lens rule", kit.bench.lens_rule],
        *(["figures", f"{f.where}: {f.message}"] for f in words.from_coupons(plan)),
        *([["note", job.notes]] if job.notes else []),
    ]


def _findings(plan: Plan, paper: str, *severities: Severity) -> list[list[str]]:
    return [
        [str(f.severity), f.where, f.message, f.allowed]
        for f in sort_findings((*plan.findings, *lost_findings(plan, paper)))
        if not severities or f.severity in severities
    ]


def _plate(plan: Plan, i: int, paper: str) -> Data:
    units = plan.job.units
    plate = plan.job.plates[i]
    left, bottom, right, top = plate.outline.bounds()
    rows = []
    for k, p in enumerate(plan.layout.placed):
        if p.plate != i:
            continue
        b = plan.blanks[p.part]
        x0, y0, x1, y1 = p.move.outline(b.cut).bounds()
        numbers = tuple(s.number for s in plan.steps if k in s.parts)
        rows.append(
            [
                part_key(plan, k),
                p.name(plan.blanks),
                words.tape(x0, units),
                words.tape(y0, units),
                f"{words.chalk(x1 - x0, units)} x {words.chalk(y1 - y0, units)}",
                words.turn_word(p.move.turn, p.move.mirror),
                f"{b.mass_kg.value:.1f} kg",
                runs(numbers),
            ]
        )
    use = next((u for u in plan.plates if u.plate == i), None)
    rest = ""
    if use is not None and use.offcut_mm[2] > 0:
        x, y, w, h = use.offcut_mm
        rest = (
            f"Largest clear piece left: {words.tape(w, units)} x {words.tape(h, units)}, its lower left at "
            f"{words.place((x, y), units)}. Move the mark {plate.mark or '(none given)'} onto it and onto the parts."
        )
    drills = [
        [str(s.number), words.part_name(plan, s.placed), words.both(s.diameter_mm, units),
         words.place(words.centre(s), units), f"{words.centre(s)[0]:.0f}, {words.centre(s)[1]:.0f} mm"]
        for s in plan.steps if s.plate == i and s.method is Method.DRILL
    ]  # fmt: skip
    return {
        "name": f"Plate {plate.name}",
        "svg": plate_svg(plan, i, paper=True),
        "wide": right - left > top - bottom,
        "rows": rows,
        "left": rest,
        "drills": drills,
        "marks": mark_out(plan, i),
        "heat": card_heat(plan, i),
        "setups": [setup_data(plan, s, paper) for s in plan.steps if s.plate == i and s.method is not Method.DRILL],
    }


def card_data(plan: Plan, paper: str) -> Data:
    """Return everything on the card as plain text and pictures."""
    width, height = page(paper)
    return {
        "page": [width, height],
        "cell": list(cell_mm(paper)),
        "job": plan.job.name,
        "version": plan.version,
        "mark": words.plan_mark(plan),
        "verdict": headline(plan),
        "front": _front(plan),
        "cautions": _findings(plan, paper, Severity.CAUTION),
        "checks": list(CHECKS),
        "plates": [_plate(plan, i, paper) for i in sorted({p.plate for p in plan.layout.placed})],
        "bevels": bevel_rows(plan),
        "why": why_rows(plan),
        "findings": _findings(plan, paper),
    }


def pdf(plan: Plan, paper: str) -> bytes:
    """Return the bench card as PDF on ``letter`` or ``a4``; the same plan gives the same bytes."""
    return to_pdf("bench_card.typ", card_data(plan, paper))
