"""`lagline guide|pipe|bevel|... NAME`: one verb for each set-out, its options made from what it asks for."""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from lagline.setouts.families import FAMILIES, asks

if TYPE_CHECKING:
    from lagline.records.setout import SetOut
    from lagline.setouts.ask import Ask, Field

NO_GO = 3
_COMMON: dict[str, Any] = {
    "units": Annotated[str, typer.Option("--units", help="Unit of bare lengths, and of what is shown: in or mm.")],
    "as_json": Annotated[bool, typer.Option("--json", help="Print one JSON object.")],
    "sheet": Annotated[Path | None, typer.Option("--sheet", help="Write the printed sheet to this PDF.")],
    "wav": Annotated[Path | None, typer.Option("--wav", help="Write the beat to this sound file.")],
    "paper": Annotated[str, typer.Option("--paper", help="Paper of the sheet: letter, a4 or roll.")],
    "kit": Annotated[Path | None, typer.Option("--kit", help="Kit file; default: kit.toml here, else built in.")],
}
_DEFAULTS: dict[str, Any] = dict.fromkeys(_COMMON) | {"units": "in", "as_json": False, "paper": "letter"}


def _help(f: Field) -> str:
    words = f.words + (f" ({', '.join(f.choices)})" if f.choices else "")
    if f.required:
        return f"{words}; needed"
    default = f.shown_default("in")
    return f"{words}; default {default}" if default else words


def _verb(ask: Ask) -> Any:
    """Return the function of one set-out, with an option for each field."""
    from lagline.desk.setout_desk import with_bench

    def run(**options: Any) -> None:
        common = {k: options.pop(k, _DEFAULTS[k]) for k in _COMMON}
        texts = {k: v for k, v in options.items() if v is not None}
        _answer(ask, texts, **common)

    own = {f.name: Annotated[str | None, typer.Option(f.option, help=_help(f))] for f in with_bench(ask).fields}
    wanted = {"kit": bool(ask.thickness), "wav": ask.sound is not None}
    common = {k: v for k, v in _COMMON.items() if wanted.get(k, True)}
    kinds = own | common
    run.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [
            inspect.Parameter(k, inspect.Parameter.KEYWORD_ONLY, default=_DEFAULTS.get(k), annotation=v)
            for k, v in kinds.items()
        ]
    )
    run.__annotations__ = kinds | {"return": None}
    run.__doc__ = ask.meaning
    return run


def _answer(
    ask: Ask,
    texts: dict[str, str],
    *,
    units: str,
    as_json: bool,
    sheet: Path | None,
    wav: Path | None,
    paper: str,
    kit: Path | None,
) -> None:
    from lagline.desk import setout_desk
    from lagline.desk.coupon_desk import learned_for
    from lagline.records.errors import refuse
    from lagline.records.finding import Severity

    if paper not in setout_desk.PAPERS:
        raise refuse("setout-paper", "paper", f'"{paper[:20]}" is no paper of ours', ", ".join(setout_desk.PAPERS))
    bench = setout_desk.find_kit(kit) if ask.thickness else None
    made = setout_desk.answer(ask.family, ask.name, texts, units=units, paper=paper, kit=bench, learn=learned_for)
    if sheet is not None:
        setout_desk.write_sheet(made, sheet, units, paper)
    if wav is not None:
        setout_desk.write_sound(ask, made, wav)
    if as_json:
        import json

        print(json.dumps(setout_desk.as_dict(made), indent=2, ensure_ascii=False))
    else:
        _print(made, units)
        if sheet is not None:
            print(f"sheet: {sheet}")
    if any(f.severity is Severity.NO_GO for f in made.findings):
        raise typer.Exit(NO_GO)


def _print(made: SetOut, units: str) -> None:
    from rich.console import Console
    from rich.table import Table as Rich

    from lagline.cards import setout_words as words

    console = Console(highlight=False, markup=False, soft_wrap=True)
    wide = Console(highlight=False, markup=False, width=400)  # the terminal breaks a line that is too long, at its edge
    console.print(made.title, style="bold")
    for n in sorted(made.numbers, key=lambda n: not n.main):
        console.print(("> " if n.main else "  ") + words.line(n, units))
    for t in made.tables:
        table = Rich(title=t.title, title_justify="left", title_style="", box=None, pad_edge=False)
        for c in t.columns:
            table.add_column(words.head(c, units), no_wrap=True)
        for row in words.rows(t, units):
            table.add_row(*row)
        wide.print(table)
        if t.note:
            console.print(t.note)
    for i, s in enumerate(made.steps, 1):
        console.print(f"{i}. {s}")
    for f in made.findings:
        console.print(str(f))


def _group(family: str) -> type[TyperGroup]:
    """Return the group of a family: its verbs are made when one is asked for."""

    class SetOuts(TyperGroup):
        def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002
            return [a.name for a in asks(family)]

        def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ARG002
            ask = next((a for a in asks(family) if a.name == cmd_name), None)
            if ask is None:
                return None
            one = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
            one.command(cmd_name, help=ask.meaning)(_verb(ask))
            made = typer.main.get_command(one)
            made.name = cmd_name
            return made

    return SetOuts


def add_to(app: typer.Typer) -> None:
    """Add every family of set-outs to the command."""
    for f in FAMILIES.values():
        app.add_typer(
            typer.Typer(cls=_group(f.name), help=f.meaning, no_args_is_help=True, rich_markup_mode=None), name=f.name
        )
