"""What the chain makes, stage by stage, up to the whole plan. Lengths mm, time s, pressure kPa gauge."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from lagline.records.figure import Figure
from lagline.records.finding import Finding, Severity
from lagline.records.geometry import Loop, Move, Outline, Point, Segment
from lagline.records.job import Feature, Job, Part, Stock
from lagline.records.kit import Kit


@dataclass(frozen=True, slots=True)
class Blank:
    """Intake's result for one kind of part: ``cut`` is the drawing plus grinding allowance, the size to come
    off the torch; ``finished`` the drawing."""

    part: Part
    finished: Outline
    cut: Outline
    features: tuple[Feature, ...]
    area_mm2: float
    mass_kg: Figure


@dataclass(frozen=True, slots=True)
class Setting:
    """How one stock is cut square with this kit (or bevelled, at ``bevel_deg``)."""

    id: str
    stock: Stock
    bevel_deg: float
    true_thickness_mm: float
    current_a: float
    tip: str
    drag: bool
    standoff_mm: Figure
    lead_angle_deg: Figure
    kerf_mm: Figure
    cup_radius_mm: Figure
    offset_kept_mm: Figure  # line to a guide on the kept part
    offset_drop_mm: Figure  # line to a guide on the drop
    pace_mm_s: Figure
    bevel_good_deg: Figure  # face on the square side
    bevel_bad_deg: Figure
    edge_ok: bool
    pierce_ok: bool
    weakest: str  # what limits it, "" when nothing does
    min_hole_mm: Figure
    lead_in_mm: float
    crater_radius_mm: float

    def offset_mm(self, side: str) -> Figure:
        """Line to guide, guide on the "kept" or "drop" side [mm]."""
        return self.offset_kept_mm if side == "kept" else self.offset_drop_mm


@dataclass(frozen=True, slots=True)
class Placed:
    """One copy of a part on a plate; ``move`` takes part coordinates to plate coordinates."""

    part: int  # index into Plan.blanks
    copy: int  # 1-based
    plate: int  # index into Job.plates
    move: Move

    def name(self, blanks: tuple[Blank, ...]) -> str:
        b = blanks[self.part].part
        return b.name if b.quantity == 1 else f"{b.name} #{self.copy}"


@dataclass(frozen=True, slots=True)
class Layout:
    """Where every copy lies. ``unplaced`` counts copies left over, (part index, count).

    Parts keep ``gap_mm`` from each other. Those in ``shared`` (pairs of indices into ``placed``, smaller first) face
    each other along straight edges just ``kerf_mm`` apart: one cut makes both edges. In a grid of such parts those that
    meet at a corner only are nearer than the gap too.
    """

    placed: tuple[Placed, ...]
    unplaced: tuple[tuple[int, int], ...]
    gap_mm: float
    method: str  # "quick", "dense" or "guided"
    findings: tuple[Finding, ...] = ()
    shared: tuple[tuple[int, int], ...] = ()
    kerf_mm: float = 0.0


class Method(StrEnum):
    """What leads the torch."""

    STRAIGHTEDGE = "straightedge"
    ARM = "circle arm"
    TEMPLATE = "template"
    FREEHAND = "freehand"
    DRILL = "drill"


@dataclass(frozen=True, slots=True)
class StraightGuide:
    """A bar clamped parallel to the line. ``offset_mm`` from the finished cut line to the guide's near edge."""

    side: str  # "kept" or "drop"
    offset_mm: Figure
    near: tuple[Point, Point]  # the edge the cup rubs
    bar: tuple[Point, Point, Point, Point]
    clamps: tuple[Point, ...]
    hold: str  # "clamp", "magnet" or "no hold"
    shifts: int = 0  # how often a short straightedge must be moved along


@dataclass(frozen=True, slots=True)
class ArmGuide:
    """A circle arm: pivot, pivot to tip centre (``arm_mm``) and pivot to the near edge of the cup.

    ``foot`` is what the pivot stands on when this is cut: "part", "plate", "drop" (it falls at the end of this cut)
    or "opening" (it has dropped out: a bar is laid across).
    """

    pivot: Point
    arm_mm: Figure
    to_cup_edge_mm: Figure
    pivot_in_drop: bool
    foot: str = "part"


@dataclass(frozen=True, slots=True)
class TemplateGuide:
    """A template: its edge in plate coordinates, inset from the cut line; the cup rubs outside or inside it."""

    id: str  # templates of equal shape share it
    inset_mm: Figure  # distance from cut line to template edge, towards the kept part
    edge: tuple[Point, ...]
    closed: bool
    rub: str  # "outside" or "inside"


Guide = StraightGuide | ArmGuide | TemplateGuide | None


class Start(StrEnum):
    """How the arc is brought into the metal."""

    EDGE = "edge start"  # from a plate edge or opening
    PIERCE = "pierce"
    DRILLED = "drilled start"  # through a hole drilled first, where piercing is beyond the set
    KERF = "from the kerf"  # at the end of the cut before it
    NONE = "no start"  # drilling


@dataclass(frozen=True, slots=True)
class Pass:
    """One set-up's worth of cutting: part of a loop, in travel order.

    ``line`` is the cut line on the part, ``path`` the centre of the kerf. For a closed pass (``closed``) the
    path may be entered anywhere. ``start`` and ``run_in`` are set where the arc is struck anew under the guide of the
    pass before. ``leaves_mm`` is the metal left beyond its end as a bridge.
    """

    name: str
    method: Method
    line: tuple[Segment, ...]
    path: tuple[Segment, ...]
    closed: bool
    guide: Guide
    start: Start | None = None
    run_in: tuple[Point, ...] = ()
    leaves_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Entry:
    """A place to begin a cut: pass index, distance along that pass's path, and the run-in (start first,
    path point last). ``leave`` is where the torch is when the cut is done, None for a loop, which ends where its
    run-in met it."""

    pass_index: int
    at_mm: float
    start: Start
    run_in: tuple[Point, ...]
    leave: Point | None = None


@dataclass(frozen=True, slots=True)
class Cut:
    """What is cut without another cut coming between, with every way to begin it.

    A loop of one placed part, a hole to drill, or open: an ``edge`` (what is left of an outline some of whose edges
    are cut with a neighbour's), a ``rip`` (one straight line that makes edges of every part in ``serves``) or a
    ``bridge`` (what another cut left standing along one line). ``loop`` of an open cut is the outline of the part it
    belongs to first; of a ``trim``, which makes a plate's edge true, the strip that comes off.
    """

    id: str  # e.g. "A-03-h1"
    placed: int  # index into Layout.placed, -1 for a cut that makes an edge of no part
    plate: int
    role: str  # "outline", "hole", "window", "slot", "drill", "edge", "rip", "bridge", "trim"
    loop: Loop  # cut line in plate coordinates, travelled with the part on the square side
    setting: str
    kept_side: str  # "right" or "left" of travel
    passes: tuple[Pass, ...]
    entries: tuple[Entry, ...]
    after: tuple[str, ...]  # cut ids that must come first
    frees: str  # what falls when it is done: "part", "drop", "nothing"
    drop_kg: float
    diameter_mm: float = 0.0  # for drilling
    drill_depth_mm: float = 0.0
    serves: tuple[int, ...] = ()  # placed parts on the kept side it makes edges of, where that is not ``placed`` alone
    across: tuple[int, ...] = ()  # and those on the other side of the kerf

    @property
    def open(self) -> bool:
        """Whether it ends elsewhere than it began."""
        return self.role in ("edge", "rip", "bridge", "trim")

    @property
    def parts(self) -> tuple[int, ...]:
        """Every placed part it makes an edge of."""
        return (*(self.serves or ((self.placed,) if self.placed >= 0 else ())), *self.across)


@dataclass(frozen=True, slots=True)
class Step:
    """One set-up at the bench, in order.

    ``path`` is everything the torch does with the arc on: run-in, pass, overrun. ``group`` numbers the
    set-ups of one cut together (1-based ``of`` total).
    """

    number: int
    cut: str
    group: int
    of: int
    plate: int
    placed: int
    title: str
    method: Method
    start: Start
    line: tuple[Segment, ...]
    path: tuple[Segment, ...]
    guide: Guide
    kept_side: str
    square_side: str
    heading_deg: float
    setting: str
    clamp: Point  # work clamp, on metal that stays
    frees: str
    drop_kg: float
    diameter_mm: float = 0.0
    serves: tuple[int, ...] = ()  # as in the cut
    across: tuple[int, ...] = ()
    freed: tuple[int, ...] = ()  # placed parts that come loose at its end
    held: bool = False  # the guide stays where the set-up before has left it
    leaves_mm: float = 0.0  # metal left beyond its end as a bridge
    bridge: bool = False  # cuts such a bridge

    @property
    def parts(self) -> tuple[int, ...]:
        """Every placed part it makes an edge of."""
        return (*(self.serves or ((self.placed,) if self.placed >= 0 else ())), *self.across)


@dataclass(frozen=True, slots=True)
class Clock:
    """When a step happens. Rest and air wait come before its arc is struck."""

    number: int
    begin_s: float
    setup_s: float
    rest_s: float
    air_wait_s: float
    arc_s: float
    end_s: float
    duty_used: float  # how near its limit the set came: of its warmth, or of the arc allowed in ten minutes
    tank_start_kpa_g: float
    tank_end_kpa_g: float
    torch_kpa_g: float = 0.0  # lowest at the set's inlet while the arc burns; 0 without an arc


@dataclass(frozen=True, slots=True)
class Timetable:
    """The whole job against the clock. ``first_short`` names the first step that outruns set or air, 0 if none."""

    clocks: tuple[Clock, ...]
    total_s: Figure
    arc_s: float
    rest_s: float
    duty_share: Figure
    first_short: int
    first_short_why: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """Can this step go? ``weakest`` names the link that is nearest its limit."""

    number: int
    go: bool
    weakest: str
    margin: float  # spare share of the weakest link, below zero for a no-go, or for a tolerance in doubt
    tolerance_mm: Figure
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlateUse:
    """What a plate gives and keeps."""

    plate: int
    parts_kg: float
    drops_kg: float
    left_kg: float
    use_share: float
    offcut_mm: tuple[float, float, float, float]  # largest clear rectangle left: left, bottom, width, height
    kept_kg: float = 0.0  # of what is left and what falls out of parts, the pieces worth keeping


@dataclass(frozen=True, slots=True)
class Totals:
    """The job in numbers."""

    minutes: Figure
    cost: Figure
    parts_kg: float
    starts: int
    pierces: int
    arc_min: float
    cut_length_mm: float
    setups: int


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole plan, with the inputs it came from."""

    job: Job
    kit: Kit
    blanks: tuple[Blank, ...]
    settings: tuple[Setting, ...]
    layout: Layout
    cuts: tuple[Cut, ...]
    steps: tuple[Step, ...]
    timetable: Timetable
    verdicts: tuple[Verdict, ...]
    plates: tuple[PlateUse, ...]
    totals: Totals
    findings: tuple[Finding, ...]
    version: str

    def setting(self, setting_id: str) -> Setting:
        """Return the setting of that id."""
        return next(s for s in self.settings if s.id == setting_id)

    @property
    def go(self) -> bool:
        """True when every part is placed, every step can go, and nothing found says no."""
        found = any(f.severity in (Severity.NO_GO, Severity.REFUSED) for f in self.findings)
        return not found and not self.layout.unplaced and all(v.go for v in self.verdicts)
