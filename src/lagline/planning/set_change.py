"""What would have to change for the set to carry an arc: the highest current that does, and the pieces."""

from __future__ import annotations

import math

from lagline.planning.set_limit import SetLimit, set_limit
from lagline.planning.settings import currents, setting_of
from lagline.records.kit import Kit
from lagline.records.plan import Setting


def current_for(setting: Setting, arc_s: float, kit: Kit) -> float | None:
    """Return the highest current [A] below the setting's at which the same cut is within the set, None without one.

    The arc gets longer as the pace falls: in the ratio of the paces without coupons. Currents that do not cut this
    thickness clean from an edge are left out.
    """
    limit = set_limit(kit.power)
    now, _ = setting_of(setting.stock, setting.bevel_deg, kit, setting.current_a)
    for amps in reversed(currents(kit)):
        if amps >= setting.current_a:
            continue
        there, _ = setting_of(setting.stock, setting.bevel_deg, kit, amps)
        if not there.edge_ok or there.weakest.startswith("thickness"):
            return None
        longer = arc_s * now.pace_mm_s.value / there.pace_mm_s.value
        if longer <= limit.most_arc_s(amps):
            return amps
    return None


def pieces_for(arc_s: float, current_a: float, limit: SetLimit) -> int:
    """Return in how many pieces an arc [s] is within the set."""
    return max(1, math.ceil(arc_s / limit.most_arc_s(current_a) - 1e-9))


def change_words(setting: Setting, arc_s: float, kit: Kit) -> str:
    """Return what would do, as one line: pieces with the rest between, or a lower current."""
    limit, amps = set_limit(kit.power), setting.current_a
    n = pieces_for(arc_s, amps, limit)
    rest = limit.rest_before_s(arc_s / n, amps)
    between = f" of about {rest / 60:.0f} min" if math.isfinite(rest) else ""
    ways = [f"cut it in {'two' if n == 2 else n} with a rest{between} between"]
    lower = current_for(setting, arc_s, kit)
    if lower is not None:
        ways.append(f"about {lower:g} A, slower, in one go")
    return "; or ".join(ways)
