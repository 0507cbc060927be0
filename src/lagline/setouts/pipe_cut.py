"""One end of a pipe worked out: the line at the marks and between, the base line, true thickness, and pace."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.kit import Kit
from lagline.records.plan import Setting
from lagline.records.setout import Column, Number, Table, exact
from lagline.setouts.ask import Given
from lagline.setouts.pipe_fields import HOLLOW
from lagline.shapes.pipe_joint import EndLine, Joint, Lie, Torch, end_line, line_length
from lagline.shapes.pipe_ring import Floats, Ring
from lagline.trade import pipe
from lagline.trade.register import out_of_range

DENSE = 768  # steps round the pipe: every choice of marks falls on them
FLATTEST_DEG = 50.0  # beyond that no torch can be held to a pipe; common practice, no source
FOUL_MM = 0.8  # what a file or a flap disc takes off while fitting; common practice, no source


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """An end to be cut: the pipe's marks and the dense places between, what it meets and how the torch is held.

    ``second`` is the table's column that says where a mark is: degrees or a face. ``datum`` is the reach of the base
    line, None for the highest point of the line. ``near`` makes the places that far round [mm]. ``twin``: the other
    piece is cut alike, as in a mitre.
    """

    where: str
    marks: Ring
    dense: Ring
    second: Column
    places: tuple[float | str, ...]
    joint: Joint
    torch: Torch
    lie: Lie
    datum: float | None
    formula: str
    source: str
    near: Callable[[Floats], Ring]
    twin: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A case worked out. Lengths from the base line, + towards the joint end [mm]; ``low`` and ``top`` are those of the
    shortest and the longest point of the line; ``paces`` [mm/s] by mark."""

    case: Case
    at: EndLine
    line: EndLine
    base: float
    ordinates: Floats
    curve: Floats
    low: float
    top: float
    trim: float
    wrap: float
    setting: Setting | None
    lightest: Setting | None
    kit: Kit | None
    paces: tuple[float, ...]
    findings: tuple[Finding, ...]

    @property
    def cutback(self) -> float:
        """From the longest point to the shortest."""
        return self.top - self.low

    @property
    def end(self) -> float:
        """Ordinate of the pipe's square end before the cut."""
        return self.top + self.trim

    @property
    def stretch(self) -> float:
        """Length on the wrap for one on the pipe."""
        return self.wrap / self.case.marks.perimeter

    def quarter(self, k: int) -> int:
        """Number of the mark on the k-th quarter line."""
        return int(np.argmin(np.abs(self.case.marks.along - k * self.case.marks.perimeter / 4))) + 1

    @property
    def longest(self) -> int:
        """Index of the mark whose ordinate is greatest."""
        return int(np.argmax(np.round(self.ordinates, 6)))


def work(case: Case, given: Given) -> Cut:
    """Return an end worked out, with everything there is to say about torch and fit."""
    at = end_line(case.marks, case.joint, case.torch, case.lie)
    line = end_line(case.dense, case.joint, case.torch, case.lie)
    low, high = _extreme(case, line, -1), _extreme(case, line, 1)
    base = low if case.datum is None else case.datum
    wrap = case.marks.perimeter + pipe.wrap_length(0.0, given["paper_thickness"])
    findings = [HOLLOW, *_fit_findings(case, line, given)]
    setting, lightest, paces, found = _paces(case, at, line, given)
    findings += found
    return Cut(
        case, at, line, base, at.reach - base, line.reach - base, low - base, high - base,
        given["trim"], wrap, setting, lightest,
        given.bench.kit if given.bench is not None else None, paces, tuple(findings),
    )  # fmt: skip


def _extreme(case: Case, line: EndLine, sign: int) -> float:
    """Return the greatest (sign 1) or least reach of a line: the dense places, then twice finer about the best."""
    along, reach = case.dense.along, line.reach
    for _ in range(2):
        i = int(np.argmax(sign * reach))
        last = len(along) - 1
        about = {0, last} if i in (0, last) else {i}  # first and last are one place
        finer = [np.linspace(along[max(k - 1, 0)], along[min(k + 1, last)], 65) for k in sorted(about)]
        along = np.unique(np.concatenate((*finer, [along[i]])))
        reach = end_line(case.near(along), case.joint, case.torch, case.lie).reach
    return float(reach.max() if sign > 0 else reach.min())


def _fit_findings(case: Case, line: EndLine, given: Given) -> list[Finding]:
    found: list[Finding] = []
    t = case.marks.wall
    steepest = float(np.abs(line.bevel_deg).max())
    if t is not None:
        found += out_of_range("pipe.fixed-thickness", case.where, wall_mm=t)
    if case.torch == "fixed" and t is not None and steepest > FLATTEST_DEG:
        thick = float(line.thickness.max())
        found.append(
            Finding(
                "torch-too-flat", Severity.NO_GO, case.where,
                f"held in the joint's face the torch would lean {steepest:.0f} deg off square, through "
                f"{given.show(thick)} of metal",
                f"torch radial and grind to fit, or a joint that leans {FLATTEST_DEG:g} deg at most",
            )
        )  # fmt: skip
    foul = -float(line.gap_outside.min())
    if foul > FOUL_MM:
        found.append(
            Finding(
                "outside-fouls", Severity.CAUTION, case.where,
                f"cut square to the pipe, the outside edge stands up to {given.show(foul)} proud of the fit "
                "(minus in the table of fits)",
                "bevel the outside edge there by that much, or hold the torch fixed",
            )
        )  # fmt: skip
    return found


def _paces(
    case: Case, at: EndLine, line: EndLine, given: Given
) -> tuple[Setting | None, Setting | None, tuple[float, ...], list[Finding]]:
    """Return how the thickest and the thinnest places are cut, and the pace at each mark, all at one current."""
    if given.bench is None or case.marks.wall is None:
        return None, None, (), []
    thick, thin = round(float(line.thickness.max()), 2), round(float(line.thickness.min()), 2)
    heavy, found = given.bench.setting(thickness_mm=thick)
    bench = replace(given.bench, current_a=heavy.current_a)
    light, more = (heavy, ()) if thick - thin < 1e-6 else bench.setting(thickness_mm=thin)
    known = {thick: heavy.pace_mm_s.value, thin: light.pace_mm_s.value}
    paces = []
    for t in at.thickness:
        key = round(float(t), 2)
        if key not in known:
            known[key] = bench.setting(thickness_mm=key)[0].pace_mm_s.value
        paces.append(known[key])
    return heavy, light, tuple(paces), told((*found, *more))


def told(found: tuple[Finding, ...]) -> list[Finding]:
    """Return what a setting says that matters to a cut begun at an edge or a drilled hole."""
    return [f for f in found if f.severity is not Severity.NOTE and "pierce" not in f.code]


def numbers(cut: Cut, given: Given) -> tuple[Number, ...]:
    """Return what every end has: wrap, spacing, cutback, thickness, pace."""
    case = cut.case
    marks = len(case.marks.along)
    tell = (("paper_mm", f"{given['paper_thickness']:g}"),)
    out = [
        Number("wrap_length_mm", "length of the wrap, edge to edge",
               exact(cut.wrap, "mm", "pipe.wrap", pipe.DERIVED, tell), main=True),
        Number("cutback_mm", "from the longest point of the line to the shortest",
               exact(cut.cutback, "mm", case.formula, case.source), main=cut.cutback > 0),
        Number("base_from_end_mm", "square end to base line", exact(cut.end, "mm", case.formula, case.source),
               main=True),
        Number("circumference_mm", "way round the pipe's outside",
               exact(case.marks.perimeter, "mm", "pipe.wrap", pipe.DERIVED)),
        Number("cut_length_mm", "length of the cut on the outside",
               exact(line_length(case.dense.along, cut.line.reach), "mm", case.formula, case.source)),
        Number("joint_angle_least_deg", "sharpest angle between pipe and what it meets",
               exact(_joint_angle(cut, float(cut.line.joint_angle_deg.min())), "deg", "pipe.joint-angle",
                     pipe.DERIVED)),
        Number("joint_angle_most_deg", "widest angle between pipe and what it meets",
               exact(_joint_angle(cut, float(cut.line.joint_angle_deg.max())), "deg", "pipe.joint-angle",
                     pipe.DERIVED)),
    ]  # fmt: skip
    if case.second.unit == "deg":
        spacing = exact(cut.wrap / marks, "mm", "pipe.wrap", pipe.DERIVED, tell)
        out.insert(1, Number("spacing_mm", "from mark to mark round the wrap", spacing))
    if case.marks.wall is not None:
        thick = float(cut.line.thickness.max())
        figure = exact(thick, "mm", "pipe.fixed-thickness", pipe.DERIVED)
        out.append(Number("true_thickness_most_mm", "most metal under the arc along the cut", figure))
    if cut.setting is not None and cut.lightest is not None:
        out += _torch_numbers(cut, cut.setting, cut.lightest)
    return tuple(out)


def _torch_numbers(cut: Cut, heavy: Setting, light: Setting) -> list[Number]:
    amps = heavy.current_a
    steps = np.hypot(np.diff(cut.case.dense.along), np.diff(cut.line.reach))
    known = sorted({(round(float(t), 6), p) for t, p in zip(cut.at.thickness, cut.paces, strict=True)})
    middle = (cut.line.thickness[1:] + cut.line.thickness[:-1]) / 2
    pace = np.interp(middle, [k[0] for k in known], [k[1] for k in known])
    seconds = float(np.sum(steps / pace))
    low, high = heavy.pace_mm_s.low / heavy.pace_mm_s.value, heavy.pace_mm_s.high / heavy.pace_mm_s.value
    time = Figure(seconds, seconds / high, seconds / low, "s", heavy.pace_mm_s.formula, heavy.pace_mm_s.basis,
                  heavy.pace_mm_s.source)  # fmt: skip
    current = Figure(amps, amps, amps, "A", "settings", Basis.KIT, cut.kit.origin if cut.kit else "")
    return [
        Number("pace_slowest_mm_s", "pace where the cut is thickest", heavy.pace_mm_s, main=True),
        Number("pace_fastest_mm_s", "pace where the cut is thinnest", light.pace_mm_s),
        Number("current_a", "current, for the whole cut", current),
        Number("kerf_mm", "kerf, all of it in the waste", heavy.kerf_mm),
        Number("arc_time_s", "arc time round the line", time),
    ]


def _joint_angle(cut: Cut, angle_deg: float) -> float:
    return 2 * angle_deg if cut.case.twin else angle_deg


def tables(cut: Cut) -> tuple[Table, ...]:
    """Return the ordinates, and how the joint lies open for the weld."""
    case, at = cut.case, cut.at
    wall, paced = case.marks.wall is not None, bool(cut.paces)
    columns = [
        Column("mark", "mark"), case.second, Column("along_mm", "along the wrap", "mm"),
        Column("ordinate_mm", "from base line", "mm"), Column("from_end_mm", "from square end", "mm"),
        *((Column("true_thickness_mm", "true thickness", "mm"),) if wall else ()),
        Column("bevel_deg", "bevel that fits", "deg"),
        *((Column("pace_mm_s", "pace", "mm/s"),) if paced else ()),
    ]  # fmt: skip
    fits = [
        Column("mark", "mark"), case.second, Column("joint_angle_deg", "angle to the other piece", "deg"),
        *((Column("gap_outside_mm", "open outside", "mm"), Column("gap_inside_mm", "open inside", "mm"))
          if wall else ()),
    ]  # fmt: skip
    rows, opens = [], []
    for i, place in enumerate(case.places):
        head: list[float | str] = [i + 1, place]
        ordinate = float(cut.ordinates[i])
        row = [*head, _r(float(case.marks.along[i]) * cut.stretch), _r(ordinate), _r(cut.end - ordinate)]
        row += [_r(float(at.thickness[i]))] if wall else []
        row += [_r(float(at.bevel_deg[i]))]
        row += [_r(cut.paces[i])] if paced else []
        rows.append(tuple(row))
        gaps: list[float | str] = [_r(float(at.gap_outside[i])), _r(float(at.gap_inside[i]))] if wall else []
        opens.append((*head, _r(_joint_angle(cut, float(at.joint_angle_deg[i]))), *gaps))
    how = "the torch leans by it" if case.torch == "fixed" else "the torch stays square to the pipe"
    note = (
        "From the base line, + towards the joint end. Bevel: + with the outside cut back, - with the inside cut back; "
        f"{how}. Mark 1 comes again at the end of the wrap."
    )
    more = "Minus: metal stands proud there, take it off." if wall else ""
    return (
        Table("ordinates", "Marks and ordinates", tuple(columns), tuple(rows), note),
        Table("fits", "How the joint lies for the weld", tuple(fits), tuple(opens), more),
    )


def _r(value: float) -> float:
    return round(value, 4) + 0.0
