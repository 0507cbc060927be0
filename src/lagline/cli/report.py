"""What the command prints: findings, and a plan on one screen."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

from lagline.records.finding import Finding, Severity, finding_dict

if TYPE_CHECKING:
    from rich.table import Table

    from lagline.records.plan import Plan

LOUD = (Severity.REFUSED, Severity.NO_GO, Severity.CAUTION, Severity.MENDED)


def show_findings(findings: Iterable[Finding], *, as_json: bool = False) -> None:
    """Print findings on standard error, as lines or as one JSON object."""
    found = tuple(findings)
    if as_json:
        print(json.dumps({"findings": [finding_dict(f) for f in found]}, indent=2, ensure_ascii=False))
        return
    for f in found:
        print(f, file=sys.stderr)


def _table(*heads: str) -> Table:
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    for head in heads:
        table.add_column(head, overflow="fold")
    return table


def _parts(plan: Plan) -> Table:
    table = _table("part", "placed", "led by")
    for i, blank in enumerate(plan.blanks):
        here = [n for n, p in enumerate(plan.layout.placed) if p.part == i]
        methods = Counter(str(s.method) for s in plan.steps if set(here) & set(s.parts))
        led = ", ".join(f"{m} {n}" for m, n in methods.most_common())
        table.add_row(blank.part.name, f"{len(here)} of {blank.part.quantity}", led)
    return table


def _steps(plan: Plan) -> Table:
    from lagline.cards.words import both, key_length

    table = _table("", "set-up", "led by", "set", "start", "arc")
    for s, c in zip(plan.steps, plan.timetable.clocks, strict=True):
        key = key_length(s)
        length = f"{key[0]} {both(key[1], plan.job.units)}" if key else ""
        arc = f"{c.arc_s:.0f} s" if c.arc_s else ""
        table.add_row(str(s.number), s.title, str(s.method), length, str(s.start), arc)
    return table


def show_plan(plan: Plan, *, steps: bool = False) -> None:
    """Print the plan: verdict, numbers, a line for each part (or each set-up), what to watch."""
    from rich.console import Console

    from lagline.cards.words import from_coupons, plan_mark

    console = Console()
    job, totals = plan.job, plan.totals
    console.print(f"[bold]{job.name}[/bold], kit: {plan.kit.name}", highlight=False)
    stopped = [v for v in plan.verdicts if not v.go]
    if plan.go:
        console.print("[bold]GO[/bold]: every part is placed and every cut can go")
    else:
        left = ", ".join(f"{n} of {plan.blanks[i].part.name}" for i, n in plan.layout.unplaced)
        why = f"set-up {stopped[0].number}: {stopped[0].weakest}" if stopped else ""
        grave = next((f for f in plan.findings if f.severity in (Severity.NO_GO, Severity.REFUSED)), None)
        said = [x for x in (why, f"no room for {left}" if left else "") if x]
        if not said and grave is not None:
            said = [f"{grave.where}: {grave.message}"]
        console.print(f"[bold]NO-GO[/bold]: {'; '.join(said)}")
    console.print(
        f"{len(plan.layout.placed)} parts, {totals.setups} set-ups, {totals.starts} starts of which {totals.pierces} "
        f"pierced; {totals.minutes.low:.0f} to {totals.minutes.high:.0f} min, arc {totals.arc_min:.0f} min; "
        f"{plan.kit.bench.currency} {totals.cost.low:.0f} to {totals.cost.high:.0f}",
        highlight=False,
    )
    console.print(f"plan {plan_mark(plan)}: a card or template with another mark is of another plan", highlight=False)
    console.print(_steps(plan) if steps else _parts(plan))
    for f in from_coupons(plan):
        console.print(f"{f.where}: {f.message}", highlight=False, markup=False)
    for f in plan.findings:
        if f.severity in LOUD:
            console.print(f"{f}", highlight=False, markup=False)
    notes = sum(f.severity is Severity.NOTE for f in plan.findings)
    if notes:
        console.print(f"and {notes} notes, all on the card's last page and in plan.json", highlight=False)
