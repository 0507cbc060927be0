"""`lagline coupon ...`: plan, enter and look at scrap coupons, and what they have taught."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lagline.cli import coupon_told as told

if TYPE_CHECKING:
    from lagline.desk.coupon_desk import CouponDesk
    from lagline.planning.coupon_plan import CouponPlan
    from lagline.records.kit import Kit

UNUSABLE = 2
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
KitFile = Annotated[Path | None, typer.Option("--kit", help="Kit file; default: kit.toml here, else built in.")]
Id = Annotated[str, typer.Argument(help="The coupon, such as c-2026-11-25-01; `lagline coupon list` shows them.")]
Measured = Annotated[
    list[str], typer.Argument(metavar="FIELD", help='What was measured: "cut 2 kerf top" (or cuts[1].kerf_top_mm).')
]
Why = Annotated[str, typer.Option(help="Why, for whoever looks later.")]
app = typer.Typer(help="Scrap coupons: cut, measure, enter, learn.", no_args_is_help=True, rich_markup_mode=None)


@app.command("add")
def add(
    file: Annotated[Path | None, typer.Argument(help="Coupon file (TOML); or give it by options.")] = None,
    tip: Annotated[str | None, typer.Option(help="Tip, as in the kit.")] = None,
    metal: Annotated[str | None, typer.Option(help="steel, stainless or aluminium.")] = None,
    thickness: Annotated[str | None, typer.Option(help="Plate, e.g. 3/8.")] = None,
    current: Annotated[str | None, typer.Option(help="Amps.")] = None,
    cut: Annotated[
        list[str] | None, typer.Option(help='One cut, once for each: "length=10, seconds=24, kerf top=5/64".')
    ] = None,
    also: Annotated[
        list[str] | None, typer.Option(help='More of the coupon: "starts=40", "date=2026-11-25", "supply=90 psi".')
    ] = None,
    units: Annotated[str | None, typer.Option(help="Unit of bare lengths given as options: in or mm.")] = None,
    kit: KitFile = None,
    replaces: Annotated[str | None, typer.Option(help="The coupon this one corrects.")] = None,
    as_json: AsJson = False,
) -> None:
    """Enter a coupon. Doubtful values are kept and asked about; what cannot be true is refused with status 2."""
    with _findings(as_json):
        from lagline.records.errors import refuse

        bench = _kit(kit, beside=file)
        given: dict[str, object] = {"tip": tip, "metal": metal, "thickness": thickness, "current": current}
        if file is not None:
            if cut or also or units or any(given.values()):
                raise refuse("coupon-twice", str(file), "is given beside options", "a file, or options, not both")
            entered = _desk().add_file(file, bench, replaces=replaces)
        else:
            entered = _desk().add_words(given | {"units": units}, also or (), cut or (), bench, replaces=replaces)
        told.show_entered(entered, as_json)


@app.command("list")
def list_(
    all_: Annotated[bool, typer.Option("--all", help="Replaced and removed ones too.")] = False,
    as_json: AsJson = False,
) -> None:
    """List the coupons in the book."""
    with _findings(as_json):
        kept = [k for k in _desk().all() if all_ or k.standing]
        if as_json:
            from lagline.desk import coupon_json

            told.print_json({"coupons": [coupon_json.kept_dict(k) for k in kept]})
            return
        for k in kept:
            c = k.coupon
            state = f"  replaced by {k.replaced_by}" if k.replaced_by else "  removed" if k.removed else ""
            aside = f"  {len(c.set_aside)} set aside" if c.set_aside else ""
            aside += f"  {len(c.stands)} said to stand" if c.stands else ""
            print(
                f"{c.id}  {c.tip}, {c.metal} {told.both(c.thickness_mm)} at {c.current_a:g} A, "
                f"{len(c.cuts)} {'cut' if len(c.cuts) == 1 else 'cuts'}{aside}{state}"
            )
        if not kept:
            print("no coupons yet: `lagline coupon plan` says what to cut")


@app.command("show")
def show(
    id_: Id,
    toml: Annotated[bool, typer.Option("--toml", help="Print it as a coupon file, to correct and add again.")] = False,
    as_json: AsJson = False,
) -> None:
    """Show one coupon: what was measured, what is set aside or said to stand, what was done to it."""
    with _findings(as_json):
        k = _desk().show(id_)
        if as_json:
            from lagline.desk import coupon_json
            from lagline.trade.face import faces_of

            faces = [{"cut": n, "side": side} | asdict(grade) for n, side, grade in faces_of(k.coupon)]
            told.print_json(coupon_json.kept_dict(k) | {"faces_iso9013": faces})
            return
        if toml:
            from lagline.planning.coupon_read import coupon_toml

            print(coupon_toml(k.coupon), end="")
            return
        told.show_kept(k)


@app.command("set-aside")
def set_aside(
    id_: Id,
    fields: Measured,
    why: Why = "",
    as_json: AsJson = False,
) -> None:
    """Set a measurement aside: it stays in the book and counts no more, until taken back."""
    with _findings(as_json):
        told.show_said(_desk().set_aside(id_, *fields, why=why), as_json)


@app.command("stands")
def stands(
    id_: Id,
    fields: Measured,
    why: Why = "",
    as_json: AsJson = False,
) -> None:
    """Say that an odd measurement is right as it stands: it counts from now on, until taken back."""
    with _findings(as_json):
        told.show_said(_desk().stands(id_, *fields, why=why), as_json)


@app.command("take-back")
def take_back(
    id_: Id,
    fields: Measured,
    why: Why = "",
    as_json: AsJson = False,
) -> None:
    """Take back that a measurement is set aside, or that it stands."""
    with _findings(as_json):
        told.show_said(_desk().take_back(id_, *fields, why=why), as_json)


@app.command("remove")
def remove(id_: Id, why: Why = "", as_json: AsJson = False) -> None:
    """Mark a coupon as removed; `lagline coupon put-back` undoes it."""
    with _findings(as_json):
        _desk().remove(id_, why)
        told.said(id_, f"removed; `lagline coupon put-back {id_}` undoes it", as_json, removed=True)


@app.command("put-back")
def put_back(id_: Id, why: Why = "", as_json: AsJson = False) -> None:
    """Put a removed coupon back."""
    with _findings(as_json):
        c = _desk().put_back(id_, why)
        told.said(c.id, "counts again", as_json, removed=False)


@app.command("learned")
def learned(kit: KitFile = None, as_json: AsJson = False) -> None:
    """Say what the coupons teach: each figure with its 90 % limits, without any coupon and with them."""
    with _findings(as_json):
        from lagline.cli.report import show_findings
        from lagline.records.finding import finding_dict

        taught, findings = _desk().taught(_kit(kit))
        if as_json:
            from lagline.desk import coupon_json

            rows = [coupon_json.taught_dict(t) for t in taught]
            told.print_json({"learned": rows, "findings": [finding_dict(f) for f in findings]})
            return
        for t in taught:
            told.show_taught(t)
        if not taught:
            print("nothing learned yet: every figure is a default with its spread")
        show_findings(findings)


@app.command("drift")
def drift(as_json: AsJson = False) -> None:
    """Say whether a tip is going: its coupons on a control chart over arc minutes or starts."""
    with _findings(as_json):
        from lagline.cli.report import show_findings
        from lagline.records.finding import finding_dict

        found, findings = _desk().drift()
        if as_json:
            from lagline.desk import coupon_json

            told.print_json(
                {"tips": [coupon_json.drift_dict(d) for d in found], "findings": [finding_dict(f) for f in findings]}
            )
            return
        for d in found:
            told.show_drift(d)
        if not found:
            print("no coupons yet")
        show_findings(findings)


@app.command("plan")
def plan(
    metal: Annotated[str, typer.Option(help="steel, stainless or aluminium.")],
    thickness: Annotated[str, typer.Option(help="Scrap's thickness, e.g. 3/8.")],
    current: Annotated[float, typer.Option(min=1, max=500, help="Amps.")],
    tip: Annotated[str | None, typer.Option(help="Tip; default: the smallest that carries the current.")] = None,
    units: Annotated[str, typer.Option(help="in or mm, for bare lengths and for the sheet.")] = "in",
    gouge: Annotated[bool, typer.Option(help="Add a gouge.")] = False,
    paper: Annotated[str, typer.Option(help="letter or a4.")] = "letter",
    kit: KitFile = None,
    out: Annotated[Path | None, typer.Option(help="Folder for coupon.pdf: the scrap at full scale and a form.")] = None,
    as_json: AsJson = False,
) -> None:
    """Say what to cut on a scrap in five minutes: the paces that teach most now, and what to measure."""
    with _findings(as_json):
        from lagline.cli.report import show_findings
        from lagline.planning.fields import choice, read_thickness
        from lagline.planning.kit_file import METALS
        from lagline.records.errors import refuse
        from lagline.records.finding import finding_dict

        bench = _kit(kit)
        metal = choice(*METALS)(metal, "--metal")
        units = choice("in", "mm")(units, "--units")
        paper = choice("letter", "a4")(paper, "--paper")
        mm, notes = read_thickness(thickness, metal, "none", units, "--thickness")
        tips = bench.torch.tips
        if tip is None:
            fit = [t for t in tips if t.max_current_a >= current]
            if not fit:
                most = f"up to {tips[-1].max_current_a:g} A, or name the tip"
                raise refuse("no-tip", "--current", f"no tip of {bench.name} carries {current:g} A", most)
            tip = fit[0].name
        made = _desk().plan(bench, metal, mm, current, tip, gouge=gouge)
        written = _sheets(made, bench, units, paper, out) if out is not None else ()
        if as_json:
            found = [finding_dict(f) for f in (*notes, *made.findings)]
            told.print_json(asdict(made) | {"findings": found, "files": [str(p) for p in written]})
            return
        told.show_plan(made, units)
        show_findings((*notes, *made.findings))
        for path in written:
            print(path)


# ---- inside ----


@contextlib.contextmanager
def _findings(as_json: bool) -> Iterator[None]:
    """Show why an input cannot be used, in the form that was asked for, and end with status 2."""
    from lagline.records.errors import LaglineError

    try:
        yield
    except LaglineError as error:
        from lagline.cli.report import show_findings

        show_findings(error.findings, as_json=as_json)
        raise typer.Exit(UNUSABLE) from None


def _desk() -> CouponDesk:
    from lagline.desk.coupon_desk import CouponDesk

    return CouponDesk()


def _kit(given: Path | None, beside: Path | None = None) -> Kit:
    """The kit named, else kit.toml beside the coupon file or in this folder, else the built-in one."""
    from lagline.desk.planner import find_kit

    found, _ = find_kit(beside if beside is not None else Path("coupon.toml"), given)
    return found


def _sheets(made: CouponPlan, kit: Kit, units: str, paper: str, out: Path) -> tuple[Path, ...]:
    """Write the coupon's sheets: the scrap at full scale, order of work and form."""
    from lagline.cards.coupon_card import pdf
    from lagline.desk.planner import write_files

    return write_files({"coupon.pdf": pdf(made, kit, paper, units)}, out)
