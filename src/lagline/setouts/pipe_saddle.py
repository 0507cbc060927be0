"""Branches on a round header: set on or in, square or leaning, in the middle or offset."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from lagline.records.setout import Column, Number, SetOut, exact
from lagline.setouts.ask import Ask, Faults, Given, angle, choice, length, maybe_length, shown_given
from lagline.setouts.pipe_cut import DENSE, Case, Cut, numbers, tables, work
from lagline.setouts.pipe_fields import MARKS, MOST_MM, PAPER, RADIAL, TRIM, WALL, angle_faults, bore_faults
from lagline.setouts.pipe_picture import saddle_picture
from lagline.setouts.pipe_sheet import wrap_sheet, wrap_words
from lagline.setouts.pipe_steps import wrap_steps
from lagline.shapes.pipe_joint import RoundHeader, Saddle, Torch
from lagline.shapes.pipe_ring import Floats, Ring, round_ring
from lagline.trade.pipe_saddle import DERIVED, LEAST_ANGLE_DEG
from lagline.trade.register import out_of_range

QUARTERS = ("top", "side", "bottom", "side")


def quarters(lean_deg: float) -> tuple[str, ...]:
    """Return the names of the quarter lines: beyond a right angle the first lies underneath."""
    return QUARTERS if lean_deg <= 90 else (*QUARTERS[2:], *QUARTERS[:2])


DEGREES = Column("angle_deg", "round the pipe", "deg")
CROTCH = "under 15 deg neither torch nor electrode reaches into the crotch"


def angles(marks: int) -> tuple[float, ...]:
    """Return where the marks are, from the top line [deg]."""
    return tuple(360.0 * k / marks for k in range(marks))


def near(radius_mm: float, wall_mm: float | None) -> Callable[[Floats], Ring]:
    """Return what makes the places so far round a pipe [mm]."""
    return lambda along: round_ring(radius_mm, wall_mm, along / radius_mm)


def rings(radius_mm: float, wall_mm: float | None, marks: int) -> tuple[Ring, Ring]:
    """Return a pipe's marks and the dense places between them, closed."""
    at = np.radians(np.asarray(angles(marks)))
    return round_ring(radius_mm, wall_mm, at), round_ring(radius_mm, wall_mm, np.linspace(0, 2 * math.pi, DENSE + 1))


def fit_faults(faults: Faults, given: Given, header: float, branch: float, offset: float) -> None:
    """Note a branch that is too big for its header or misses it; ``header`` and ``branch`` are radii [mm]."""
    show = given.show
    if branch > header + 1e-9:
        faults.add(
            "branch_diameter",
            f"a branch of {show(2 * branch)} is larger than what it sits on, {show(2 * header)}",
            f"a branch up to {show(2 * header)} on this header, or set the smaller pipe on the larger",
        )
    elif abs(offset) >= header + branch:
        faults.add(
            "offset",
            f"offset by {show(abs(offset))} the branch misses the header: the radii together are "
            f"{show(header + branch)}",
            f"0 to {show(header - branch)} to either side",
        )
    elif abs(offset) + branch > header + 1e-9:
        faults.add(
            "offset",
            f"offset by {show(abs(offset))} part of the branch runs past the header's side and meets nothing",
            f"0 to {show(header - branch)} to either side, or a branch up to {show(2 * max(header - abs(offset), 0))}",
        )


def _case(given: Given, where: str) -> tuple[Case, float]:
    header, branch = given["header_diameter"] / 2, given["branch_diameter"] / 2
    wall, offset, lean = given.get("wall"), given["offset"], given["angle"]
    contact = given.word("contact")
    faults = Faults(where)
    angle_faults(faults, lean, LEAST_ANGLE_DEG, CROTCH)
    bore_faults(faults, given, "wall", branch, "the branch")
    bore_faults(faults, given, "header_wall", header, "the header")
    faults.unless(
        contact == "set-in" or given.get("header_wall") is None,
        "header_wall",
        "a branch set on the header does not go into its wall",
        "contact set-in, or leave the header's wall out",
    )
    faults.raise_if_any()
    if contact == "set-in":
        header -= given.get("header_wall") or 0.0
    fit_faults(faults, given, header, branch, offset)
    faults.raise_if_any()
    count = int(given.word("marks"))
    marks, dense = rings(branch, wall, count)
    torch: Torch = "fixed" if given.word("torch") == "fixed" else "radial"
    joint = Saddle(RoundHeader(header), math.radians(lean), offset)
    lie = "inside" if contact == "set-on" else "outside"
    case = Case(
        where, marks, dense, DEGREES, angles(count), joint, torch, lie, None, "pipe.saddle", DERIVED,  # type: ignore[arg-type]
        near(branch, wall),
    )  # fmt: skip
    return case, header


def _own_numbers(cut: Cut, given: Given, header: float) -> tuple[Number, ...]:
    branch, wall = given["branch_diameter"] / 2, given.get("wall") or 0.0
    meets = branch - wall if given.word("contact") == "set-on" and cut.case.torch == "radial" else branch
    up = -cut.base
    surface = given["header_diameter"] / 2 / math.sin(math.radians(given["angle"]))
    return (
        Number("header_to_base_mm", "header's axis to base line, along the branch",
               exact(up, "mm", "pipe.saddle", DERIVED)),
        Number("surface_to_base_mm", "header's outside to base line, along the branch's axis (minus: below it)",
               exact(up - surface, "mm", "pipe.saddle", DERIVED)),
        Number("meeting_radius_mm", "radius of the branch that is laid on the header",
               exact(meets, "mm", "pipe.saddle", DERIVED)),
        Number("header_radius_mm", "radius of the header that is met", exact(header, "mm", "pipe.saddle", DERIVED)),
    )  # fmt: skip


def _made(given: Given, ask: Ask) -> SetOut:
    case, header = _case(given, ask.kind)
    cut = work(case, given)
    lean, offset, show = given["angle"], given["offset"], given.show
    contact = given.word("contact").replace("-", " ")
    sizes = f"{show(given['branch_diameter'])} branch {contact} a {show(given['header_diameter'])} header"
    how = f"{lean:g} deg" + (f", offset {show(offset)}" if offset else "")
    title = f"{ask.name.capitalize()}: {sizes}, {how}"
    if lean == 90:
        top = "it points along the header, either way"
    elif lean < 90:
        top = f"it is on the open side of the lean, mark {cut.quarter(2)} is in the crotch"
    else:
        top = f"mark 1 is in the crotch, mark {cut.quarter(2)} on the open side of the lean"
    if offset:
        top += f"; mark {cut.quarter(1 if offset > 0 else 3)} is the side that hangs over"
    label = (
        title,
        f"{wrap_words(cut, given)}: branch outside and paper",
        "wrap print outwards, mark 1 on the top line",
    )
    findings = (*cut.findings, *out_of_range("pipe.saddle", ask.kind, angle_deg=lean))
    deep = given["header_diameter"] / 2
    return SetOut(
        ask.kind, title, shown_given(ask, given), (*numbers(cut, given), *_own_numbers(cut, given, header)),
        tables(cut), wrap_steps(cut, given, top),
        saddle_picture(title, cut, given, math.radians(lean), offset, (deep, deep), round_header=True),
        (wrap_sheet(cut, given, "Wrap for the branch", label, quarters(lean)),), findings,
    )  # fmt: skip


def saddle(given: Given) -> SetOut:
    """Return the end of a branch on a header."""
    return _made(given, SADDLE)


def lateral(given: Given) -> SetOut:
    """Return the end of a branch that leans along its header."""
    return _made(given, LATERAL)


_FIELDS = (
    length("header_diameter", "outside diameter of the header", least=10, most=MOST_MM),
    length("branch_diameter", "outside diameter of the branch; without a wall, the one that meets the header", least=6,
           most=MOST_MM),
    angle("angle", "angle between the axes of branch and header", 90.0),
    maybe_length("offset", "branch axis beside the header's; + towards the quarter mark right of mark 1", 0.0,
                 least=-MOST_MM, most=MOST_MM),
    choice("contact", "branch set on the header's outside, or set in through a hole", "set-on", "set-in"),
    WALL,
    maybe_length("header_wall", "set in: header's wall, to end flush with its bore; empty: the line of its outside",
                 least=0.3, most=100),
    MARKS, RADIAL, TRIM, PAPER,
)  # fmt: skip

SADDLE = Ask(
    "pipe", "saddle", "Branch on a round header: wrap for its end, set on or in, any angle, centred or offset.",
    _FIELDS, saddle, thickness="wall",
    example=(("header_diameter", "8-5/8"), ("branch_diameter", "4-1/2"), ("wall", "0.237"), ("angle", "90"),
             ("marks", "16")),
)  # fmt: skip
LATERAL = Ask(
    "pipe", "lateral", "Branch that leans along its header: the same wrap, the angle asked for.",
    tuple(angle("angle", "angle between the axes of branch and header") if f.name == "angle" else f for f in _FIELDS),
    lateral, thickness="wall",
    example=(("header_diameter", "8-5/8"), ("branch_diameter", "4-1/2"), ("wall", "0.237"), ("angle", "45")),
)  # fmt: skip

ASKS = (SADDLE, LATERAL)
