"""Beat strips: a strip the length of the cut with a tick at every count of the planned pace; the same as sound."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lagline.planning.fields import quantity
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.length import show_pace
from lagline.records.setout import Area, Column, Dim, Drawing, Number, SetOut, Stroke, Table, Text, exact
from lagline.setouts.ask import Ask, Faults, Given, choice, count, length, maybe_length, maybe_text, number, shown_given
from lagline.setouts.guide_torch import KERF, Torch, made_for, torch_of
from lagline.trade import beat_sound, beat_strip, guide, pace

DERIVED = "definition"
WIDE_MM = 20.0
HEAD_MM = 34.0  # of strip before the start, for the lead-in
MOST_TICKS = 3000
NEAR_MM = 7.0  # numbers nearer than this are left out
LEAST_MM_S, MOST_MM_S = 0.5, 100.0


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip: where it lies, its length, and how far apart its ticks and its inch marks are [mm]."""

    where: str
    key: str
    long_mm: float
    tick_mm: float
    inch_mm: float


def _pace(given: Given, t: Torch) -> Figure:
    """The pace typed, a bare number in in/min or mm/s; else the bench's own."""
    text = given.words.get("pace", "")
    if not text:
        return t.setting.pace_mm_s
    bare = text.replace(".", "", 1).replace("-", "", 1).isdigit()
    unit = " in/min" if given.units == "in" else " mm/s"
    read = quantity("pace", LEAST_MM_S, MOST_MM_S)(text + unit if bare else text, f"{BEAT.kind}, pace")
    return Figure(read, read, read, "mm/s", "given", Basis.DRAWING, "as typed")


def _strips(given: Given, t: Torch, v: float, faults: Faults) -> tuple[float, tuple[Strip, ...]]:
    """Return how far the tip goes [mm], and the strips."""
    line, c, inch = given.word("line"), given["count"], _inch(given)
    if line == "straight":
        cut = given.get("length")
        if cut is None:
            faults.add(
                "length", "the length of the cut is needed", "length of the cut, as 12 or 300 mm", "setout-missing"
            )
            return 0.0, ()
        return cut, (Strip("along the guide or the line", "line", cut, beat_strip.tick_mm(v, c), inch),)
    across = given.get("diameter")
    if across is None:
        faults.add("diameter", f"the {line} needs its diameter", "diameter of the edge", "setout-missing")
        return 0.0, ()
    r = across / 2
    arm = guide.arm(r, t.k, disc=line == "disc")
    if arm <= 0:
        faults.add(
            "diameter", f"{given.show(across)} is no wider than the kerf", "a hole wider than the kerf; drill it"
        )
        return 0.0, ()
    path = 2 * math.pi * arm
    at_line = Strip(
        "round the finished edge", "line", 2 * math.pi * r, beat_strip.tick_mm(v, c, r, arm), inch * r / arm
    )
    at_arm = Strip("round the arm's own circle", "arm", path, beat_strip.tick_mm(v, c), inch)
    return path, (at_line, at_arm)


def _inch(given: Given) -> float:
    return 25.4 if given.units == "in" else 25.0


def _marks(strip: Strip, unit: str) -> tuple[tuple[Stroke, ...], tuple[Text, ...]]:
    """Ticks of the counts along the bottom, of the inches (or 25 mm) along the top, each with its number."""
    strokes: list[Stroke] = []
    texts: list[Text] = []
    every = max(1, math.ceil(NEAR_MM / strip.tick_mm))
    every = next(n for n in (1, 2, 5, 10, 20, 50, 100, 1000, 10_000) if n >= every)
    for i, x in enumerate(beat_strip.ticks(strip.long_mm, strip.tick_mm)):
        numbered = i % every == 0
        strokes.append(Stroke("edge", ((x, 0.0), (x, 5.0 if numbered else 3.2))))
        if numbered and i and x < strip.long_mm - 3:
            texts.append(Text((x, 7.6), str(i), 0.0, 2.2))
    for i, x in enumerate(beat_strip.ticks(strip.long_mm, strip.inch_mm)):
        strokes.append(Stroke("mark", ((x, WIDE_MM), (x, WIDE_MM - 3.0))))
        if i and x < strip.long_mm - 5:
            texts.append(Text((x, WIDE_MM - 5.4), f"{i * 25 if unit == 'mm' else i}", 0.0, 1.8))
    return tuple(strokes), tuple(texts)


def _sheet(strip: Strip, t: Torch, v: float, given: Given) -> Drawing:
    strokes, texts = _marks(strip, given.units)
    ends = (-HEAD_MM, strip.long_mm)
    ring = ((ends[0], 0.0), (ends[1], 0.0), (ends[1], WIDE_MM), (ends[0], WIDE_MM))
    lead = given.count("lead_in")
    head = (
        Text((-HEAD_MM / 2, 13.0), f"count {lead}" if lead else "no count", 0.0, 2.6),
        Text((-HEAD_MM / 2, 6.0), "then go", 0.0, 2.6),
    )
    beat = f"{given['count']:g} s each tick, {show_pace(v, given.units)}"
    return Drawing(
        f"Beat strip {strip.where}",
        (),
        (
            Stroke("edge", ring, closed=True),
            Stroke("cut", ((0.0, 0.0), (0.0, WIDE_MM))),
            *strokes,
        ),
        (*head, *texts),
        (),
        (
            f"Beat strip {strip.where}, {given.show(strip.long_mm)} long: {beat}",
            f"Below the counts, above {'inches' if given.units == 'in' else 'millimetres'} the tip has gone. "
            f"{made_for(t, given)}",
            "Heavy line on the start of the cut; cut along the outline and tape it down beside the guide.",
        ),
    )


def _picture(strip: Strip, given: Given) -> Drawing:
    """The first dozen counts of a strip lying along the cut, stretched so that they can be read."""
    shown = min(strip.long_mm, 12 * strip.tick_mm)
    f = 240.0 / shown
    ticks = [x * f for x in beat_strip.ticks(shown, strip.tick_mm)]
    strip_ring = ((-40.0, 0.0), (240.0, 0.0), (240.0, 40.0), (-40.0, 40.0))
    return Drawing(
        "The first counts of the strip beside the cut",
        (
            Area("metal", ((0.0, 40.0), (240.0, 40.0), (240.0, 80.0), (0.0, 80.0))),
            Area("waste", ((0.0, 0.0), (0.0, -30.0), (240.0, -30.0), (240.0, 0.0))),
            Area("paper", strip_ring),
        ),
        (
            Stroke("cut", ((0.0, 0.0), (240.0, 0.0))),
            Stroke("mark", strip_ring, closed=True),
            *(Stroke("edge", ((x, 0.0), (x, 12.0))) for x in ticks),
        ),
        (
            *(Text((x, 21.0), str(i), 0.0, 2.4) for i, x in enumerate(ticks) if x < 232),
            Text((-20.0, 20.0), "count", 0.0, 2.4),
            Text((120.0, 62.0), "part", 0.0, 2.4),
        ),
        (Dim((0.0, -30.0), (strip.tick_mm * f, -30.0), f"one count {given.show(strip.tick_mm)}", -12.0),)
        if len(ticks) > 1
        else (),
    )


def _findings(v: Figure, seconds: float, t: Torch, given: Given) -> tuple[Finding, ...]:
    where, out = BEAT.kind, list(t.findings)
    hand = t.kit.operator
    if not hand.pace_low_mm_s - 1e-9 <= v.value <= hand.pace_high_mm_s + 1e-9:
        slow = v.value < hand.pace_low_mm_s
        message = f"{show_pace(v.value, given.units)} is {'slower' if slow else 'faster'} than a hand holds well"
        band = f"{show_pace(hand.pace_low_mm_s, given.units)} to {show_pace(hand.pace_high_mm_s, given.units)}"
        out.append(Finding("beat-pace", Severity.CAUTION, where, message, band + ", from the kit"))
    if seconds > beat_sound.LONGEST_S:
        message = f"the cut takes {seconds / 60:.0f} min: too long for one sound"
        out.append(Finding("beat-long", Severity.NOTE, where, message, "cut it in stretches, a strip for each"))
    return tuple(out)


def sound(s: SetOut) -> bytes:
    """Return the beat of a beat strip's set-out as a WAV file. ValueError when it would be over 15 minutes long."""
    return beat_sound.wav(
        s["pace_mm_s"], s["tip_path_mm"], s["count_s"], int(s["lead_in_counts"]), mark_mm=s["inch_mark_mm"]
    )


def beat(given: Given) -> SetOut:
    """Return the beat strip of a cut."""
    t = torch_of(given, BEAT.kind)
    v = _pace(given, t)
    faults = Faults(BEAT.kind)
    path, strips = _strips(given, t, v.value, faults)
    for s in strips:
        ticks = s.long_mm / s.tick_mm
        faults.unless(
            ticks <= MOST_TICKS,
            "length" if given.word("line") == "straight" else "diameter",
            f"{ticks:.0f} ticks are too many for a strip",
            f"at most {MOST_TICKS}: a shorter stretch of the cut, or a longer count",
        )
    faults.raise_if_any()
    c, seconds = given["count"], path / v.value
    lead = given.count("lead_in")
    numbers = [
        Number("pace_mm_s", "pace of the tip", v, main=True),
        Number("beat_s", "seconds from inch to inch", exact(pace.beat_s(v.value), "s", "pace.beat", DERIVED)),
        Number("count_s", "seconds from count to count", exact(c, "s", "given", "as asked")),
        *(Number(f"tick_{s.key}_mm", f"from tick to tick, {s.where}",
                 exact(s.tick_mm, "mm", "beat.tick", DERIVED), main=s is strips[0]) for s in strips),
        *(Number(f"strip_{s.key}_mm", f"strip, {s.where}", exact(s.long_mm, "mm", "beat.ticks", DERIVED))
          for s in strips),
        Number("tip_path_mm", "way of the tip", exact(path, "mm", "beat.ticks", DERIVED)),
        Number("cut_s", "time of the cut, arc on", exact(seconds, "s", "beat.tick", DERIVED), main=True),
        Number("counts", "counts to the end", exact(seconds / c, "", "beat.tick", DERIVED)),
        Number("lead_in_counts", "counts before moving off", exact(float(lead), "", "given", "as asked")),
        Number("inch_mark_mm", "the other clicks of the sound, every", exact(_inch(given), "mm", "given", "the inch")),
    ]  # fmt: skip
    every = max(1, math.ceil(seconds / c / 12))
    beside = strips if len(strips) > 1 else ()  # a straight strip shows the tip's own way
    rows = tuple(
        (i * c, i * c * v.value, *(i * s.tick_mm for s in beside)) for i in range(0, int(seconds / c) + 1, every)
    )
    columns = (
        Column("after_s", "after", "s"),
        Column("tip_mm", "the tip has gone", "mm"),
        *(Column(f"on_{s.key}_strip_mm", f"tick, {s.where}", "mm") for s in beside),
    )
    return SetOut(
        BEAT.kind,
        f"Beat strip: {given.word('line')} cut, {given.show(path)} of tip travel in {seconds:.0f} s",
        shown_given(BEAT, given),
        tuple(numbers),
        (Table("ticks", "Where the tip is", columns, rows),),
        (
            "Print the strip at full scale, check the bar with a rule, and cut it along its outline.",
            "Tape it down beside the cut where you see it under the hood, the heavy line on the start.",
            f"Let the beat run: count {lead} before moving off, the arc through the plate by the last of them; when it "
            "is not, stop and begin again."
            if lead
            else "Move off when the arc is through, on a beat.",
            "Pass one tick at each count; the numbers say how far on you should be.",
            "Read the face: lines that trail far, slow down; upright lines and thick dross, speed up and print anew.",
        ),
        _picture(strips[0], given),
        tuple(_sheet(s, t, v.value, given) for s in strips),
        _findings(v, seconds, t, given),
    )


BEAT = Ask(
    "guide", "beat", "Beat strip: a tick at every count of the planned pace, straight or round a circle; and as sound.",
    (
        length("thickness", "plate thickness", least=0.5, most=60),
        choice("line", "what is cut", "straight", "disc", "hole"),
        maybe_length("length", "length of a straight cut", least=5, most=20_000),
        maybe_length("diameter", "diameter of a disc or a hole", least=1, most=5_000),
        maybe_text("pace", "pace, such as 25 in/min or 10 mm/s; empty takes the bench's"),
        number("count", "seconds from count to count", "s", 1.0, least=0.25, most=10),
        count("lead_in", "counts before moving off", 4, least=0, most=32),
        KERF,
    ),
    beat, thickness="thickness", sound=sound, example=(("thickness", "3/8"), ("length", "40")),
)  # fmt: skip

ASKS = (BEAT,)
