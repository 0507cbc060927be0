"""Typst from Python: own fonts only, no warning let through, the same bytes each time."""

from __future__ import annotations

import json
from pathlib import Path

HERE = Path(__file__).parent
PAGE_MM = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}


def to_pdf(template: str, data: dict[str, object]) -> bytes:
    """Return the template of that file name, filled with data, as PDF.

    Raises
    ------
    RuntimeError
        when the typesetter warns: a missing font or letter would be a card that reads wrongly.
    """
    import typst  # 80 MB of typesetter: only when something is printed

    pdf, warnings = typst.compile_with_warnings(
        str(HERE / template),
        root=str(HERE),
        font_paths=[str(HERE / "fonts")],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"data": json.dumps(data, allow_nan=False)},
        timestamp=0,
        pdf_tags=False,
    )
    if warnings:
        raise RuntimeError(f"{template}: " + "; ".join(str(getattr(w, "message", w)) for w in warnings))
    assert isinstance(pdf, bytes)
    return pdf


def page(paper: str) -> tuple[float, float]:
    """Return the page's width and height [mm] for ``letter`` or ``a4``."""
    if paper not in PAGE_MM:
        raise ValueError(f"paper must be letter or a4, got {paper!r}")
    return PAGE_MM[paper]
