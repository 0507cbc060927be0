"""Which set-outs there are: light enough for ``--help``; the modules behind are loaded where used."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

from lagline.records.errors import refuse

if TYPE_CHECKING:
    from lagline.setouts.ask import Ask


@dataclass(frozen=True, slots=True)
class Family:
    """A family of set-outs, and the modules whose ``ASKS`` it holds."""

    name: str
    meaning: str
    modules: tuple[str, ...]


FAMILIES: dict[str, Family] = {
    f.name: f
    for f in (
        Family(
            "guide",
            "Straightedge, circle arm, template and beat: distances to set, strips and templates to print.",
            ("guide", "guide_blocks", "guide_arm", "guide_template", "beat"),
        ),
        Family("hole", "Holes: cut, drill, or cut under and ream; bolt circles by dividers.", ("hole",)),
        Family(
            "bevel", "Bevelled edges and weld joints: tilt, guide, mark-out, areas, weld metal.", ("bevel", "joint")
        ),
        Family("gouge", "Gouging: passes, angles, ramps, depth gauge and what to fill.", ("gouge",)),
        Family(
            "pipe",
            "Pipe and tube: wraps for square ends, mitres, turns, branches, plates and box section; the header's hole.",
            ("pipe_plane", "pipe_turn", "pipe_saddle", "pipe_header", "pipe_box"),
        ),
        Family("grating", "Grating and expanded metal: starts along a line and where to shift it.", ("grating",)),
        Family(
            "beam",
            "Beams, channel and angle: copes, blocks, access holes, notches, mitres, nicks in an edge.",
            ("beam_cope", "beam_block", "beam_hole", "beam_notch", "beam_mitre", "beam_fair"),
        ),
        Family(
            "bench",
            "What the bench carries: tank and air at the torch, water, supply and cord, the set's rests.",
            ("bench_air", "bench_supply", "bench_set"),
        ),
    )
}


def asks(family: str) -> tuple[Ask, ...]:
    """Return the set-outs of a family; KeyError when there is no such family."""
    found: list[Ask] = []
    for module in FAMILIES[family].modules:
        found.extend(import_module(f"lagline.setouts.{module}").ASKS)
    return tuple(found)


def ask_of(family: str, name: str) -> Ask:
    """Return one set-out. Errors: LaglineError when there is none of that name."""
    from lagline.shapes.named_values import nearest

    if family not in FAMILIES:
        raise refuse("setout-unknown", "set-out", f"there is no {family[:40]} set-out", nearest(family, FAMILIES))
    here = {a.name: a for a in asks(family)}
    if name not in here:
        raise refuse("setout-unknown", "set-out", f"there is no {family} {name[:40]}", nearest(name, here))
    return here[name]
