"""The air tank against the clock: pressure as straight pieces between the compressor's switch points."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.planning.air_path import falling_kpa_s, least_kpa_g, made_l_min, tank_l, tank_ref_kpa
from lagline.records.kit import Air
from lagline.trade.air import pressure_rate

_EPS = 1e-9


@dataclass(frozen=True, slots=True)
class Tank:
    """Pressure [kPa gauge] and whether the compressor runs: it starts at cut-in and stops at cut-out."""

    air: Air
    kpa_g: float
    running: bool

    @classmethod
    def full(cls, air: Air) -> Tank:
        return cls(air, air.cut_out_kpa_g, False)

    def after(self, seconds: float, use_l_min: float) -> tuple[Tank, float]:
        """Return the tank after a time at a steady use of free air [L/min], and the lowest pressure met [kPa gauge].

        dp/dt = (made while running - use) p_ref / V, exact piece by piece; never below zero gauge. What is made and
        p_ref are those of the compressor's place, see :mod:`lagline.planning.air_path`.
        """
        air, volume = self.air, tank_l(self.air)
        made, ref = made_l_min(air), tank_ref_kpa(air)
        p, running, left, low = self.kpa_g, self.running, seconds, self.kpa_g
        while left > _EPS:
            if not running and p <= air.cut_in_kpa_g + _EPS:
                running = True
            rate = pressure_rate(volume, made if running else 0.0, use_l_min, ref)
            if running and rate > 0 and p >= air.cut_out_kpa_g - _EPS:
                if air.cut_in_kpa_g >= air.cut_out_kpa_g:  # no band to swing in: the compressor just keeps up
                    break
                running = False
                continue
            if rate == 0 or (rate < 0 and p <= 0):
                break
            target = air.cut_out_kpa_g if rate > 0 else (0.0 if running else air.cut_in_kpa_g)
            step = min(left, max((target - p) / rate, 0.0))
            p, left = (target if step < left else p + rate * step), left - step
            low = min(low, p)
        return Tank(air, p, running), low

    def holds(self, seconds: float, use_l_min: float) -> bool:
        """True when a use of that length never takes the tank below what the torch needs."""
        return self.after(seconds, use_l_min)[1] >= least_kpa_g(self.air, use_l_min) - 1e-6

    def needed_kpa_g(self, seconds: float, use_l_min: float) -> float:
        """Pressure at which a use of that length may begin with the compressor running [kPa gauge]."""
        return least_kpa_g(self.air, use_l_min) + max(0.0, falling_kpa_s(self.air, use_l_min)) * seconds


@dataclass(frozen=True, slots=True)
class Wait:
    """How long to wait before a use of air, the tank then, and what else must be done."""

    seconds: float
    tank: Tank
    bleed: bool = False  # a drain opened until the compressor starts, for above cut-in it never would
    enough: bool = True  # False: no wait is long enough


def wait_for(tank: Tank, seconds: float, use_l_min: float) -> Wait:
    """Return the shortest wait after which a use of that length [s, L/min] keeps the pressure up.

    A stopped compressor stays stopped above cut-in however long one waits. Then the drain is opened until it
    starts (its time not counted) and the wait runs from cut-in.
    """
    if tank.holds(seconds, use_l_min):
        return Wait(0.0, tank)
    air = tank.air
    bleed = not tank.running and tank.kpa_g > air.cut_in_kpa_g + _EPS
    start = Tank(air, min(tank.kpa_g, air.cut_in_kpa_g) if not tank.running else tank.kpa_g, True)
    need = tank.needed_kpa_g(seconds, use_l_min)
    filling = -falling_kpa_s(air, 0.0)
    ready = Tank(air, max(need, start.kpa_g), True)
    if need > air.cut_out_kpa_g + 1e-6 or filling <= 0 or not ready.holds(seconds, use_l_min):
        return Wait(0.0, tank, enough=False)
    return Wait((ready.kpa_g - start.kpa_g) / filling, ready, bleed)
