"""Noise: the share of a day's allowance that a time at a level uses up, by two rules."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.data import table
from lagline.records.figure import Spread
from lagline.trade.register import Limit, formula

_LEVEL = (Limit("level_dba", 80, 115, "dB(A)", "above 115 dB(A) no time at all"),)


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of noise: hours allowed at a level of ``base_dba``, halved by every ``step_db`` more."""

    name: str
    base_dba: float
    step_db: float
    tag: str

    def hours(self, level_dba: float) -> float:
        """Hours a day at a level [dB(A)]. [h]"""
        return float(8 / 2 ** ((level_dba - self.base_dba) / self.step_db))


OSHA = Rule("29 CFR 1910.95, appendix A", 90.0, 5.0, "ends of its table seen, formula derived")
NIOSH = Rule("NIOSH recommended limit", 85.0, 3.0, "seen; times derived")
RULES = (OSHA, NIOSH)
ACTION_DOSE = 50.0  # percent by 29 CFR 1910.95: hearing conservation begins (from memory)


def level_of(work: str) -> Spread:
    """Level of a kind of work, ``plasma by hand`` or ``grinding`` [dB(A)]."""
    row = next(r for r in table("noise_levels").rows if r["work"] == work)
    low, high = float(row["low_dba"]), float(row["high_dba"])
    return Spread((low + high) / 2, low, high, default=True)


@formula(
    "noise.dose",
    text="D = 100 SUM C/T, T = 8/2^((L - 90)/5) h (29 CFR 1910.95) or 8/2^((L - 85)/3) h (NIOSH)",
    gives="share of a day's noise used up [%]",
    source="29 CFR 1910.95 appendix A (derived; its table is rounded); NIOSH recommended exposure limit (seen)",
    limits=_LEVEL,
)
def dose_percent(rule: Rule, times: tuple[tuple[float, float], ...]) -> float:
    """Dose of a day by a rule from pairs of level [dB(A)] and time [h]; 100 is the whole allowance. [%]

    Check: 8 h at 90 dB(A) by 29 CFR 1910.95 is 100; so is 15 min at 100 dB(A) by NIOSH.
    """
    return 100 * math.fsum(hours / rule.hours(level) for level, hours in times)


@formula(
    "noise.average",
    text="L = 90 + 16.61 log10(D/100) (29 CFR 1910.95), 85 + 9.97 log10(D/100) (NIOSH): step/log10(2)",
    gives="level that would give the same dose over 8 h [dB(A)]",
    source="29 CFR 1910.95 appendix A (derived)",
)
def average_dba(rule: Rule, dose: float) -> float:
    """Level over 8 h that gives a dose [%]. [dB(A)] ValueError for none."""
    if dose <= 0:
        raise ValueError(f"a dose above zero has a level, got {dose}")
    return rule.base_dba + rule.step_db / math.log10(2) * math.log10(dose / 100)
