"""Square blanks for tests of stages that only look at stock and edges."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure
from lagline.records.geometry import Line, Loop, Outline
from lagline.records.job import Edge, EdgeUse, Part, Stock
from lagline.records.plan import Blank


def square_blank(metal: str, thickness_mm: float, bevel_deg: float = 0.0, coating: str = "bare") -> Blank:
    """A 100 mm square of the stock, with one edge bevelled when asked."""
    corners = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
    names = ("bottom", "right", "top", "left")
    sides = tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    outline = Outline(Loop(sides, names))
    stock = Stock(metal, "", thickness_mm, f"{thickness_mm:g} mm", coating)
    edges = tuple(Edge(n, EdgeUse.FREE, bevel_deg if n == "bottom" else 0.0) for n in names)
    part = Part("square", outline, 1, stock, edges)
    mass = Figure(1.0, 1.0, 1.0, "kg", "mass.of-area", Basis.STANDARD, "density table")
    return Blank(part, outline, outline, (), outline.area, mass)
