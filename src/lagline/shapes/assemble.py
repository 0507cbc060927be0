"""Drawn pieces to outlines: cleaned, joined, run together, checked and nested, with everything mended said.

Glossary
--------
piece   : one line, arc or curve as drawn
chain   : pieces drawn as one, end to end
knot    : a place where ends meet
outline : one outer loop and its holes; what is inside a hole is an outline of its own
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.geometry import Outline, Segment
from lagline.shapes.clean import Chain, few, without_specks
from lagline.shapes.join import join
from lagline.shapes.merge import merge
from lagline.shapes.nest import nest

JOIN_MM = 0.05


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a drawing holds: outlines [mm] largest first, what was noticed, and what was found in it and how often.

    ``unit`` is the drawing's own unit as read, said or assumed.
    """

    outlines: tuple[Outline, ...]
    findings: tuple[Finding, ...]
    found: tuple[tuple[str, int], ...] = ()
    unit: str = "mm"


def assemble(
    pieces: Iterable[Segment | Sequence[Segment]],
    where: str = "drawing",
    join_mm: float = JOIN_MM,
    before: Iterable[Finding] = (),
    found: Iterable[tuple[str, int]] = (),
    unit: str = "mm",
) -> Drawing:
    """Return the outlines that pieces in any order and direction close to.

    Parameters
    ----------
    pieces : segments, or chains of segments already end to end
    where : file name, for the findings
    join_mm : ends closer than this [mm] are brought together
    before, found, unit : findings, counts and unit of the reader, passed on

    Lines in line, arcs on one circle and short pieces of one curve become one edge. Outer edges are named ``e1`` and
    on, counter-clockwise from the lowest left corner; holes ``h1`` (one edge) or ``h1.1`` and on, from bottom left.
    Nothing is raised: what cannot be used is left out and said, and no outline at all is a refused finding.
    """
    chains: list[Chain] = [tuple(p) if isinstance(p, Sequence) else (p,) for p in pieces]
    findings = list(before)
    chains, said = without_specks(chains, where)
    findings += said
    closed, said = join(chains, join_mm, where)
    findings += said
    merged: list[Chain] = []
    words: Counter[str] = Counter()
    for chain in closed:
        whole, told = merge(chain)
        merged.append(whole)
        words.update(told)
    for word, n in sorted(words.items()):
        message = f"{word}, in {n} outline{'s' * (n > 1)} or hole{'s' * (n > 1)}"
        findings.append(Finding("edges-joined", Severity.MENDED, where, message))
    outlines, said = nest(merged, where)
    findings += said
    if not outlines:
        message = f"no closed outline in {len(chains)} piece{'s' * (len(chains) != 1)} drawn"
        findings.append(Finding("no-outline", Severity.REFUSED, where, message, "closed lines that do not cross"))
    return Drawing(outlines, sort_findings(few(findings)), tuple(found), unit)
