"""The tools of one bench. Lengths mm, current A, pressure kPa gauge, free air L/min, time s, shop money."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.records.figure import Spread


@dataclass(frozen=True, slots=True)
class Supply:
    """What feeds the set. ``efficiency`` and ``power_factor`` are shares at the chosen output; the cord is known when
    its length is no default. ``breaker_a`` 0: not given."""

    phases: int  # 1 or 3
    efficiency: Spread
    power_factor: Spread
    cord_awg: str  # "8", as in the table of conductors
    cord_length_mm: Spread
    breaker_a: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """Where the set stands and what it did before the job: air around it [C], and minutes of arc at rated current in
    the ten minutes before."""

    ambient_c: float = 40.0  # the rating basis
    arc_before_min: float = 0.0


@dataclass(frozen=True, slots=True)
class PowerSet:
    """The cutting set, from its rating plate.

    ``duty`` pairs are (current [A], share of a 10 minute period [0..1]). ``load_voltage_v`` is the arc voltage
    at rated current, 0 to use the conventional load line of IEC 60974-1. ``rated_thickness_mm`` is the mild
    steel it cuts cleanly at about 10 in/min and rated current. ``pierce_share`` of it can be pierced.
    """

    name: str
    rated_current_a: float
    min_current_a: float
    load_voltage_v: float
    duty: tuple[tuple[float, float], ...]
    supply_v: float
    rated_thickness_mm: Spread
    pierce_share: Spread
    supply: Supply | None = None
    warmth: Warmth = Warmth()


@dataclass(frozen=True, slots=True)
class Tip:
    """A tip: bore and the largest current it may carry. ``kerf_mm`` only when the user measured it."""

    name: str
    bore_mm: float
    max_current_a: float
    kerf_mm: Spread | None = None


@dataclass(frozen=True, slots=True)
class Torch:
    """The torch in the hand. ``cup_radius_mm`` is measured at guide height."""

    shielded: bool
    cup_radius_mm: Spread
    standoff_mm: Spread
    lead_angle_deg: Spread
    drag_max_current_a: float
    drag_max_thickness_mm: float
    square_side: str  # "right" or "left" of travel
    tips: tuple[Tip, ...]


@dataclass(frozen=True, slots=True)
class Guides:
    """Straightedges, circle arm, template board and drills to hand."""

    straightedges_mm: tuple[float, ...]  # lengths, shortest first
    width_mm: float
    height_mm: float
    prefer: str  # "kept" or "drop": on which side the guide is clamped when both will do
    hold: str  # "clamp" or "magnet"
    clamp_reach_mm: float  # how far in from a plate edge or opening a clamp can hold
    arm_min_mm: float  # pivot to tip centre
    arm_max_mm: float  # 0 for no circle arm
    template: bool
    template_max_mm: float  # longest side of a template that can be handled
    drill_max_mm: float


@dataclass(frozen=True, slots=True)
class AirLine:
    """From tank to torch: hose with its true bore, couplings, the regulator at the set, and what the torch needs."""

    hose_length_mm: Spread
    hose_bore_mm: Spread
    fittings: int
    regulator_kpa_g: float
    torch_least_kpa_g: float  # at the set's inlet, air flowing


@dataclass(frozen=True, slots=True)
class Intake:
    """What the compressor breathes, and what is done about the water."""

    altitude_m: float
    intake_c: float
    humidity: float  # 0 to 1
    tank_c: float
    dryer: str  # "none", "aftercooler", "refrigerated" or "desiccant"


@dataclass(frozen=True, slots=True)
class Air:
    """Compressor and tank. Without ``intake`` the delivery is taken as it stands, without ``line`` nothing is lost."""

    delivery_l_min: float  # free air at cut-out pressure
    tank_l: float
    cut_in_kpa_g: float
    cut_out_kpa_g: float
    least_kpa_g: float  # below this in the tank the torch starves
    use_l_min: Spread  # free air the torch takes while flowing
    pre_flow_s: float
    post_flow_s: float
    line: AirLine | None = None
    intake: Intake | None = None


@dataclass(frozen=True, slots=True)
class Operator:
    """The hand."""

    reach_mm: float
    pace_low_mm_s: float
    pace_high_mm_s: float
    hand: str  # "right" or "left"


@dataclass(frozen=True, slots=True)
class Bench:
    """Minutes and money of this shop."""

    straight_setup_s: Spread
    arm_setup_s: Spread
    template_setup_s: Spread
    drill_s: Spread
    start_s: Spread  # from trigger to moving off, each start
    pierce_s: Spread
    walk_mm_s: float
    currency: str
    labour_per_h: Spread
    metal_per_kg: tuple[tuple[str, float], ...]  # by metal
    tip_set_cost: float
    starts_per_tip_set: Spread
    energy_per_kwh: float
    lens_rule: str
    cup_gap_mm: float  # hand allowance added to twice the kerf between parts


@dataclass(frozen=True, slots=True)
class Pricing:
    """What a price is made of besides the bench's own minutes and money. Shares 0 to 1, money in the bench's currency.

    ``overhead`` is a share of what the job costs, ``margin`` a share of the price. ``nozzle_share`` of a tip set's
    price is the nozzle's, the rest the electrode's.
    """

    shop: str  # "" to be filled in by pen
    overhead: float
    margin: float
    nozzle_share: Spread
    chip_mm_s: Spread  # dross knocked off
    grind_mm_s: Spread  # edges to bright metal
    disc_cost: float
    disc_mm: Spread  # edge one disc grinds
    compressor_kwh_m3: Spread  # for a cubic metre of free air
    drill_setup_s: Spread  # the drill fetched and set up, once a job
    drill_cost: Spread  # bits for one hole
    saw_setup_s: Spread  # marked and clamped, each cut
    saw_mm2_s: Spread  # face sawn in mild steel
    saw_cost_m2: Spread  # blades for a square metre of face


@dataclass(frozen=True, slots=True)
class Kit:
    """Everything on the bench. ``origin`` is the file, or "built in". Without ``pricing`` the generic kit's counts."""

    name: str
    origin: str
    power: PowerSet
    torch: Torch
    guides: Guides
    air: Air
    operator: Operator
    bench: Bench
    pricing: Pricing | None = None
