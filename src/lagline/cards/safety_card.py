"""The safety sheet on paper and its words, which the page and the command use too."""

from __future__ import annotations

from lagline.cards import words
from lagline.cards.typeset import page, to_pdf
from lagline.cards.why import runs
from lagline.planning.cautions import HEAVY_KG, POUND_KG
from lagline.planning.clock_time import show_after, show_time
from lagline.planning.drops import Drop
from lagline.planning.safety_sheet import Exposure, Lens, Noise, SafetySheet, Watch
from lagline.planning.timetable import LIFT_KG
from lagline.records.finding import Severity
from lagline.records.plan import Plan

Row = tuple[str, ...]
MOST_DROPS = 14  # rows on paper; the page has all
CHECKS = (
    "What burns is 35 ft (10.7 m) away or shielded; floor swept; openings, far sides of walls seen to.",
    "No drum, tank or closed hollow is heated that is not cleaned, vented, tested for gas and signed for "
    "(29 CFR 1910.252(a)(3), from memory).",
    "No aluminium over water unless the table is designed and vented for it: trapped hydrogen explodes "
    "(common practice, no source).",
    "Air moves across the cutter or is drawn off at the cut; coatings are off the line.",
    "Set off at its switch before tip or electrode is touched: 200 to 400 V dc without an arc (common practice, no "
    "source); dry gloves, dry ground.",
    "Air for cleaning not above 30 psi (207 kPa), never on skin or clothing (29 CFR 1910.242(b), from memory); tank "
    "and hose drained before tips are changed.",
    "Ears, eyes, gloves, leathers and boots on; everyone who sees the arc has the lens. A cut edge burns long after it "
    "has gone dark.",
    "What falls is slung or propped, nobody's foot below, 2 to 4 in (50 to 100 mm) free under the cut.",
)
PEN = (
    "work and place",
    "permit number",
    "issued by",
    "date and time",
    "done by",
    "watch by",
    "extinguisher, kind and place",
    "nearest alarm",
    "gas test, reading and time",
)
TICKED = ("tip-voltage", "air-cleaning", "hot-metal", "aluminium-water")  # said by a box to tick
DEFER = (
    "Local codes, the site's permit and the judgement of licensed and competent people come before this sheet. Check "
    "what is said to be from memory against a bought copy."
)


def at(start_min: int | None, after_s: float) -> str:
    """Return a time of day, or a time after the start when none was given."""
    return show_after(after_s) if start_min is None else show_time(start_min, after_s)


def lens_rows(lenses: tuple[Lens, ...]) -> list[Row]:
    """Return each rule: name, least shade, suggested, whether it was read, "used" where it was."""
    return [
        (
            x.rule,
            f"{x.least:.0f}" if x.least is not None else "no row",
            f"{x.suggested:.0f}" if x.suggested is not None else "",
            x.tag,
            "used" if x.used else "",
        )
        for x in lenses
    ]


def watch_rows(watches: tuple[Watch, ...], start_min: int | None) -> list[Row]:
    """Return each rule: name, minutes after the last arc, monitoring, end as expected and at the latest, tag, used."""
    return [
        (
            w.rule,
            f"{w.watch_min:.0f} min",
            f"up to {w.monitor_h:.0f} h" if w.monitor_h else "",
            at(start_min, w.end_s),
            at(start_min, w.end_latest_s),
            w.tag,
            "used" if w.used else "",
        )
        for w in watches
    ]


def noise_rows(noises: tuple[Noise, ...]) -> list[Row]:
    """Return each rule and work: dose with its range, and the level over eight hours."""
    return [
        (
            n.rule.name,
            n.work,
            f"{n.dose:.0f} % ({n.low:.0f} to {n.high:.0f})",
            f"{n.average_dba:.0f} dB(A)" if n.average_dba is not None else "",
            f"{_hours(n.allowed_h[0])} to {_hours(n.allowed_h[1])}",
        )
        for n in noises
    ]


def _hours(h: float) -> str:
    return f"{60 * h:.0f} min" if h < 1 else f"{h:.1f} h"


def exposure_rows(exposures: tuple[Exposure, ...]) -> list[Row]:
    """Return each substance once: substance, what gives it off, limit, over which time, rule."""
    by: dict[tuple[str, str, str, str], list[str]] = {}
    for e in exposures:
        by.setdefault((e.substance, e.limit, e.over, e.rule), []).append(e.from_what)
    return [
        (substance, ", ".join(dict.fromkeys(whats)), limit, over, rule.replace("29 CFR 1910.1000 table", "1910.1000"))
        for (substance, limit, over, rule), whats in by.items()
    ]


def mass(kg: float) -> str:
    """Return a mass in both units."""
    return f"{kg:.1f} kg ({kg / POUND_KG:.0f} lb)" if kg >= 1 else f"{kg:.2f} kg ({kg / POUND_KG:.1f} lb)"


def drop_rows(drops: tuple[Drop, ...], units: str, least_kg: float = 0.0) -> list[Row]:
    """Return each piece from a mass up: set-up, what, mass, its centre of gravity along and up, how to hold it."""
    out = []
    for d in drops:
        if d.kg < least_kg:
            continue
        hold = "hoist or two people" if d.kg > LIFT_KG else "sling or prop" if d.kg >= HEAVY_KG else ""
        unsure = "" if d.sure else ", about"
        out.append(
            (str(d.number), f"{d.what}, plate {d.plate}", mass(d.kg), words.place_both(d.at, units) + unsure, hold)
        )
    return out


def light_words(drops: tuple[Drop, ...], listed: int) -> str:
    """Return what is not listed: how many lighter pieces, and the heaviest of them."""
    rest = sorted((d for d in drops), key=lambda d: -d.kg)[listed:]
    if not rest:
        return ""
    numbers = runs(tuple(dict.fromkeys(d.number for d in rest)))
    pieces = "piece comes" if len(rest) == 1 else "pieces come"
    return f"{len(rest)} more {pieces} loose, none over {mass(rest[0].kg)}: set-ups {numbers}."


def together(drops: tuple[Drop, ...]) -> list[str]:
    """Return set-ups that let several pieces go at once, heavy together."""
    by: dict[int, list[Drop]] = {}
    for d in drops:
        by.setdefault(d.number, []).append(d)
    return [
        f"Set-up {n} lets {len(ds)} pieces go at once, {mass(sum(d.kg for d in ds))} together."
        for n, ds in by.items()
        if len(ds) > 1 and sum(d.kg for d in ds) >= HEAVY_KG
    ]


def card_data(plan: Plan, s: SafetySheet, start_min: int | None, paper: str) -> dict[str, object]:
    """Return everything on the sheet as plain text."""
    units = plan.job.units
    used = next((w for w in s.watches if w.used), None)
    stops = [f for f in s.findings if f.severity in (Severity.NO_GO, Severity.REFUSED)]
    heavy = sorted((d for d in s.drops if d.kg >= HEAVY_KG), key=lambda d: -d.kg)
    shown = sorted(sorted(s.drops, key=lambda d: -d.kg)[: min(MOST_DROPS, max(len(heavy), 5))], key=lambda d: d.number)
    stocks = dict.fromkeys(
        f"{b.part.stock.thickness_text} {b.part.stock.metal}, {b.part.stock.coating}" for b in plan.blanks
    )
    return {
        "page": list(page(paper)),
        "version": plan.version,
        "mark": words.plan_mark(plan),
        "job": plan.job.name,
        "facts": "; ".join((*stocks, f"{s.current_a:g} A", f"arc {s.arc_min[0]:.0f} min in all")),
        "pen": list(PEN),
        "stops": [[f.message, f.allowed] for f in stops],
        "shade": f"{s.shade.value:.0f}" if s.shade else "",
        "shade_by": s.shade.source if s.shade else "",
        "lenses": [list(r) for r in lens_rows(s.lenses)],
        "begin": show_time(start_min, 0) if start_min is not None else "",
        "last": at(start_min, s.last_arc_s[0]) if s.last_arc_s else "",
        "last_range": f"{at(start_min, s.last_arc_s[1])} to {at(start_min, s.last_arc_s[2])}" if s.last_arc_s else "",
        "watch": at(start_min, used.end_s) if used else "",
        "watch_min": f"{used.watch_min:.0f}" if used else "",
        "watch_by": f"{used.rule} ({used.tag})" if used else "",
        "watches": [list(r) for r in watch_rows(s.watches, start_min)],
        "clear": [list(c) for c in s.clearances],
        "checks": list(CHECKS),
        "big": 20 if start_min is not None else 15,
        "exposures": [list(r) for r in exposure_rows(s.exposures)],
        "noises": [list(r) for r in noise_rows(s.noises)],
        "drops": [list(r) for r in drop_rows(tuple(shown), units)],
        "light": light_words(s.drops, len(shown)),
        "together": together(s.drops),
        "cautions": [[f.where, f.message, f.allowed] for f in s.findings if f not in stops and f.code not in TICKED],
        "defer": DEFER,
    }


def pdf(plan: Plan, s: SafetySheet, start_min: int | None, paper: str) -> bytes:
    """Return the sheet as PDF; the same plan and start give the same bytes."""
    return to_pdf("safety_card.typ", card_data(plan, s, start_min, paper))
