"""What one coupon teaches, counted over benches whose truth is hidden; called by bench/run.py, or by itself."""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
CASES = (
    ("65 A", "steel", 9.525, 65.0),
    ("45 A", "steel", 6.35, 45.0),
    ("65 A", "stainless", 9.525, 65.0),
    ("65 A", "aluminium", 9.525, 65.0),
)


def table(benches: int, three: bool = True) -> list[str]:
    """Markdown rows: coverage of 90 % limits after one and three coupons, and what is left of the spread."""
    import numpy as np

    from lagline.planning.kit_file import generic_kit
    from tests.simulated_bench import prove

    kit = generic_kit()
    notes = []
    out = [
        "|tip, metal, mm|coupons|inside 90 %: pace|kerf|kept offset|drop offset|pace spread left|kept offset, mm|",
        "|-|-|-|-|-|-|-|-|",
    ]
    for tip, metal, t, amps in CASES:
        p = prove(kit, tip, metal, t, amps, benches, three)
        runs = [(1, p.cover, p.ratio, p.offset_90)]
        if three:
            runs.append((3, p.cover_three, p.ratio_three, p.offset_90_three))
        for n, cover, ratio, offset in runs:
            inside = "|".join(f"{100 * cover[k]:.1f} %" for k in ("pace", "kerf", "kept offset", "drop offset"))
            quarter = np.quantile(ratio, (0.1, 0.5, 0.9))
            out.append(
                f"|{tip}, {metal} {t:g}|{n}|{inside}|{quarter[1]:.3f} ({quarter[0]:.2f} to {quarter[2]:.2f})"
                f"|±{np.median(offset):.2f} (worst ±{offset.max():.2f})|"
            )
        notes.append(f"{tip}, {metal} {t:g}: ln pace ±{1.645 * p.prior_sd:.2f} before, "
                     f"{p.apart} of {p.readings} good readings set apart")  # fmt: skip
    return [*out, "", *(f"- {n}" for n in notes)]


def update_seconds() -> float:
    """Seconds of one update: a belief from one coupon of three cuts, everything warm."""
    from lagline.planning.coupon_plan import plan_coupon
    from lagline.planning.kit_file import generic_kit
    from lagline.trade.coupon_fit import believe
    from tests.simulated_bench import Bench, cut_as_planned

    kit = generic_kit()
    bench = Bench.drawn(1, kit, "65 A", "steel", 9.525, 65.0)
    coupon = cut_as_planned(bench, plan_coupon(kit, "steel", 9.525, 65.0, "65 A"), "c", 1)
    believe(kit, "65 A", "steel", (coupon,))
    begin = time.perf_counter()
    for _ in range(10):
        believe(kit, "65 A", "steel", (coupon,))
    return (time.perf_counter() - begin) / 10


def coupon(benches: int = 40) -> None:
    """Print the table and the time of one update."""
    print(f"coupon: one update {1e3 * update_seconds():.0f} ms; {benches} benches a case")
    for line in table(benches):
        print(line)


if __name__ == "__main__":
    coupon(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
