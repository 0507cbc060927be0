"""The page that lists every set-out with its picture, what it asks for and a command that works."""

from __future__ import annotations

from pathlib import Path

from lagline.cards.setout_picture import picture_svg
from lagline.desk import setout_desk
from lagline.planning.kit_file import generic_kit
from lagline.setouts.ask import Ask, Field
from lagline.setouts.families import FAMILIES, asks

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "setouts.md"
PICTURES = ROOT / "docs" / "pictures" / "setouts"

HEAD = """# Set-outs

One cut, one hole, one pipe end, one groove: type the sizes, read where the guide goes, print the sheet. Every one is
a command (`--json` for programs; `--sheet FILE.pdf` for paper, with `--paper letter`, `a4` or `roll`), a page
(Set-outs in the head of every page) and an address for programs (`/api/setouts/...`, the same names). Lengths are
read as the shop writes them; a bare number is inches, or millimetres with `--units mm`. Those with a torch behind
them take `--kit`, `--metal` and `--current`, and use your coupons. Print at 100 %, and lay a rule on the bars before
you trust a sheet.

This page is made by `make docs` from the set-outs themselves; each family has a page of its own that says what to do
with the numbers, and where they come from.
"""


def command(ask: Ask) -> str:
    """Return the example as a person types it."""
    words = [f"--{k.replace('_', '-')} '{v}'" if set(v) & set("\"' ") else f"--{k.replace('_', '-')} {v}"
             for k, v in ask.example]  # fmt: skip
    return " ".join(["lagline", ask.family, ask.name, *words])


def _field(f: Field) -> str:
    words = f.words + (f": {', '.join(f.choices)}" if f.choices else "")
    unit = {"length": "length", "angle": "degrees", "count": "whole number", "number": f.unit}.get(f.kind, "")
    need = "needed" if f.required else f.shown_default("in")
    return f"|`{f.option}`|{words.replace('|', '/')}|{unit}|{need}|"


def text() -> str:
    """Return the page."""
    out = [HEAD]
    for family in FAMILIES.values():
        own = ROOT / "docs" / "setouts" / f"{family.name}.md"
        more = f" See [{family.name}](setouts/{family.name}.md)." if own.exists() else ""
        out.append(f"\n## {family.name}\n\n{family.meaning}{more}\n")
        for ask in asks(family.name):
            out.append(f"\n### {ask.kind}\n\n{ask.meaning}\n")
            out.append(f"\n![{ask.kind}](pictures/setouts/{ask.family}-{ask.name}.svg)\n")
            out.append(f"\n```sh\n{command(ask)}\n```\n")
            out.append("\n|option|what|in|default|\n|-|-|-|-|\n" + "\n".join(map(_field, ask.fields)) + "\n")
    return "".join(out)


def write() -> None:
    """Write the page and a picture for each set-out."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    for name in FAMILIES:
        for ask in asks(name):
            made = setout_desk.answer(ask.family, ask.name, dict(ask.example), kit=(generic_kit(), ()))
            if made.picture is not None:
                (PICTURES / f"{ask.family}-{ask.name}.svg").write_text(picture_svg(made.picture))
    PAGE.write_text(text())


if __name__ == "__main__":
    write()
