"""What the set-outs of pipe and tube ask for alike, and what they refuse alike."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity
from lagline.setouts.ask import Faults, Given, choice, length, maybe_length

MOST_MM = 5000.0
MARKS = choice("marks", "marks round the pipe", "16", "8", "12", "24", "32")
WALL = maybe_length("wall", "wall thickness; empty: the diameter given is the one that meets", least=0.3, most=100)
PAPER = maybe_length("paper_thickness", "thickness of the paper or template that is wrapped", 0.1, most=5)
TRIM = maybe_length("trim", "waste left past the longest point, to start the cut in", 20.0, most=1000)
RADIAL = choice("torch", "torch square to the pipe (radial), or in the joint's own face (fixed)", "radial", "fixed")
FIXED = choice("torch", "torch in the plane of the cut (fixed), or square to the pipe (radial)", "fixed", "radial")
DIAMETER = length("diameter", "outside diameter of the pipe", least=6, most=MOST_MM)

HOLLOW = Finding(
    "pipe-closed",
    Severity.CAUTION,
    "pipe",
    "sparks and slag run down the bore and out of the far end; a pipe that held something, or is closed, can burst",
    "clean it, open both ends, vent every closed space before heating, nobody and nothing that burns at the far end "
    "(29 CFR 1910.252(a)(3), from memory; your site's hot-work permit comes first)",
)


def bore_faults(faults: Faults, given: Given, wall: str, radius_mm: float, what: str) -> None:
    """Note a wall that leaves no bore."""
    t = given.get(wall)
    faults.unless(
        t is None or t < radius_mm - 0.1,
        wall,
        f"a wall of {given.show(t or 0.0)} leaves no bore in {what}, whose radius is {given.show(radius_mm)}",
        f"under {given.show(radius_mm - 0.1)}; is the diameter given a radius, or the wall a schedule number?",
    )


def angle_faults(faults: Faults, angle_deg: float, least_deg: float, why: str, most_deg: float = 180.0) -> None:
    """Note an angle too sharp on either side."""
    faults.unless(
        least_deg <= angle_deg <= most_deg - least_deg if most_deg == 180.0 else least_deg <= angle_deg <= most_deg,
        "angle",
        f"{angle_deg:g} deg is outside what can be cut and welded: {why}",
        f"{least_deg:g} to {most_deg - least_deg if most_deg == 180.0 else most_deg:g} deg",
    )
