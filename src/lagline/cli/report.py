"""What the command prints: findings, and a plan on one screen."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING

from lagline.records.finding import Finding, Severity

if TYPE_CHECKING:
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


def finding_dict(f: Finding) -> dict[str, str]:
    """Return a finding as plain values."""
    return {"code": f.code, "severity": str(f.severity), "where": f.where, "message": f.message, "allowed": f.allowed}


def show_plan(plan: Plan) -> None:
    """Print the plan on one screen: verdict, numbers, what to watch, set-ups."""
    from rich.console import Console
    from rich.table import Table

    from lagline.cards import words
    from lagline.records.length import show_length

    console = Console()
    job, totals = plan.job, plan.totals
    console.print(f"[bold]{job.name}[/bold], kit: {plan.kit.name}", highlight=False)
    stopped = [v for v in plan.verdicts if not v.go]
    if plan.go:
        console.print("[bold]GO[/bold]: every part is placed and every cut can go")
    else:
        left = ", ".join(f"{n} of {plan.blanks[i].part.name}" for i, n in plan.layout.unplaced)
        why = f"set-up {stopped[0].number}: {stopped[0].weakest}" if stopped else ""
        console.print(f"[bold]NO-GO[/bold]: {'; '.join(x for x in (why, f'no room for {left}' if left else '') if x)}")
    console.print(
        f"{len(plan.layout.placed)} parts, {totals.setups} set-ups, {totals.starts} starts of which {totals.pierces} "
        f"pierced; {totals.minutes.low:.0f} to {totals.minutes.high:.0f} min, arc {totals.arc_min:.0f} min; "
        f"{plan.kit.bench.currency} {totals.cost.low:.0f} to {totals.cost.high:.0f}",
        highlight=False,
    )
    table = Table(box=None, pad_edge=False)
    for head in ("", "set-up", "led by", "guide", "start", "arc"):
        table.add_column(head, justify="right" if head in ("", "arc") else "left", overflow="fold")
    for s, c in zip(plan.steps, plan.timetable.clocks, strict=True):
        guide = words.guide_short(s, job.units) if s.guide else (
            show_length(s.diameter_mm, job.units, 32) + " hole" if s.diameter_mm else "")  # fmt: skip
        table.add_row(str(s.number), s.title, str(s.method), guide, str(s.start), f"{c.arc_s:.0f} s" if c.arc_s else "")
    console.print(table)
    notes = sum(f.severity is Severity.NOTE for f in plan.findings)
    for f in plan.findings:
        if f.severity in LOUD:
            console.print(f"{f}", highlight=False, markup=False)
    if notes:
        console.print(f"and {notes} notes, all on the card's last page and in plan.json", highlight=False)
