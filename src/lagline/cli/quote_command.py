"""`lagline quote`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lagline.cli.plan_command import NO_GO, UNUSABLE

if TYPE_CHECKING:
    from lagline.desk.quote_desk import Priced


def quote(
    job: Annotated[Path, typer.Argument(help="Job file (TOML). `lagline demo` writes one to start from.")],
    kit: Annotated[Path | None, typer.Option(help="Kit file; default: kit.toml beside the job, else built in.")] = None,
    out: Annotated[Path | None, typer.Option(help="Write the quote to this PDF.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the price as one JSON object.")] = False,
    compare: Annotated[bool, typer.Option("--compare", help="Set torch against drill and saw.")] = False,
    labour: Annotated[str | None, typer.Option(help="Labour, an hour.")] = None,
    metal: Annotated[str | None, typer.Option(help="Metal, a kg.")] = None,
    tips: Annotated[str | None, typer.Option(help="Nozzle and electrode, a set.")] = None,
    power: Annotated[str | None, typer.Option(help="Power, a kWh.")] = None,
    overhead: Annotated[str | None, typer.Option(help="Overhead, percent of the cost.")] = None,
    margin: Annotated[str | None, typer.Option(help="Margin, percent of the price.")] = None,
    shop: Annotated[str | None, typer.Option(help="The shop's name on the quote.")] = None,
    paper: Annotated[str | None, typer.Option(help="letter or a4; default: the job's.")] = None,
    seconds: Annotated[int, typer.Option(min=1, max=600, help="Time a dense layout may take on a plate [s].")] = 5,
) -> None:
    """Price a job: labour by kind of work, metal less offcut, tips, air, power, with its range.

    Ends with status 0, 3 when the plan is a no-go, 2 when the input cannot be used.
    """
    from lagline.cli.plan_command import plan_with_bar
    from lagline.cli.report import show_findings
    from lagline.desk.quote_desk import priced, quote_dict, write_sheet
    from lagline.planning.kit_file import generic_kit
    from lagline.planning.quote import with_rates
    from lagline.records.errors import LaglineError, refuse

    typed = {"labour": labour, "metal": metal, "tips": tips, "power": power, "overhead": overhead, "margin": margin,
             "shop": shop}  # fmt: skip
    given = {k: v for k, v in typed.items() if v is not None}
    try:
        if paper not in (None, "letter", "a4"):
            raise refuse("quote-paper", "paper", f'"{str(paper)[:20]}" is no paper for a quote', "letter or a4")
        with_rates(generic_kit(), given, ())  # a wrong rate is told before the long work
        made = priced(plan_with_bar(job, kit, seconds), given, compared=compare)
        if out is not None:
            write_sheet(made, out, paper or made.plan.job.paper)
    except LaglineError as error:
        show_findings(error.findings, as_json=as_json)
        raise typer.Exit(UNUSABLE) from None
    if as_json:
        print(json.dumps(quote_dict(made), indent=2, ensure_ascii=False))
    else:
        _show(made)
        if out is not None:
            print(out)
    raise typer.Exit(0 if made.plan.go else NO_GO)


def _show(made: Priced) -> None:
    from rich.console import Console

    from lagline.cards import quote_sheet as sheet
    from lagline.cli.report import _table

    console, q = Console(), made.quote
    console.print(f"[bold]{made.plan.job.name}[/bold], kit: {made.plan.kit.name}", highlight=False)
    table = _table("", "time", q.currency, "low to high")
    for title, rows in sheet.lines(q):
        table.add_row(f"[bold]{title}[/bold]")
        for words, spent, money, ends, _ in rows:
            table.add_row(f"  {words}", spent, money, ends)
    for name, f, spent in (
        ("cost", q.cost, sheet.minutes(q.minutes.value)),
        (f"overhead {100 * q.overhead_share:g} % of the cost", q.overhead, ""),
        (f"margin {100 * q.margin_share:g} % of the price", q.margin, ""),
        ("price", q.price, ""),
    ):
        table.add_row(f"[bold]{name}[/bold]", spent, sheet.money(f.value), sheet.money_range(f))
    console.print(table)
    for tip, asked, used, change, have in sheet.wear_rows(made.worn):
        console.print(f"tip {tip}: {asked}; used: {used}; change: {change}; have nozzles and electrodes {have}",
                      highlight=False, markup=False)  # fmt: skip
    if made.compared is not None:
        table = _table("", "how many", "set-ups", "torch", "the other", "cheaper")
        for p in made.compared.pairs:
            table.add_row(*sheet.pair_row(p, made.plan.job.units))
        console.print(table)
        for e in made.compared.evens:
            console.print(f"break-even, {sheet.even_words(e, made.plan)}", highlight=False, markup=False)
    for finding in q.findings:
        console.print(f"{finding}", highlight=False, markup=False)
