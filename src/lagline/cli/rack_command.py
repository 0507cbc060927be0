"""`lagline rack ...`: the plates and offcuts a shop keeps, what a job leaves, and what the next one should use."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from lagline.book.rack import RackCut
    from lagline.desk.rack_desk import RackDesk

NO_GO, UNUSABLE = 3, 2
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
KitFile = Annotated[Path | None, typer.Option("--kit", help="Kit file; default: kit.toml beside the job, or built in.")]
Mark = Annotated[str, typer.Argument(help="The item's mark, such as R-7; `lagline rack list` shows them.")]
Why = Annotated[str, typer.Option(help="Why, for whoever looks later.")]
Text = Annotated[str | None, typer.Option()]
app = typer.Typer(help="Plates and offcuts the shop keeps.", no_args_is_help=True, rich_markup_mode=None)


@app.command("add")
def add(
    drawing: Annotated[Path | None, typer.Argument(help="Drawing of its outline (DXF or SVG); or give a size.")] = None,
    width: Annotated[str | None, typer.Option(help="Along, e.g. 23-1/2.")] = None,
    height: Annotated[str | None, typer.Option(help="Up.")] = None,
    metal: Annotated[str | None, typer.Option(help="steel, stainless or aluminium.")] = None,
    thickness: Annotated[str | None, typer.Option(help="e.g. 3/8, 10 ga or 12 mm.")] = None,
    kind: Annotated[str, typer.Option(help="plate or offcut.")] = "offcut",
    hole: Annotated[
        list[str] | None,
        typer.Option(
            help='Hole, burnt or bad area, once for each, also over the edge: "x=4, y=5, diameter=2" or '
            '"left=0, bottom=12, width=3, height=6".'
        ),
    ] = None,
    diagonals: Annotated[
        str | None, typer.Option(help='Both, taped, the one from the lower left corner first: "30, 30-1/16".')
    ] = None,
    grade: Text = None,
    coating: Text = None,
    name: Text = None,
    heat: Annotated[str | None, typer.Option(help="Heat number.")] = None,
    place: Annotated[str | None, typer.Option(help="Where it stands.")] = None,
    worth: Annotated[str | None, typer.Option(help="What it is worth, in shop money.")] = None,
    date: Annotated[str | None, typer.Option(help="Day it came, 2026-03-02; today unless told.")] = None,
    note: Text = None,
    units: Annotated[str, typer.Option(help="Unit of bare lengths: in or mm.")] = "in",
    copies: Annotated[int, typer.Option(help="How many alike.")] = 1,
    as_json: AsJson = False,
) -> None:
    """Put a plate or offcut on the rack; it gets a mark to chalk on it."""
    with _findings(as_json):
        from lagline.cli.report import show_findings
        from lagline.desk.rack_views import item_dict, line_of
        from lagline.planning.rack_read import holes_of
        from lagline.records.finding import finding_dict

        given = {
            "width": width, "height": height, "metal": metal, "thickness": thickness, "kind": kind, "grade": grade,
            "coating": coating, "name": name, "heat": heat, "place": place, "worth": worth, "date": date, "note": note,
            "units": units, "diagonals": diagonals, "holes": holes_of(hole or (), "hole"),
            "file": str(drawing) if drawing else None,
        }  # fmt: skip
        data = {k: v for k, v in given.items() if v not in (None, [])}
        added = _desk().add(data, "rack add", Path(), copies, anywhere=True)
        if as_json:
            found = [finding_dict(f) for f in added.findings]
            _print({"items": [item_dict(i) for i in added.items], "findings": found})
            return
        for item in added.items:
            print(line_of(item))
        show_findings(added.findings)


@app.command("list")
def list_(
    all_: Annotated[bool, typer.Option("--all", help="Used and scrapped ones too.")] = False,
    as_json: AsJson = False,
) -> None:
    """List what lies on the rack."""
    with _findings(as_json):
        from lagline.desk.rack_views import item_dict, line_of
        from lagline.records.rack import RackState

        items = [i for i in _desk().items() if all_ or i.state is RackState.ON]
        if as_json:
            _print({"items": [item_dict(i) for i in items]})
            return
        for item in items:
            print(line_of(item))
        if not items:
            print("nothing lies on the rack: `lagline rack add` puts something there")


@app.command("show")
def show(
    mark: Mark,
    svg: Annotated[Path | None, typer.Option(help="Write its picture, to scale with sizes, to this file.")] = None,
    as_json: AsJson = False,
) -> None:
    """Show one item: sizes, where it came from, what was done to it."""
    with _findings(as_json):
        from lagline.desk.rack_views import kept_dict, line_of

        kept = _desk().get(mark)
        if svg is not None:
            from lagline.cards.rack_picture import item_svg
            from lagline.desk.planner import write_files

            write_files({svg.name: item_svg(kept.item, paper=True).encode()}, svg.parent)
        if as_json:
            _print(kept_dict(kept))
            return
        print(line_of(kept.item))
        if kept.item.note:
            print(f"  note: {kept.item.note}")
        for act in kept.acts:
            about = f", plan {act.about}" if act.about else ""
            print(f"  {act.at[:16].replace('T', ' ')} UTC  {act.what}{about}{': ' + act.why if act.why else ''}")


@app.command("scrap")
def scrap(mark: Mark, why: Why = "", as_json: AsJson = False) -> None:
    """Say an item is scrapped; `lagline rack put-back` undoes it."""
    with _findings(as_json):
        from lagline.desk.rack_views import item_dict

        item = _desk().scrap(mark, why)
        if as_json:
            _print(item_dict(item))
        else:
            print(f"{item.mark} is scrapped; `lagline rack put-back {item.mark}` undoes it")


@app.command("put-back")
def put_back(mark: Mark, why: Why = "", as_json: AsJson = False) -> None:
    """Put a used or scrapped item back on the rack."""
    with _findings(as_json):
        from lagline.desk.rack_views import item_dict

        item = _desk().put_back(mark, why)
        if as_json:
            _print(item_dict(item))
        else:
            print(f"{item.mark} lies on the rack again")


@app.command("cut")
def cut(
    job: Annotated[Path | None, typer.Argument(help="Job file that was cut; it is planned anew.")] = None,
    plan: Annotated[Path | None, typer.Option(help="The plan.json that was cut, instead.")] = None,
    kit: KitFile = None,
    again: Annotated[bool, typer.Option("--again", help="It was cut once more, on other plates.")] = False,
    anyway: Annotated[bool, typer.Option("--anyway", help="It was cut although the plan is a no-go.")] = False,
    as_json: AsJson = False,
) -> None:
    """Say a job was cut: its plates are used, its offcuts go on the rack. Said twice, nothing changes.

    Ends with status 3, and writes nothing, when the plan is a no-go.
    """
    with _findings(as_json):
        from lagline.records.errors import refuse

        if (job is None) is (plan is None):
            both = "neither a job nor a plan is named" if job is None else "both a job and a plan are named"
            raise refuse("field-missing", "rack cut", both, "a job file, or --plan plan.json: one of them")
        desk = _desk()
        if plan is not None:
            _told(desk.cut_file(plan, again=again, anyway=anyway), as_json)
            return
        assert job is not None
        from lagline.cli.plan_command import plan_with_bar

        _told(desk.cut_plan(plan_with_bar(job, kit, 5), again=again, anyway=anyway), as_json)


@app.command("advise")
def advise(
    job: Annotated[Path, typer.Argument(help="Job file.")],
    kit: KitFile = None,
    as_json: AsJson = False,
) -> None:
    """Say which plates and offcuts of the rack a job should use, and why, one sentence for each.

    Ends with status 3 when not every part finds a place.
    """
    with _findings(as_json):
        from lagline.desk.coupon_desk import learned_for
        from lagline.desk.rack_views import advice_dict

        got = _desk().advise_file(job, kit, learned_for)
        a = got.advice
        if as_json:
            _print(advice_dict(got))
        else:
            for t in got.told:
                print(f"{t.mark}  {t.why}")
            rest = (
                f"; {a.left_over} {'part finds' if a.left_over == 1 else 'parts find'} no place" if a.left_over else ""
            )
            print(f"{got.job.name}: cut from {', '.join(a.cut) or 'nothing'}{rest}")
            print('in the job file `rack = true` does the same, [[plates]] rack = "R-7" names one')
        if a.left_over:
            raise typer.Exit(NO_GO)


# ---- inside ----


@contextlib.contextmanager
def _findings(as_json: bool) -> Iterator[None]:
    """Show why an input cannot be used, in the form that was asked for, and end with status 2; 3 for a no-go."""
    from lagline.records.errors import LaglineError

    try:
        yield
    except LaglineError as error:
        from lagline.cli.report import show_findings

        show_findings(error.findings, as_json=as_json)
        no_go = {f.code for f in error.findings} == {"plan-no-go"}
        raise typer.Exit(NO_GO if no_go else UNUSABLE) from None


def _told(done: RackCut, as_json: bool) -> None:
    from lagline.desk.rack_views import cut_dict, cut_text

    if as_json:
        _print(cut_dict(done))
    elif done.fresh:
        print(cut_text(done))
    else:
        print(f"nothing changed: {cut_text(done)}; `--again` when it was cut once more")


def _print(data: dict[str, object]) -> None:
    print(json.dumps(data, indent=2, ensure_ascii=False))


def _desk() -> RackDesk:
    from lagline.desk.rack_desk import RackDesk

    return RackDesk()
