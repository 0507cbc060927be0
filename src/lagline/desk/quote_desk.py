"""Prices of plans: as records, as JSON, on paper."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from lagline.desk.planner import write_files
from lagline.planning.compare import Compared, compare
from lagline.planning.quote import quote_of, with_rates
from lagline.planning.wear_plan import TipWear, wear_plan
from lagline.records.figure import Figure
from lagline.records.finding import finding_dict
from lagline.records.plan import Plan
from lagline.records.price import Quote


@dataclass(frozen=True, slots=True)
class Priced:
    """A plan with its price, the wear of its tips, and torch against drill and saw where that was asked."""

    plan: Plan
    quote: Quote
    worn: tuple[TipWear, ...]
    compared: Compared | None


def priced(plan: Plan, given: Mapping[str, str] | None = None, *, compared: bool = False) -> Priced:
    """Return a plan with its price by the rates typed. Errors: LaglineError for a rate that is none."""
    made = quote_of(plan, given)
    worn = wear_plan(plan.kit, plan.settings, plan.steps, plan.timetable.clocks)
    if not compared:
        return Priced(plan, made, worn, None)
    metals = tuple(dict.fromkeys(p.stock.metal for p in plan.job.plates))
    return Priced(plan, made, worn, compare(plan, with_rates(plan.kit, given or {}, metals)))


def sheet(p: Priced, paper: str) -> bytes:
    """Return the quote as PDF."""
    from lagline.cards.quote_sheet import pdf

    return pdf(p.plan, p.quote, p.worn, p.compared, paper)


def write_sheet(p: Priced, path: Path, paper: str) -> None:
    """Write the quote to a file. Errors: LaglineError when it cannot be written."""
    write_files({path.name: sheet(p, paper)}, path.parent)


def _ends(name: str, f: Figure | None, unit: str) -> dict[str, object]:
    if f is None:
        return {f"{name}_{unit}": None}
    return {
        f"{name}_{unit}": round(f.value, 4),
        f"{name}_low_{unit}": round(f.low, 4),
        f"{name}_high_{unit}": round(f.high, 4),
    }


def quote_dict(p: Priced) -> dict[str, object]:
    """Return the price as plain values: keys carry their unit, ``money`` is in ``currency``."""
    q = p.quote
    return {
        "job": p.plan.job.name,
        "shop": q.shop,
        "currency": q.currency,
        **_ends("price", q.price, "money"),
        **_ends("cost", q.cost, "money"),
        **_ends("overhead", q.overhead, "money"),
        **_ends("margin", q.margin, "money"),
        "overhead_share": q.overhead_share,
        "margin_share": q.margin_share,
        **_ends("time", q.minutes, "min"),
        "lines": [
            {"key": x.key, "group": x.group, "words": x.words, **_ends("cost", x.money, "money"),
             **(_ends("time", x.minutes, "min") if x.minutes else {}), "formula": x.money.formula,
             "source": x.money.source}
            for x in q.lines
        ],
        "tips": [
            {
                "tip": w.tip, "starts": w.use.starts, "pierces": w.use.pierces, "arc_min": round(w.use.arc_s / 60, 3),
                **_ends("nozzles", w.nozzles, "used"), **_ends("electrodes", w.electrodes, "used"),
                "changes": [{"part": c.part, "after_setup": c.after, "look_after_setup": c.look_after}
                            for c in w.changes],
                "nozzles_to_have": w.stock[0], "electrodes_to_have": w.stock[1],
                "nozzles_to_be_safe": w.stock_safe[0], "electrodes_to_be_safe": w.stock_safe[1],
            }
            for w in p.worn
        ],
        **({} if p.compared is None else _compared(p.compared)),
        "findings": [finding_dict(f) for f in q.findings],
    }  # fmt: skip


def _compared(c: Compared) -> dict[str, object]:
    return {
        "compared": [
            {"tool": x.tool, "what": x.what, "count": x.count, "setups": list(x.numbers),
             "size_mm": round(x.size_mm, 2), "torch_can": x.torch_can,
             **_ends("torch", x.torch_minutes, "min"), **_ends("torch", x.torch_money, "money"),
             **_ends("other", x.other_minutes, "min"), **_ends("other", x.other_money, "money"),
             "cheaper": x.cheaper, "sure": x.sure}
            for x in c.pairs
        ],
        "break_even": [
            {"tool": e.tool, "setting": e.stock, "words": e.words,
             ("length_mm" if e.tool == "saw" else "holes"): None if e.at is None else round(e.at, 2)}
            for e in c.evens
        ],
    }  # fmt: skip
