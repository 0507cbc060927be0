"""`lagline heat`."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lagline.cli.plan_command import UNUSABLE

if TYPE_CHECKING:
    from lagline.desk.heat_desk import Heats
    from lagline.records.figure import Figure
    from lagline.records.plan import Plan


def heat(
    job: Annotated[Path, typer.Argument(help="Job file (TOML). `lagline demo` writes one to start from.")],
    kit: Annotated[Path | None, typer.Option(help="Kit file; default: kit.toml beside the job, else built in.")] = None,
    at: Annotated[float | None, typer.Option(help="Show the plates at this minute of the job's clock too.")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for a picture of each plate's highest temperatures.")] = None,
    limit: Annotated[float, typer.Option(help="Tell of lines cut in metal hotter than this [C].")] = 150.0,
    no_loss: Annotated[bool, typer.Option("--no-loss", help="Let nothing cool to the air.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the answer as one JSON object.")] = False,
    seconds: Annotated[int, typer.Option(min=1, max=600, help="Time a dense layout may take on a plate [s].")] = 5,
) -> None:
    """Show where the plates get hot: lines cut in hot metal, when parts can be handled, bands beside cuts, bow.

    Ends with status 0, 2 when the input cannot be used.
    """
    import math

    from lagline.cli.plan_command import plan_with_bar
    from lagline.cli.report import show_findings
    from lagline.desk.heat_desk import heat_dict
    from lagline.records.errors import LaglineError, refuse

    try:
        if at is not None and not (math.isfinite(at) and at >= 0):
            raise refuse("heat-bad-number", "--at", f"{at:g} is no minute of the job", "0 or more")
        if not (math.isfinite(limit) and limit > 20):
            raise refuse("heat-bad-number", "--limit", f"{limit:g} C is no limit", "above 20")
        made = plan_with_bar(job, kit, seconds)
        heats = _with_bar(made, at, limit, losses=not no_loss)
        written = _write(heats, out, at) if out else ()
    except LaglineError as error:
        show_findings(error.findings, as_json=as_json)
        raise typer.Exit(UNUSABLE) from None
    if as_json:
        print(json.dumps(heat_dict(heats, at), indent=2, ensure_ascii=False))
        return
    _show(heats, at)
    for path in written:
        print(path)


def _with_bar(plan: Plan, at: float | None, limit: float, *, losses: bool) -> Heats:
    from lagline.desk.heat_desk import heats_of

    if not sys.stderr.isatty():
        return heats_of(plan, at_min=at, limit_c=limit, losses=losses)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("heat", total=1.0)
        return heats_of(
            plan, at_min=at, limit_c=limit, losses=losses,
            tell=lambda share, text: bar.update(task, completed=share, description=text),
        )  # fmt: skip


def _write(heats: Heats, out: Path, at: float | None) -> tuple[Path, ...]:
    from lagline.cards.draw_heat import heat_svg
    from lagline.desk.planner import write_files

    files = {}
    for p in heats.plates:
        files[f"heat-{p.plate}.svg"] = heat_svg(heats.plan, p, paper=True).encode()
        if at is not None:
            files[f"heat-{p.plate}-at.svg"] = heat_svg(heats.plan, p, paper=True, frame=p.frames[0]).encode()
    return write_files(files, out)


def _show(heats: Heats, at: float | None) -> None:
    from rich.console import Console

    from lagline.cli.report import _table
    from lagline.planning.heat import AIR_C
    from lagline.records.length import show_length

    console = Console()
    units = heats.plan.job.units

    def show(mm: float) -> str:
        return show_length(mm, units, 32)

    def spread(f: Figure) -> str:
        return f"{show(f.value)} ({show(f.low)} to {show(f.high)})"

    console.print(f"[bold]{heats.plan.job.name}[/bold]: heat in the plate", highlight=False)
    for p, found in zip(heats.plates, heats.bands, strict=True):
        x, y = p.hottest_at
        console.print(
            f"plate {p.name}: hottest {p.hottest_c:.0f} C at x {x:.0f} y {y:.0f} mm, {show(p.believe_mm)} and more "
            f"from a cut (nearer is not believed); squares of {p.cell_mm:.1f} mm",
            highlight=False,
        )
        if at is not None:
            frame = p.frames[0]
            console.print(f"  at {at:g} min: hottest {AIR_C + float(frame.rise.max()):.0f} C", highlight=False)
        parts = _table("part", "peak", "loose at", "then, on the whole", "fit to handle after")
        for q in p.parts:
            peak = "" if q.peak_c is None else f"{q.peak_c:.0f} C"
            wait = "hours" if q.wait_s is None else "at once" if q.wait_s < 1 else f"{q.wait_s / 60:.0f} min"
            parts.add_row(q.name, peak, f"{q.loose_s / 60:.0f} min", f"{q.loose_c:.0f} C", wait)
        console.print(parts)
        table = _table("band beside a cut", "reaches", "width by the handbook", "by the field")
        for b in found:
            by_field = "" if b.field_mm is None else show(b.field_mm)
            table.add_row(f"{b.setting}: {b.word}", f"{b.temperature_c:.0f} C", spread(b.handbook_mm), by_field)
        console.print(table)
        warm = sorted((line for line in p.lines if line.hottest_c > 60), key=lambda line: -line.hottest_c)
        for line in warm[:5]:
            console.print(f"  set-up {line.number} begins in metal at {line.hottest_c:.0f} C: {line.title}",
                          highlight=False, markup=False)  # fmt: skip
    for s in heats.strips:
        console.print(f"{s.part}: bends {show(s.hot_mm)} outwards while one edge is hot (evens out in "
                      f"{s.evens_out_s:.0f} s); left when cold:", highlight=False, markup=False)  # fmt: skip
        for w in s.ways:
            console.print(f"  {w.way}: {spread(w.left_mm)}", highlight=False, markup=False)
    for finding in heats.findings:
        console.print(f"{finding}", highlight=False, markup=False)
