"""One scrap coupon: what a cutter measured on it, and what a bench's coupons together say.

Lengths mm, time s, angles degrees, current A, pressure kPa gauge. Any measurement may be missing (None).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Dross(StrEnum):
    """What hangs on the bottom edge."""

    NONE = "none"
    SLOW = "slow"  # thick, bubbly, flicks off: the cut was too slow
    FAST = "fast"  # thin hard bead: the cut was too fast


@dataclass(frozen=True, slots=True)
class CouponCut:
    """One straight cut of a coupon along a straightedge.

    ``guide_near_mm`` and ``guide_far_mm`` run from the guide to the near and the far edge of the kerf at the top;
    they are the distances to set a guide on the kept part and on the drop. ``gap_right_mm`` and ``gap_left_mm`` are
    the gaps under a square held on the top face, over the whole thickness, on the piece to the right and to the left
    of travel; positive where the bottom stands out. ``lag_mm`` is how far the lines on the face trail at the bottom.
    """

    length_mm: float | None = None
    seconds: float | None = None
    through: bool | None = None
    kerf_top_mm: float | None = None
    kerf_bottom_mm: float | None = None
    guide_near_mm: float | None = None
    guide_far_mm: float | None = None
    gap_right_mm: float | None = None
    gap_left_mm: float | None = None
    lag_mm: float | None = None
    dross: Dross | None = None
    dross_height_mm: float | None = None

    @property
    def pace_mm_s(self) -> float | None:
        """Length over time, None when either is missing."""
        if self.length_mm is None or self.seconds is None:
            return None
        return self.length_mm / self.seconds


@dataclass(frozen=True, slots=True)
class Coupon:
    """A dated coupon of one tip. ``id`` is given by the book; ``starts`` and ``arc_min`` are the tip's so far.

    ``disc_asked_mm`` and ``hole_asked_mm`` are twice the arm as set, no kerf allowed. ``set_aside`` names measurements
    the user has looked at and set aside (``cuts[1].kerf_top_mm``, the second cut): kept, not used. ``stands`` names
    those the user has looked at and says are right as they stand: used, however odd. None is named in both.
    """

    id: str
    date: str  # ISO 8601 day
    tip: str
    metal: str
    thickness_mm: float
    current_a: float
    cuts: tuple[CouponCut, ...]
    bench: str = ""  # the kit's name
    starts: int | None = None
    arc_min: float | None = None
    supply_kpa_g: float | None = None
    crater_mm: float | None = None
    disc_asked_mm: float | None = None
    disc_got_mm: float | None = None
    hole_asked_mm: float | None = None
    hole_got_mm: float | None = None
    gouge_width_mm: float | None = None
    gouge_depth_mm: float | None = None
    gouge_pace_mm_s: float | None = None
    note: str = ""
    set_aside: tuple[str, ...] = ()
    stands: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Belief:
    """What a bench's coupons say of one tip on one metal: mean and covariance of the model's quantities.

    ``names`` are the model's quantities in order (see ``lagline.trade.coupon_model``), ``mean`` and ``covariance``
    (rows) in their own units; ``coupons`` the ids behind them, empty for the prior; ``reference`` the conditions the
    model was laid out for, as (name, value) pairs.
    """

    tip: str
    metal: str
    names: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    coupons: tuple[str, ...] = ()
    reference: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Gouged:
    """One gouge measured on a coupon: width, depth [mm], pace [mm/s], current [A]."""

    coupon: str
    tip: str
    metal: str
    width_mm: float
    depth_mm: float
    pace_mm_s: float
    current_a: float


@dataclass(frozen=True, slots=True)
class Learned:
    """Everything a bench has learned, for the settings stage: one belief per tip and metal that has coupons, and the
    gouges measured, newest last."""

    beliefs: tuple[Belief, ...] = field(default=())
    gouges: tuple[Gouged, ...] = ()

    def of(self, tip: str, metal: str) -> Belief | None:
        """Return the belief for a tip on a metal, None without coupons."""
        return next((b for b in self.beliefs if b.tip == tip and b.metal == metal), None)
