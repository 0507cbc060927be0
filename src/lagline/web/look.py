"""How pages are made: the templates, the shop words they may use, and answers in our look."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from lagline import __version__
from lagline.book.shelf import mark_of
from lagline.cards import words
from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.length import show_both, show_length
from lagline.shapes.named import SHAPES

HERE = Path(__file__).parent
SEVERITY_WORDS = {
    Severity.REFUSED: "Cannot be used",
    Severity.NO_GO: "No-go",
    Severity.CAUTION: "Caution",
    Severity.MENDED: "Mended",
    Severity.NOTE: "Note",
}


def minutes(value: float) -> str:
    """Return minutes as people say them: ``45 min``, ``3 h 20``."""
    m = round(value)
    return f"{m} min" if m < 100 else f"{m // 60} h {m % 60:02d}"


def grouped(findings: Iterable[Finding]) -> list[tuple[str, str, list[Finding]]]:
    """Return findings by severity, gravest first: its word, its class, the findings."""
    out: dict[Severity, list[Finding]] = {}
    for f in sort_findings(findings):
        out.setdefault(f.severity, []).append(f)
    return [(SEVERITY_WORDS[s], s.value, fs) for s, fs in out.items()]


@cache
def _stamp(name: str) -> str:
    return mark_of((HERE / "static" / name).read_bytes())[:8]


def static(name: str) -> str:
    """Return the address of a static file; it changes with the file, so that browsers may keep it."""
    return f"/static/{name}?v={_stamp(name)}"


@cache
def templates() -> Environment:
    """Return the template environment."""
    env = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=bool(os.environ.get("LAGLINE_RELOAD")),
    )
    env.globals.update(
        static=static, version=__version__, words=words, grouped=grouped, SHAPES=SHAPES, show_length=show_length,
        show_both=show_both, minutes=minutes, severity_word=lambda f: SEVERITY_WORDS[f.severity],
    )  # fmt: skip
    env.filters["drawing"] = Markup
    return env


_FRACTION = re.compile(
    r"<(svg|textarea|select|title|script)\b.*?</\1>|<[^>]*>|(\d+-\d+/\d+(?:&#34;|&quot;|\")?)", re.S | re.ASCII
)


def unbroken(text: str) -> str:
    """Return a page with its fractions, ``6-19/32"``, kept on one line: half a length is another length."""
    return _FRACTION.sub(lambda m: f'<span class="nb">{m[2]}</span>' if m[2] else m[0], text)


def page(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """Return a page from its template."""
    text = templates().get_template(template).render(request=request, **context)
    return HTMLResponse(unbroken(text), status)
