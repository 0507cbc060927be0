"""The command: verbs are registered here, worked in the modules beside."""

from __future__ import annotations

import sys

import typer

from lagline.cli import (
    choices_command,
    coupon_command,
    heat_command,
    look,
    plan_command,
    quote_command,
    rack_command,
    safety_command,
    serve_command,
    setout_command,
)

app = typer.Typer(
    name="lagline",
    help="Bench planner for a hand-held plasma torch: a drawing and a plate in, a bench card out.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command("plan")(plan_command.plan)
app.command("choices")(choices_command.choices)
app.command("heat")(heat_command.heat)
app.command("quote")(quote_command.quote)
app.command("safety")(safety_command.safety)
app.command("demo")(plan_command.demo)
app.command("serve")(serve_command.serve)
app.command("start")(serve_command.start)
app.add_typer(coupon_command.app, name="coupon")
app.add_typer(rack_command.app, name="rack")
setout_command.add_to(app)
app.command("read")(look.read)
app.command("shapes")(look.shapes)
app.command("formula")(look.formula)
app.command("length")(look.length)


@app.callback(invoke_without_command=True)
def version(show: bool = typer.Option(False, "--version", help="Print the version and stop.")) -> None:
    """Answer --version; everything else is a verb."""
    if show:
        from lagline import __version__

        print(f"lagline {__version__}")
        raise typer.Exit


def run() -> None:
    """Run the command; unusable input ends with its findings and status 2, never a traceback."""
    from lagline.records.errors import LaglineError

    try:
        app()
    except LaglineError as error:
        from lagline.cli.report import show_findings

        show_findings(error.findings, as_json="--json" in sys.argv)
        raise SystemExit(2) from None
    except BrokenPipeError:
        raise SystemExit(0) from None
