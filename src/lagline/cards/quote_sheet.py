"""The quote on paper: a page for the customer, a page for the shop on how the price is made up."""

from __future__ import annotations

from lagline.cards import words
from lagline.cards.typeset import page, to_pdf
from lagline.cards.why import runs
from lagline.planning.cautions import POUND_KG
from lagline.planning.compare import Compared, Even, Pair
from lagline.planning.wear_plan import TipWear
from lagline.records.figure import Figure
from lagline.records.finding import Severity
from lagline.records.plan import Plan
from lagline.records.price import Quote

GROUPS = (("labour", "Labour"), ("metal", "Metal, plate less offcut"), ("used up", "Used up"))


def money(value: float) -> str:
    """Return money to the cent."""
    return f"{value:.2f}" if abs(value) < 100_000 else f"{value:.0f}"


def money_range(f: Figure) -> str:
    """Return the ends of money, empty when they are one."""
    low, high = money(f.low), money(f.high)
    return f"{low} to {high}" if low != high else ""


def price_words(f: Figure) -> tuple[str, str]:
    """Return a price for a customer and its range: whole from 100 on."""
    digits = 0 if f.value >= 100 else 2
    value, low, high = (f"{v:.{digits}f}" for v in (f.value, f.low, f.high))
    return value, f"{low} to {high}" if low != high else ""


def minutes(value: float) -> str:
    """Return minutes as people say them."""
    if 0 < value < 0.95:
        return "under 1 min"
    m = round(value)
    return f"{m} min" if m < 100 else f"{m // 60} h {m % 60:02d}"


def lines(quote: Quote) -> list[tuple[str, list[tuple[str, str, str, str, str]]]]:
    """Return the lines by group: words, minutes, money, its range, key."""
    out = []
    for group, title in GROUPS:
        rows = [
            (
                f"plate {x.words}" if group == "metal" else x.words,
                minutes(x.minutes.value) if x.minutes else "",
                money(x.money.value),
                money_range(x.money),
                x.key,
            )
            for x in quote.lines
            if x.group == group
        ]
        if rows:
            out.append((title, rows))
    return out


def wear_rows(worn: tuple[TipWear, ...]) -> list[tuple[str, str, str, str, str]]:
    """Return each tip: starts, use of nozzles and electrodes, when to change, what to have."""
    out = []
    for w in worn:
        u, n, e = w.use, w.nozzles, w.electrodes
        used = (
            f"nozzle {n.value:.2g} ({n.low:.2g} to {n.high:.2g}), electrode {e.value:.2g} ({e.low:.2g} to {e.high:.2g})"
        )
        changes = "; ".join(f"{c.part} after set-up {c.after}, look from {c.look_after}" for c in w.changes)
        have = f"{w.stock[0]} and {w.stock[1]}, to be safe {w.stock_safe[0]} and {w.stock_safe[1]}"
        asked = f"{u.starts}, {u.pierces} pierced; {minutes(u.arc_s / 60)} of arc"
        out.append((w.tip, asked, used, changes or "none expected", have))
    return out


def pair_row(p: Pair, units: str) -> tuple[str, str, str, str, str, str]:
    """Return a pair: what, set-ups, torch, the other tool, and which is the cheaper."""
    size = words.tape(p.size_mm, units)
    torch = f"{minutes(p.torch_minutes.value)}, {money(p.torch_money.value)}" if p.torch_can else "too small to cut"
    if p.other_minutes is None or p.other_money is None:
        other = "beyond the drill"
    else:
        other = f"{minutes(p.other_minutes.value)}, {money(p.other_money.value)}"
    cheaper = p.cheaper if p.sure else f"{p.cheaper}, may be either"
    about = "about " if p.tool == "saw" and p.count > 1 else ""
    return f"{p.what} {about}{size}", str(p.count), runs(p.numbers), torch, f"{p.tool}: {other}", cheaper


def even_words(e: Even, plan: Plan) -> str:
    """Return where a tool begins to pay."""
    stock = words.setting_name(plan.setting(e.stock), plan.job.units)
    if e.at is None:
        return f"{e.tool}, {stock}: {e.words}"
    at = words.tape(e.at, plan.job.units) if e.tool == "saw" else f"{e.at:.0f} holes"
    return f"{e.tool}, {stock}: {at}; {e.words}"


def quote_data(
    plan: Plan, quote: Quote, worn: tuple[TipWear, ...], compared: Compared | None, paper: str
) -> dict[str, object]:
    """Return everything on the quote as plain text."""
    units, job = plan.job.units, plan.job
    copies = [sum(1 for p in plan.layout.placed if p.part == i) for i in range(len(plan.blanks))]
    parts = []
    for b, n in zip(plan.blanks, copies, strict=True):
        x0, y0, x1, y1 = b.finished.bounds()
        size = f"{words.tape(x1 - x0, units)} x {words.tape(y1 - y0, units)}"
        stock = b.part.stock
        parts.append([b.part.name, str(n), size, f"{stock.thickness_text} {stock.grade or stock.metal}",
                      f"{b.mass_kg.value * n:.1f} kg ({b.mass_kg.value * n / POUND_KG:.0f} lb)"])  # fmt: skip
    ground = any(x.key == "grinding" for x in quote.lines)
    shares = [
        (f"overhead, {100 * quote.overhead_share:g} % of the cost", quote.overhead),
        (f"margin, {100 * quote.margin_share:g} % of the price", quote.margin),
    ]
    return {
        "page": list(page(paper)),
        "version": plan.version,
        "mark": words.plan_mark(plan),
        "shop": quote.shop,
        "job": job.name,
        "currency": quote.currency,
        "price": price_words(quote.price)[0],
        "range": price_words(quote.price)[1],
        "parts": parts,
        "included": [
            "cut by hand with a plasma torch to the sizes above, in the metal named",
            "dross knocked off" + ("; edges for welding, fitting or machining ground" if ground else ""),
            "metal from our rack; offcuts stay with us",
        ],
        "groups": [[title, [list(r[:4]) for r in rows]] for title, rows in lines(quote)],
        "sums": [
            ["cost", minutes(quote.minutes.value), money(quote.cost.value), money_range(quote.cost)],
            *([name, "", money(f.value), money_range(f)] for name, f in shares),
            ["price", "", money(quote.price.value), money_range(quote.price)],
        ],
        "wear": [list(r) for r in wear_rows(worn)],
        "pairs": [list(pair_row(p, units)) for p in compared.pairs] if compared else [],
        "evens": [even_words(e, plan) for e in compared.evens] if compared else [],
        "doubts": [
            [str(f.severity), f"{f.where}: {f.message}", f.allowed]
            for f in quote.findings
            if f.severity in (Severity.CAUTION, Severity.NOTE)
        ],
    }


def pdf(plan: Plan, quote: Quote, worn: tuple[TipWear, ...], compared: Compared | None, paper: str) -> bytes:
    """Return the quote as PDF; the same plan and rates give the same bytes."""
    return to_pdf("quote_sheet.typ", quote_data(plan, quote, worn, compared, paper))
