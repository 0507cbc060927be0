"""Rectangular tube: a mitre, and an end coped over a round or rectangular header."""

from __future__ import annotations

import itertools
import math

import numpy as np

from lagline.records.finding import Finding, Severity
from lagline.records.setout import Column, Number, SetOut, exact
from lagline.setouts.ask import Ask, Faults, Field, Given, angle, choice, count, length, maybe_length, shown_given
from lagline.setouts.pipe_cut import DENSE, Case, Cut, numbers, tables, work
from lagline.setouts.pipe_fields import FIXED, MOST_MM, PAPER, RADIAL, TRIM, WALL, angle_faults
from lagline.setouts.pipe_picture import plane_picture, saddle_picture
from lagline.setouts.pipe_plane import HEEL, MOST_TURN_DEG
from lagline.setouts.pipe_saddle import CROTCH, quarters
from lagline.setouts.pipe_sheet import wrap_sheet, wrap_words
from lagline.setouts.pipe_steps import wrap_steps
from lagline.shapes.pipe_joint import BoxHeader, Header, Joint, Plane, RoundHeader, Saddle, Torch
from lagline.shapes.pipe_ring import Floats, box_places, box_ring
from lagline.trade import pipe
from lagline.trade.pipe_saddle import DERIVED, LEAST_ANGLE_DEG, corner_radius
from lagline.trade.register import out_of_range

FACE = Column("face", "face")
_NAMES = ("top", "corner", "right", "corner", "bottom", "corner", "left", "corner", "top")
_CORNER = Finding(
    "corner-guessed", Severity.NOTE, "corner radius",
    "no corner radius given: twice the wall is taken; 1 to 3 walls are met",
    "measure yours with a radius gauge or a coin",
)  # fmt: skip


def _corner(given: Given) -> float:
    typed, wall = given.get("corner_radius"), given.get("wall")
    if typed is not None:
        return typed
    return min(corner_radius(wall), given["width"] / 2, given["height"] / 2) if wall is not None else 0.0


def _tube_faults(faults: Faults, given: Given) -> None:
    least, show = min(given["width"], given["height"]) / 2, given.show
    wall, corner = given.get("wall"), given.get("corner_radius")
    faults.unless(
        wall is None or wall < least - 0.1, "wall",
        f"a wall of {show(wall or 0.0)} leaves no bore in a tube of {show(given['width'])} by {show(given['height'])}",
        f"under {show(least)}",
    )  # fmt: skip
    faults.unless(
        corner is None or corner <= least, "corner_radius",
        f"a corner radius of {show(corner or 0.0)} does not fit a tube of {show(given['width'])} by "
        f"{show(given['height'])}",
        f"0 to {show(least)}",
    )  # fmt: skip


def stations(width: float, height: float, corner: float, parts: int) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """Return where the marks stand round a tube [mm], and on which face: ``parts`` spaces a face, two a corner."""
    ends = box_places(width, height, corner)
    found: dict[float, str] = {}
    for order in (0, 1):  # flats first: a corner's ends belong to them
        for i, (a, b) in enumerate(itertools.pairwise(ends)):
            if i % 2 != order or b - a < 1e-9:
                continue
            steps = 2 if order else parts if 0 < i < 8 else parts // 2
            for k in range(steps + 1):
                at = round(a + (b - a) * k / steps, 9)
                if all(abs(at - x) > 1e-6 for x in found) and at < ends[-1] - 1e-6:
                    found[at] = _NAMES[i]
    places = sorted(found)
    return tuple(places), tuple(found[p] for p in places)


def _case(given: Given, where: str, joint: Joint, lie: str, formula: str, source: str, *, twin: bool) -> Case:
    w, h, corner, wall = given["width"], given["height"], _corner(given), given.get("wall")
    places, names = stations(w, h, corner, given.count("parts"))
    ends = box_places(w, h, corner)
    dense: Floats = np.unique(np.round(np.concatenate((np.linspace(0.0, ends[-1], DENSE + 1), places)), 9))
    torch: Torch = "fixed" if given.word("torch") == "fixed" else "radial"
    return Case(
        where, box_ring(w, h, corner, wall, np.asarray(places)), box_ring(w, h, corner, wall, dense), FACE, names,
        joint, torch, lie, 0.0 if twin else None, formula, source,  # type: ignore[arg-type]
        lambda along: box_ring(w, h, corner, wall, along), twin,
    )  # fmt: skip


def _steps(cut: Cut, given: Given, top: str) -> tuple[str, ...]:
    words = (
        s.replace("pipe", "tube").replace(", pointed at the tube's middle", "") for s in wrap_steps(cut, given, top)
    )
    steps = [s.replace("point it at the tube's middle all the way, square to the wall; only the tube turns",
                       "square to each face, and to the corner as it goes round") for s in words]  # fmt: skip
    steps.insert(
        4, "Straight stretches are cut along a straightedge (guide straight gives its distance); corners freehand."
    )
    return tuple(steps)


def _folds(given: Given) -> tuple[float, ...]:
    return tuple(sorted(set(box_places(given["width"], given["height"], _corner(given))[1:9])))


def _found(cut: Cut, given: Given) -> tuple[Finding, ...]:
    guessed = given.get("corner_radius") is None and given.get("wall") is not None
    return (*cut.findings, *((_CORNER,) if guessed else ()))


def _label(cut: Cut, given: Given, title: str) -> tuple[str, ...]:
    return (
        title,
        f"{wrap_words(cut, given)}: outside and paper",
        "mark 1 on the middle of the top face, print outwards",
    )


def box_mitre(given: Given) -> SetOut:
    """Return the end of each of two rectangular tubes that turn at a mitre."""
    turn, show = given["angle"], given.show
    faults = Faults("pipe box-mitre")
    angle_faults(faults, turn, 1.0, "each tube is cut at half the turn, and over 60 deg the heel is a knife edge",
                 MOST_TURN_DEG)  # fmt: skip
    _tube_faults(faults, given)
    faults.raise_if_any()
    plane = Plane(math.radians(turn / 2))
    case = _case(given, "pipe box-mitre", plane, "touch", "pipe.plane-ordinate", pipe.STEELWORKER, twin=True)
    cut = work(case, given)
    title = f"Box mitre: {show(given['width'])} by {show(given['height'])} tube turning {turn:g} deg"
    more = (
        Number("mitre_deg", "each cut, off square", exact(turn / 2, "deg", "pipe.turn-mitre", pipe.STEELWORKER)),
        Number("mitre_cutback_mm", "height times the tangent of half the turn",
               exact(pipe.mitre_cutback(given["height"], turn), "mm", "pipe.mitre-cutback", pipe.STEELWORKER)),
    )  # fmt: skip
    found = (*_found(cut, given), *out_of_range("pipe.plane-ordinate", "pipe box-mitre", tilt_deg=turn / 2))
    top = "mark 1 is the middle of the heel face, the outside of the turn; cut two alike"
    return SetOut(
        "pipe box-mitre", title, shown_given(MITRE, given), (*numbers(cut, given), *more), tables(cut),
        _steps(cut, given, top),
        plane_picture(title, given["height"] / 2, plane.tilt, cut, given, "pipe", f"{turn:g}° turn"),
        (wrap_sheet(cut, given, "Wrap: box mitre", _label(cut, given, title), HEEL, _folds(given)),), found,
    )  # fmt: skip


def _header(given: Given, faults: Faults) -> Header:
    over = given.word("over")
    name = "header_diameter" if over == "round" else "header_width"
    size = given.get(name)
    if size is None:
        faults.add(name, f"the {name.replace('_', ' ')} is needed over a {over} header", "its outside, such as 4",
                   "setout-missing")  # fmt: skip
        return RoundHeader(1.0)
    if over == "round":
        return RoundHeader(size / 2)
    depth = given.get("header_depth") or size
    corner = given.get("header_corner") or 0.0
    faults.unless(
        corner <= min(size, depth) / 2, "header_corner",
        f"corners of {given.show(corner)} do not fit a header of {given.show(size)} by {given.show(depth)}",
        f"0 to {given.show(min(size, depth) / 2)}",
    )  # fmt: skip
    return BoxHeader(size, depth, corner)


def box_notch(given: Given) -> SetOut:
    """Return the end of a rectangular tube coped over a header."""
    lean, offset, show, w = given["angle"], given["offset"], given.show, given["width"]
    faults = Faults("pipe box-notch")
    angle_faults(faults, lean, LEAST_ANGLE_DEG, CROTCH)
    _tube_faults(faults, given)
    header = _header(given, faults)
    faults.raise_if_any()
    half = header.half_width
    if abs(offset) >= half + w / 2:
        faults.add("offset", f"offset by {show(abs(offset))} the tube misses the header",
                   f"0 to {show(max(half - w / 2, 0.0))} to either side")  # fmt: skip
    elif abs(offset) + w / 2 > half + 1e-9:
        faults.add("width", f"a tube {show(w)} wide, offset {show(abs(offset))}, runs past the header's side and meets "
                   "nothing there", f"a tube up to {show(2 * max(half - abs(offset), 0.0))} wide, or an offset of "
                   f"{show(max(half - w / 2, 0.0))} at most, or turn the tube the other way")  # fmt: skip
    faults.raise_if_any()
    joint = Saddle(header, math.radians(lean), offset)
    cut = work(_case(given, "pipe box-notch", joint, "inside", "pipe.saddle", DERIVED, twin=False), given)
    round_header = isinstance(header, RoundHeader)
    deep = header.radius if isinstance(header, RoundHeader) else (given.get("header_depth") or 2 * half) / 2
    title = f"Box notch: {show(w)} by {show(given['height'])} tube over a {show(2 * half)} {given.word('over')} header"
    title += f", {lean:g} deg"
    more = (
        Number("header_to_base_mm", "header's axis to base line, along the tube",
               exact(-cut.base, "mm", "pipe.saddle", DERIVED)),
    )  # fmt: skip
    found = (*_found(cut, given), *out_of_range("pipe.saddle", "pipe box-notch", angle_deg=lean))
    side = "in the crotch" if lean > 90 else "on the open side of the lean (either, when it stands square)"
    top = f"mark 1 is the middle of the face {side}"
    return SetOut(
        "pipe box-notch", title, shown_given(NOTCH, given), (*numbers(cut, given), *more), tables(cut),
        _steps(cut, given, top),
        saddle_picture(title, cut, given, math.radians(lean), offset, (half, deep), round_header=round_header),
        (wrap_sheet(cut, given, "Wrap: box notch", _label(cut, given, title), quarters(lean), _folds(given)),), found,
    )  # fmt: skip


def _tube(width: str, height: str, torch: Field) -> tuple[Field, ...]:
    return (
        length("width", width, least=6, most=MOST_MM),
        length("height", height, least=6, most=MOST_MM),
        maybe_length("corner_radius", "outside corner radius; empty: twice the wall, sharp without a wall", most=500),
        WALL, count("parts", "spaces each face is divided into; an even number is best", 4, least=2, most=16),
        torch, TRIM, PAPER,
    )  # fmt: skip


MITRE = Ask(
    "pipe", "box-mitre", "Rectangular tube mitred: wrap for both ends, each cut at half the turn.",
    (angle("angle", "how far the run turns", 90.0),
     *_tube("width of the tube, across the turn", "height of the tube, in the plane of the turn", FIXED)),
    box_mitre, thickness="wall",
    example=(("width", "2"), ("height", "3"), ("angle", "90"), ("wall", "3/16")),
)  # fmt: skip
NOTCH = Ask(
    "pipe", "box-notch", "Rectangular tube coped over a round or rectangular header: wrap for its end.",
    (
        choice("over", "what it is coped over", "round", "box"),
        maybe_length("header_diameter", "outside diameter of a round header", least=10, most=MOST_MM),
        maybe_length("header_width", "width of a rectangular header, across it", least=10, most=MOST_MM),
        maybe_length("header_depth", "depth of a rectangular header; empty: as its width", least=10, most=MOST_MM),
        maybe_length("header_corner", "outside corner radius of a rectangular header", 0.0, most=500),
        angle("angle", "angle between the axes", 90.0),
        maybe_length("offset", "tube's axis beside the header's; + to the right of mark 1", 0.0, least=-MOST_MM,
                     most=MOST_MM),
        *_tube("width of the tube, across the header", "height of the tube, along the header", RADIAL),
    ),
    box_notch, thickness="wall",
    example=(("width", "2"), ("height", "3"), ("over", "round"), ("header_diameter", "4-1/2"), ("wall", "3/16")),
)  # fmt: skip

ASKS = (MITRE, NOTCH)
