"""A plan priced: its lines, overhead and margin, with a shop's own rates in place of the kit's."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from lagline.planning.kit_file import MOST_MARGIN
from lagline.planning.labour import pricing_of
from lagline.planning.money import lines_of, minutes_of, sum_of
from lagline.records.errors import LaglineError
from lagline.records.figure import Spread
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.records.plan import Plan
from lagline.records.price import Quote
from lagline.trade import cost
from lagline.trade.metals import METALS

MOST_MONEY = 1_000_000.0
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Rate:
    """One rate a quote may be asked with: its name, what it is, and its unit ("%" is typed as a number of percent)."""

    name: str
    words: str
    unit: str
    most: float = MOST_MONEY


RATES = (
    Rate("labour", "labour", "an hour"),
    Rate("metal", "metal", "a kg"),
    Rate("tips", "nozzle and electrode", "a set"),
    Rate("power", "power", "a kWh"),
    Rate("overhead", "overhead", "% of the cost", 1000.0),
    Rate("margin", "margin", "% of the price", 100 * MOST_MARGIN),
)


def with_rates(kit: Kit, given: Mapping[str, str], metals: tuple[str, ...]) -> Kit:
    """Return the kit with the rates that were typed in place of its own; what is left out or empty stays.

    Parameters: texts by name of :data:`RATES`, and ``shop``; ``metal`` counts for the metals of the job. Errors:
    LaglineError with every text that is no such rate, and every name that is none.
    """
    faults: list[Finding] = []
    values: dict[str, float] = {}
    known = {r.name: r for r in RATES}
    for name, text in given.items():
        if name == "shop":
            continue
        if name not in known:
            allowed = ", ".join((*known, "shop"))
            faults.append(Finding("quote-field", Severity.REFUSED, "quote", f"there is no rate {name[:40]}", allowed))
        elif text.strip():
            rate = known[name]
            bare = text.strip().removesuffix("%").strip() if rate.unit.startswith("%") else text.strip()
            value = float(bare) if len(bare) < 40 and _NUMBER.fullmatch(bare) else math.nan
            if not 0 <= value <= rate.most:
                say = f'"{text.strip()[:40]}" is no rate for {rate.words}'
                allowed = f"a plain number, 0 to {rate.most:.0f} {rate.unit}"
                faults.append(Finding("quote-rate", Severity.REFUSED, f"quote, {name}", say, allowed))
            else:
                values[name] = value
    shop = " ".join(given.get("shop", "").split())
    if len(shop) > 80 or not shop.isprintable():
        faults.append(
            Finding("quote-shop", Severity.REFUSED, "quote, shop", "is no name for a letterhead",
                    "up to 80 plain letters; empty leaves a line to fill in by pen")
        )  # fmt: skip
    if faults:
        raise LaglineError(*faults)
    bench, pricing = kit.bench, pricing_of(kit)
    prices = dict(bench.metal_per_kg)
    if "metal" in values:
        prices |= {m: values["metal"] for m in METALS if m in metals}
    return replace(
        kit,
        bench=replace(
            bench,
            labour_per_h=Spread.exact(values["labour"]) if "labour" in values else bench.labour_per_h,
            metal_per_kg=tuple(prices.items()),
            tip_set_cost=values.get("tips", bench.tip_set_cost),
            energy_per_kwh=values.get("power", bench.energy_per_kwh),
        ),
        pricing=replace(
            pricing,
            shop=shop or pricing.shop,
            overhead=values["overhead"] / 100 if "overhead" in values else pricing.overhead,
            margin=values["margin"] / 100 if "margin" in values else pricing.margin,
        ),
    )


def quote_of(plan: Plan, given: Mapping[str, str] | None = None) -> Quote:
    """Return the price of a plan as it stands, with rates as typed. Errors: as :func:`with_rates`."""
    metals = tuple(dict.fromkeys(p.stock.metal for p in plan.job.plates))
    kit = with_rates(plan.kit, given or {}, metals)
    pricing, money = pricing_of(kit), kit.bench.currency
    lines, findings = lines_of(
        plan.job, kit, plan.blanks, plan.settings, plan.layout, plan.steps, plan.timetable, plan.plates
    )
    total = sum_of(lines, money)
    over = cost.overhead(total, pricing.overhead)
    margin = cost.margin(cost.total((("cost", total), ("overhead", over)), money), pricing.margin)
    return Quote(
        pricing.shop,
        money,
        lines,
        minutes_of(lines),
        total,
        over,
        margin,
        cost.price(total, over, margin),
        pricing.overhead,
        pricing.margin,
        (*_doubts(plan), *findings, *_spreads(kit)),
    )


def _doubts(plan: Plan) -> tuple[Finding, ...]:
    """What is not in the price: a plan that cannot go, parts without a place, bevels, nothing to cut."""
    name, out = plan.job.name, []
    if not plan.steps:
        say = "there is nothing to cut, so there is nothing to charge for"
        out.append(Finding("quote-nothing", Severity.CAUTION, name, say, "a job whose parts lie on a plate"))
    elif not plan.go:
        say = "the plan is a NO-GO: the price is of the cuts as planned, not of what would make them possible"
        out.append(Finding("quote-no-go", Severity.CAUTION, name, say, "plan it to a GO before sending a price"))
    for part, count in plan.layout.unplaced:
        part_name = plan.blanks[part].part.name
        say = f"{count} of {part_name} found no place and {'is' if count == 1 else 'are'} not in the price"
        out.append(Finding("quote-left-over", Severity.CAUTION, part_name, say, "another plate, or fewer parts"))
    if any(e.bevel_deg for b in plan.blanks for e in b.part.edges):
        say = "bevels are cut afterwards, by set-outs of their own: their time is not in the price"
        out.append(Finding("quote-bevels", Severity.NOTE, name, say, "add them by hand"))
    return tuple(out)


def _spreads(kit: Kit) -> tuple[Finding, ...]:
    if not kit.bench.labour_per_h.default:
        return ()
    say = "the rate for labour is the generic kit's, with its whole spread"
    return (Finding("quote-default-rate", Severity.NOTE, kit.name, say, "give your own: labour_per_h in the kit"),)
