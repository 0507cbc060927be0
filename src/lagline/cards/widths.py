"""How wide a text is in the shipped faces, so that its size is known before it is set."""

from __future__ import annotations

# advance widths in em, rounded up to a fiftieth
_BOLD = (
    (0.32, "'"), (0.36, " ijl"), (0.38, ",./IJ\\|·"), (0.40, ":;"), (0.42, "-"), (0.44, "f"), (0.46, "!()[]"),
    (0.48, "t"), (0.50, "_`r°–"), (0.54, '"*'), (0.60, "?csz"), (0.64, "L"), (0.66, "vxy"), (0.68, "aek"),
    (0.70, "$0123456789EFTo"), (0.72, "bdghnpqu{}"), (0.74, "CPSYZ"), (0.78, "ABKRVX"), (0.82, "U"),
    (0.84, "#+<=>DGHN^~±×"), (0.86, "OQ"), (0.88, "&"), (0.94, "w"), (1.00, "@M—"), (1.02, "%"), (1.06, "m½¼"),
)  # fmt: skip
_PLAIN = (
    (0.28, "'ijl"), (0.30, "IJ"), (0.32, " ,.·"), (0.34, "/:;\\|"), (0.36, "f"), (0.38, "-"), (0.40, "()[]t"),
    (0.42, "!r"), (0.46, '"'), (0.50, "*_`°–"), (0.54, "?sz"), (0.56, "Lc"), (0.58, "Fk"), (0.60, "vxy"),
    (0.62, "PTYaeo"), (0.64, "$0123456789ESbdghnpqu{}"), (0.66, "K"), (0.70, "ABCRVXZ"), (0.74, "U"), (0.76, "HN"),
    (0.78, "&DG"), (0.80, "OQ"), (0.82, "w"), (0.84, "#+<=>^~±×"), (0.88, "M"), (0.96, "%"), (0.98, "m½¼"),
)  # fmt: skip
_EM = {bold: {c: w for w, cs in rows for c in cs} for bold, rows in ((True, _BOLD), (False, _PLAIN))}
_OTHER = 1.12  # the widest letter of the faces, for any not listed


def text_width(text: str, size: float, *, bold: bool = True) -> float:
    """Return the width the text may take at that size, never less than it does in the shipped face."""
    em = _EM[bold]
    return size * sum(em.get(c, _OTHER) for c in text)


def fitted(text: str, width: float, size: float, least: float, *, bold: bool = True) -> float:
    """Return the size at which the text fits in a width, ``size`` at most, never under ``least``."""
    w = text_width(text, size, bold=bold)
    return size if w <= width else max(least, size * width / w)


def line_count(text: str, width: float, size: float, *, bold: bool = False) -> int:
    """Return how many lines the text takes when broken at spaces to a width."""
    lines, used, space = 1, 0.0, text_width(" ", size, bold=bold)
    for word in text.split(" "):
        w = text_width(word, size, bold=bold)
        if used and used + space + w > width:
            lines, used = lines + 1, w
        else:
            used += (space if used else 0.0) + w
    return lines
