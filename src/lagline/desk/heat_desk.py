"""The heat of a plan for every door: worked out once, as plain values and pictures."""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field

from lagline.desk.pictures import heat_picture
from lagline.planning.heat import AIR_C, LIMIT_C, Halted, PlateHeat, heat_of
from lagline.planning.heat_notes import Band, StripBow, bands, flat_findings, heat_findings, strip_bows
from lagline.records.finding import Finding, finding_dict
from lagline.records.plan import Plan
from lagline.trade.heat_plate import handle_c, marks

log = logging.getLogger(__name__)
FRAMES = 12
MOST_IN_MIND = 4


@dataclass(frozen=True, slots=True)
class Heats:
    """A plan with its heat and what is said of it."""

    plan: Plan
    plates: tuple[PlateHeat, ...]
    bands: tuple[tuple[Band, ...], ...]  # by plate
    strips: tuple[StripBow, ...]
    findings: tuple[Finding, ...]


def heats_of(
    plan: Plan,
    *,
    at_min: float | None = None,
    frames: int = 0,
    losses: bool = True,
    limit_c: float = LIMIT_C,
    tell: Callable[[float, str], None] = lambda _share, _text: None,
    stop: Callable[[], bool] = lambda: False,
) -> Heats:
    """Return the heat of a plan; parameters as in :func:`lagline.planning.heat.heat_of`, the moment in minutes."""
    at_s = () if at_min is None else (60 * at_min,)
    plates = heat_of(plan, losses=losses, frames=frames, at_s=at_s, limit_c=limit_c, tell=tell, stop=stop)
    said = (*heat_findings(plan, plates, limit_c), *flat_findings(plan))
    return Heats(plan, plates, tuple(bands(plan, p) for p in plates), strip_bows(plan), said)


def heat_dict(heats: Heats, at_min: float | None = None) -> dict[str, object]:
    """Return the answer as plain values, every key with its unit."""
    return {
        "job": heats.plan.job.name,
        "air_c": AIR_C,
        "handle_c": handle_c().value,
        "plates": [_plate_dict(p, b, at_min) for p, b in zip(heats.plates, heats.bands, strict=True)],
        "strips": [
            {
                "part": s.part,
                "hot_mm": round(s.hot_mm, 2),
                "evens_out_s": round(s.evens_out_s, 1),
                "ways": [
                    {"way": w.way, "left_mm": round(w.left_mm.value, 2), "left_low_mm": round(w.left_mm.low, 2),
                     "left_high_mm": round(w.left_mm.high, 2), "why": w.why}
                    for w in s.ways
                ],
            }
            for s in heats.strips
        ],
        "findings": [finding_dict(f) for f in heats.findings],
    }  # fmt: skip


def _plate_dict(p: PlateHeat, found: tuple[Band, ...], at_min: float | None) -> dict[str, object]:
    out: dict[str, object] = {
        "plate": p.name,
        "square_mm": round(p.cell_mm, 3),
        "coarser_than_wanted": p.coarse,
        "not_believed_within_mm": round(p.believe_mm, 2),
        "heat_put_in_kj": round(p.put_kj, 3),
        "hottest_c": round(p.hottest_c, 1),
        "hottest_x_mm": round(p.hottest_at[0], 1),
        "hottest_y_mm": round(p.hottest_at[1], 1),
        "marks": [{"temperature_c": m.temperature_c, "word": m.word, "source": m.source} for m in marks(p.metal)],
        "parts": [
            {
                "part": q.name,
                "peak_c": None if q.peak_c is None else round(q.peak_c, 1),
                "loose_min": round(q.loose_s / 60, 1),
                "loose_mean_c": round(q.loose_c, 1),
                "handle_min": None if q.handle_s is None else round(q.handle_s / 60, 1),
                "wait_min": None if q.wait_s is None else round(q.wait_s / 60, 1),
            }
            for q in p.parts
        ],
        "setups": [
            {
                "setup": line.number,
                "line_before_c": round(line.hottest_c, 1),
                "x_mm": round(line.at[0], 1),
                "y_mm": round(line.at[1], 1),
                "wait_min": None if line.wait_s is None else round(line.wait_s / 60, 1),
            }
            for line in p.lines
        ],
        "bands": [
            {
                "setting": b.setting,
                "temperature_c": b.temperature_c,
                "word": b.word,
                "handbook_mm": round(b.handbook_mm.value, 2),
                "handbook_low_mm": round(b.handbook_mm.low, 2),
                "handbook_high_mm": round(b.handbook_mm.high, 2),
                "field_mm": None if b.field_mm is None else round(b.field_mm, 2),
            }
            for b in found
        ],
    }
    if at_min is not None:
        frame = p.frames[0]
        row, column = divmod(int(frame.rise.argmax()), frame.rise.shape[1])
        x, y = p.place(row, column)
        out["at"] = {"at_min": at_min, "hottest_c": round(AIR_C + float(frame.rise[row, column]), 1),
                     "x_mm": round(x, 1), "y_mm": round(y, 1)}  # fmt: skip
    return out


@dataclass
class HeatWork:
    """The heat of one plan being worked out. Written by its own thread, read by the pages."""

    share: float = 0.0
    stage: str = "waiting"
    heats: Heats | None = None
    failed: bool = False
    pictures: dict[tuple[int, str], str] = field(default_factory=dict)  # plate and "peak" or a frame's number
    stop: threading.Event = field(default_factory=threading.Event)
    over: threading.Event = field(default_factory=threading.Event)


class HeatRoom:
    """The heats looked at last, each worked out once, one at a time."""

    def __init__(self) -> None:
        self._works: OrderedDict[str, HeatWork] = OrderedDict()
        self._lock = threading.Lock()
        self._one = threading.Lock()

    def work(self, fingerprint: str, plan: Plan) -> HeatWork:
        """Return the work on a plan's heat, begun by this call when there is none."""
        with self._lock:
            known = self._works.get(fingerprint)
            if known is not None and not known.failed and not known.stop.is_set():
                self._works.move_to_end(fingerprint)
                return known
            work = HeatWork()
            self._works[fingerprint] = work
            while len(self._works) > MOST_IN_MIND:
                self._works.popitem(last=False)[1].stop.set()
        threading.Thread(target=self._run, args=(work, plan), name="heat", daemon=True).start()
        return work

    def _run(self, work: HeatWork, plan: Plan) -> None:
        def tell(share: float, text: str) -> None:
            work.share, work.stage = 0.9 * share, text

        try:
            with self._one:
                heats = heats_of(plan, frames=FRAMES, tell=tell, stop=work.stop.is_set)
                work.stage = "drawing it"
                for p in heats.plates:
                    work.pictures[p.plate, "peak"] = heat_picture(plan, p)
                    for n, frame in enumerate(p.frames):
                        work.pictures[p.plate, str(n)] = heat_picture(plan, p, frame)
            work.heats, work.share = heats, 1.0
        except Halted:
            work.failed = True
        except Exception:  # the page says that it failed, the terminal why
            log.exception("the heat of %s failed", plan.job.name)
            work.failed = True
        finally:
            work.over.set()
