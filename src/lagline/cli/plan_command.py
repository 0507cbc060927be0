"""`lagline plan` and `lagline demo`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from lagline.records.plan import Plan

NO_GO = 3
UNUSABLE = 2


def plan(
    job: Annotated[Path, typer.Argument(help="Job file (TOML). `lagline demo` writes one to start from.")],
    kit: Annotated[Path | None, typer.Option(help="Kit file; default: kit.toml beside the job, else built in.")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for card, templates, pictures and plan.json.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the plan as one JSON object.")] = False,
    steps: Annotated[bool, typer.Option(help="List every set-up.")] = False,
    seconds: Annotated[int, typer.Option(min=1, max=600, help="Time a dense layout may take [s].")] = 5,
) -> None:
    """Plan a job: which cuts, guides, starts, order, rests; GO or NO-GO.

    Ends with status 0 when every cut can go, 3 when something is a no-go, 2 when the input cannot be used.
    """
    from lagline.cli.report import show_findings, show_plan
    from lagline.records.errors import LaglineError

    try:
        made = plan_with_bar(job, kit, seconds)
        written = write(made, out) if out else ()
    except LaglineError as error:
        show_findings(error.findings, as_json=as_json)
        raise typer.Exit(UNUSABLE) from None
    if as_json:
        from lagline.cards.plan_json import to_json

        print(to_json(made), end="")
    else:
        show_plan(made, steps=steps)
        for path in written:
            print(path)
    raise typer.Exit(0 if made.go else NO_GO)


def plan_with_bar(job: Path, kit: Path | None, seconds: int) -> Plan:
    """Plan with a progress bar on standard error when a person is looking."""
    from lagline.desk.coupon_desk import learned_for
    from lagline.desk.planner import plan_files
    from lagline.desk.rack_desk import rack_items, rack_pasts

    if not sys.stderr.isatty():
        return plan_files(job, kit, learn=learned_for, rack=rack_items, pasts=rack_pasts, seconds=seconds)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("planning", total=1.0)
        return plan_files(
            job,
            kit,
            learn=learned_for,
            rack=rack_items,
            pasts=rack_pasts,
            seconds=seconds,
            tell=lambda p: bar.update(task, completed=p.share, description=p.stage),
        )


def write(made: Plan, out: Path) -> tuple[Path, ...]:
    """Write every file of the plan and return their paths; what could not be made is told."""
    from lagline.cli.report import show_findings
    from lagline.desk.planner import failed_findings, plan_outputs, write_files

    files, failed = plan_outputs(made)
    show_findings(failed_findings(failed))
    return write_files(files, out)


def demo(
    folder: Annotated[Path, typer.Argument(help="Where to put the demo's job, kit and drawings.")] = Path("demo"),
) -> None:
    """Write the demo job (a slipway cradle repair), its kit and drawings, for editing."""
    from lagline.desk.demo import write_demo

    for path in write_demo(folder):
        print(path)
    print(f"now: lagline plan {folder / 'job.toml'} --out out")
