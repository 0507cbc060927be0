"""`lagline choices`."""

from __future__ import annotations

import contextlib
import json
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lagline.cli.plan_command import NO_GO, UNUSABLE

if TYPE_CHECKING:
    from lagline.desk.choice_desk import Choices


def choices(
    job: Annotated[Path, typer.Argument(help="Job file (TOML). `lagline demo` writes one to start from.")],
    kit: Annotated[Path | None, typer.Option(help="Kit file; default: kit.toml beside the job, else built in.")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for a picture of each.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print them as one JSON object.")] = False,
    seconds: Annotated[int, typer.Option(min=1, max=600, help="Time a dense layout may take on a plate [s].")] = 5,
) -> None:
    """Show the ways to lay a job out that are worth choosing between, and what each is best at.

    An interrupt (Ctrl-C) stops the search and shows the best so far. Ends with status 0, 3 when parts are left over
    in all of them, 2 when the input cannot be used.
    """
    from lagline.cli.report import show_findings
    from lagline.desk.choice_desk import choices_dict, picture_files
    from lagline.desk.planner import write_files
    from lagline.records.errors import LaglineError

    try:
        with stop_by_hand() as stop:
            made = _looked_for(job, kit, seconds, stop)
        written = write_files(picture_files(made), out) if out else ()
    except LaglineError as error:
        show_findings(error.findings, as_json=as_json)
        raise typer.Exit(UNUSABLE) from None
    if as_json:
        print(json.dumps(choices_dict(made, made.job), indent=2, ensure_ascii=False))
    else:
        _show(made, stopped=stop())
        for path in written:
            print(path)
    raise typer.Exit(NO_GO if not made.ways or made.ways[0].estimate.left_over else 0)


@contextlib.contextmanager
def stop_by_hand() -> Iterator[Callable[[], bool]]:
    """Give a question that is true once the program was interrupted; a second interrupt ends it as usual."""
    asked = threading.Event()
    usual = signal.getsignal(signal.SIGINT)

    def first(_number: int, _frame: object) -> None:
        asked.set()
        signal.signal(signal.SIGINT, usual)

    if threading.current_thread() is not threading.main_thread():
        yield asked.is_set
        return
    signal.signal(signal.SIGINT, first)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, usual)


def _looked_for(job: Path, kit: Path | None, seconds: int, stop: Callable[[], bool]) -> Choices:
    """Look with a progress bar on standard error when a person is looking."""
    from lagline.desk.choice_desk import choices_of_files
    from lagline.desk.coupon_desk import learned_for
    from lagline.desk.rack_desk import rack_items

    if not sys.stderr.isatty():
        return choices_of_files(job, kit, learn=learned_for, rack=rack_items, seconds=seconds, stop=stop)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("laying out", total=1.0)
        return choices_of_files(
            job,
            kit,
            learn=learned_for,
            rack=rack_items,
            seconds=seconds,
            stop=stop,
            tell=lambda share, text: bar.update(task, completed=share, description=text),
        )


def _show(made: Choices, *, stopped: bool) -> None:
    """Print a line for each way, and how to take one."""
    from rich.console import Console

    from lagline.cards.words import tape
    from lagline.cli.report import LOUD, _table
    from lagline.desk.choice_desk import LEFT_OUT, best_at_nothing, used_now

    console = Console()
    bench, units = made.kit.bench, made.job.units
    console.print(f"[bold]{made.job.name}[/bold], kit: {made.kit.name}", highlight=False)
    lines = _table("best at", "layout", "seed", "minutes", "set-ups", "metal", "money", "largest offcut")
    for way in made.ways:
        e = way.estimate
        w, h = e.offcut_mm
        size = f"{tape(w, units)} by {tape(h, units)}" if min(w, h) > 1 else "none"
        short = f"\nno room for {e.left_over}" if e.left_over else ""
        numbers = (f"{e.minutes:.0f}", str(e.setups), f"{e.metal:.0f}", f"{e.money:.0f}")
        lines.add_row(", ".join(way.best_at) + short, way.method, str(way.seed), *numbers, size)
    console.print(lines)
    say = f"minutes and money ({bench.currency}): {LEFT_OUT}; metal without a price in the kit counts nothing"
    console.print(say, highlight=False)
    now = used_now(made.job, made.ways)
    if now is not None:
        console.print(f"the job is laid out by {now.method}, seed {now.seed}", highlight=False)
    elif not stopped and best_at_nothing(made.job, made):
        say = f"the job is laid out by {made.job.layout}, seed {made.job.seed}, which is best at nothing"
        console.print(say, highlight=False)
    elif made.job.layout == "best":
        console.print('the job says "best": the cheaper of guided and quick', highlight=False)
    if made.ways:
        first = made.ways[0]
        console.print(f'to take the first: layout = "{first.method}", seed = {first.seed} in the job file',
                      highlight=False)  # fmt: skip
    for f in made.findings:
        if f.severity in LOUD:
            console.print(f"{f}", highlight=False, markup=False)
