"""Small questions: what is in a drawing, which shapes there are, where a formula comes from, how a length reads."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]


def read(
    drawing: Annotated[Path, typer.Argument(help="DXF or SVG drawing.")],
    unit: Annotated[str | None, typer.Option(help="Unit when the drawing names none: mm or in.")] = None,
    as_json: AsJson = False,
) -> None:
    """Read a drawing and say what was found and mended.

    Ends with status 0 when its outlines can be used, 3 when one was left out, 2 when none can be used.
    """
    from lagline.cli.report import show_findings
    from lagline.records.finding import Severity, finding_dict, worst
    from lagline.shapes.read import read_drawing

    got = read_drawing(drawing, unit)
    rows = []
    for n, o in enumerate(got.outlines, 1):
        left, bottom, right, top = o.bounds()
        size = {"width_mm": round(right - left, 3), "height_mm": round(top - bottom, 3), "area_mm2": round(o.area, 2)}
        rows.append({"outline": n, "edges": len(o.outer.segments), "holes": len(o.holes), **size})
    if as_json:
        print(json.dumps({"outlines": rows, "findings": [finding_dict(f) for f in got.findings]}, indent=2))
    else:
        for r in rows:
            print(
                f"outline {r['outline']}: {r['width_mm']:.2f} x {r['height_mm']:.2f} mm, {r['edges']} edges, "
                f"{r['holes']} holes, {r['area_mm2'] / 100:.1f} cm2"
            )
        show_findings(got.findings)
    gravest = worst(got.findings)
    if gravest in (Severity.REFUSED, Severity.NO_GO):
        raise typer.Exit(3 if rows else 2)


def shapes(as_json: AsJson = False) -> None:
    """List the named shapes and their sizes."""
    from lagline.shapes.named import SHAPES

    if as_json:
        print(json.dumps({n: [p.name for p in s.params] for n, s in SHAPES.items()}, indent=2))
        return
    for name, shape in SHAPES.items():
        print(f"{name}: {shape.meaning}")
        for p in shape.params:
            print(f"    {p.name}{'' if p.required else ' (optional)'}: {p.meaning}")


def formula(
    key: Annotated[str | None, typer.Argument(help="Formula, e.g. pace.heat-balance; none lists them all.")] = None,
    as_json: AsJson = False,
) -> None:
    """Say what a formula is, where it holds and where it comes from."""
    from dataclasses import asdict

    from lagline.records.errors import refuse
    from lagline.trade.catalogue import all_formulas

    found = {f.key: f for f in all_formulas()}
    if key is not None and key not in found:
        from difflib import get_close_matches

        near = ", ".join(get_close_matches(key, found)) or "`lagline formula` lists them"
        raise refuse("no-such-formula", "formula", f"there is no formula {key}", near)
    chosen = [found[key]] if key else list(found.values())
    if as_json:
        print(json.dumps({f.key: asdict(f) for f in chosen}, indent=2, ensure_ascii=False))
    elif key:
        f = chosen[0]
        print(f"{f.key}: {f.gives}\n  {f.text}\n  source: {f.source}")
        for limit in f.limits:
            why = f" ({limit.why})" if limit.why else ""
            print(f"  holds for {limit.name} {limit.low:g} to {limit.high:g} {limit.unit}{why}")
    else:
        for f in chosen:
            print(f"{f.key}: {f.gives}")


def length(
    text: Annotated[str, typer.Argument(help="A length as written in the shop, e.g. 1-1/2 or 38 mm.")],
    unit: Annotated[str, typer.Option(help="Unit of a bare number: in or mm.")] = "in",
    as_json: AsJson = False,
) -> None:
    """Read a shop length and show it both ways."""
    from lagline.records.length import read_length, show_length

    mm = read_length(text, unit, "length")
    if as_json:
        print(json.dumps({"given": text, "length_mm": mm, "inches": show_length(mm, "in", 64)}))
        return
    print(f"{show_length(mm, 'in', 64)} = {mm:.3f} mm")
