"""`lagline safety`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lagline.cli.plan_command import NO_GO, UNUSABLE

if TYPE_CHECKING:
    from lagline.desk.safety_desk import Safe


def safety(
    job: Annotated[Path, typer.Argument(help="Job file (TOML). `lagline demo` writes one to start from.")],
    kit: Annotated[Path | None, typer.Option(help="Kit file; default: kit.toml beside the job, else built in.")] = None,
    start: Annotated[str, typer.Option(help="When the first set-up begins: 13:30 or 1:30 pm.")] = "",
    watch_rule: Annotated[str, typer.Option(help="Fire watch rule to go by; default: the longest.")] = "",
    out: Annotated[Path | None, typer.Option(help="Write the sheet to this PDF.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the sheet as one JSON object.")] = False,
    paper: Annotated[str | None, typer.Option(help="letter or a4; default: the job's.")] = None,
    seconds: Annotated[int, typer.Option(min=1, max=600, help="Time a dense layout may take on a plate [s].")] = 5,
) -> None:
    """Show the safety sheet of a job: lens, fire watch and its end, fume, noise, what falls and where to sling it.

    Ends with status 0, 3 when a finding stops the work, 2 when the input cannot be used.
    """
    from lagline.cli.plan_command import plan_with_bar
    from lagline.cli.report import show_findings
    from lagline.desk.safety_desk import safe, safety_dict, write_sheet
    from lagline.planning.clock_time import read_start
    from lagline.records.errors import LaglineError, refuse
    from lagline.records.finding import Severity

    try:
        if paper not in (None, "letter", "a4"):
            raise refuse("safety-paper", "paper", f'"{str(paper)[:20]}" is no paper for a sheet', "letter or a4")
        if start.strip():
            read_start(start, "--start")  # told before the long work
        made = safe(plan_with_bar(job, kit, seconds), start, watch_rule)
        if out is not None:
            write_sheet(made, out, paper or made.plan.job.paper)
    except LaglineError as error:
        show_findings(error.findings, as_json=as_json)
        raise typer.Exit(UNUSABLE) from None
    if as_json:
        print(json.dumps(safety_dict(made), indent=2, ensure_ascii=False))
    else:
        _show(made)
        if out is not None:
            print(out)
    raise typer.Exit(NO_GO if any(f.severity is Severity.NO_GO for f in made.sheet.findings) else 0)


def _show(made: Safe) -> None:
    from rich.console import Console

    from lagline.cards import safety_card as card
    from lagline.cli.report import _table
    from lagline.planning.cautions import HEAVY_KG

    console, s, start = Console(), made.sheet, made.start_min
    console.print(f"[bold]{made.plan.job.name}[/bold]: safety sheet", highlight=False)
    if s.shade is not None and s.last_arc_s is not None:
        console.print(f"lens: shade {s.shade.value:.0f} or darker at {s.current_a:g} A by {s.shade.source}",
                      highlight=False)  # fmt: skip
        used = next(w for w in s.watches if w.used)
        console.print(f"last arc: {card.at(start, s.last_arc_s[0])}, may be {card.at(start, s.last_arc_s[1])} to "
                      f"{card.at(start, s.last_arc_s[2])}", highlight=False)  # fmt: skip
        console.print(
            f"watch until, at the least: {card.at(start, used.end_s)}, {used.watch_min:.0f} min after the last arc by "
            f"{used.rule} ({used.tag}); the watch runs from the real last arc",
            highlight=False,
        )
    for heads, rows in (
        (("lens rule", "least shade", "suggested", "", ""), card.lens_rows(s.lenses)),
        (("fire watch rule", "watch", "then monitored", "ends", "at the latest", "", ""),
         card.watch_rows(s.watches, start)),
        (("noise rule", "work", "dose", "over 8 h", "allowed at 105 to 98 dB(A)"), card.noise_rows(s.noises)),
        (("in the air", "from", "limit", "over", "rule, 29 CFR"), card.exposure_rows(s.exposures)),
        (("set-up", "what falls", "mass", "centre of gravity: along, up", "hold"),
         card.drop_rows(s.drops, made.plan.job.units, HEAVY_KG)),
    ):  # fmt: skip
        if rows:
            table = _table(*heads)
            for row in rows:
                table.add_row(*row)
            console.print(table)
    for line in card.together(s.drops):
        console.print(line, highlight=False)
    for finding in s.findings:
        console.print(f"{finding}", highlight=False, markup=False)
    console.print(card.DEFER, highlight=False)
