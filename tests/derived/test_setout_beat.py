"""Beat strips and their sound: ticks where the tip is at each count, clicks on the very sample.

3 s/in = 20 in/min, 2 s/in = 30, 1 s/in = 60 (derived).
"""

from __future__ import annotations

import io
import itertools
import math
import wave

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards.setout_picture import overlaps
from lagline.records.errors import LaglineError
from lagline.records.setout import SetOut
from lagline.setouts.beat import sound
from lagline.trade import beat_sound, beat_strip
from tests.ask import ask

FEW = settings(deadline=None, max_examples=20)


def beat(**texts: str) -> SetOut:
    return ask("guide", "beat", {"thickness": "3/8", **texts})


def samples(data: bytes) -> np.ndarray:
    with wave.open(io.BytesIO(data)) as file:
        assert file.getnchannels() == 1
        assert file.getsampwidth() == 2
        assert file.getframerate() == beat_sound.RATE
        return np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")


def onsets(sound: np.ndarray) -> list[int]:
    """First samples of everything heard after a hush."""
    loud = np.flatnonzero(np.abs(sound) > beat_sound.LOUD // 2)
    return [int(i) for i in loud if not np.any(sound[max(0, i - 20) : i])]


@pytest.mark.parametrize(("ipm", "seconds"), [(20, 3), (30, 2), (60, 1)])
def test_an_inch_for_so_many_seconds(ipm, seconds):
    # 3 s/in = 20 ipm, 2 s/in = 30, 1 s/in = 60 (derived)
    s = beat(length="12", pace=f"{ipm} in/min", count=f"{seconds}")
    assert s["tick_line_mm"] == pytest.approx(25.4)
    assert s["beat_s"] == pytest.approx(seconds)
    assert s["counts"] == pytest.approx(12)
    # every count's tick lies under its inch mark
    (sheet,) = s.sheets
    below = sorted(k.points[0][0] for k in sheet.strokes if k.kind == "edge" and len(k.points) == 2)
    above = sorted(k.points[0][0] for k in sheet.strokes if k.kind == "mark")
    assert below == pytest.approx([25.4 * i for i in range(13)])
    assert above == pytest.approx(below)


@FEW
@given(st.floats(2, 40), st.floats(30, 600), st.sampled_from((0.5, 1.0, 2.0)), st.sampled_from(("disc", "hole")))
def test_round_a_circle_ticks_turn_with_the_arm(v, diameter, c, line):
    s = beat(line=line, diameter=f"{diameter} mm", pace=f"{v} mm/s", count=f"{c}")
    # one count turns the arm by the same angle on either strip
    turns = [2 * math.pi * s[f"tick_{k}_mm"] / s[f"strip_{k}_mm"] for k in ("line", "arm")]
    assert turns[0] == pytest.approx(turns[1])
    assert turns[0] == pytest.approx(v * c / (s["strip_arm_mm"] / (2 * math.pi)))
    assert s["strip_line_mm"] == pytest.approx(math.pi * diameter)
    assert (s["strip_arm_mm"] > s["strip_line_mm"]) == (line == "disc")
    assert s["cut_s"] == pytest.approx(s["tip_path_mm"] / v)


@FEW
@given(st.floats(1, 5000), st.floats(0.5, 300))
def test_ticks_cover_the_strip_and_stay_on_it(long, spacing):
    ticks = beat_strip.ticks(long, spacing)
    assert ticks[0] == 0
    assert ticks[-1] <= long + 1e-6
    assert long - ticks[-1] < spacing
    assert all(b - a == pytest.approx(spacing) for a, b in itertools.pairwise(ticks))


@FEW
@given(st.floats(3, 20), st.floats(20, 300), st.sampled_from((0.5, 0.75, 1.0, 1.3)), st.integers(0, 6))
def test_clicks_begin_on_their_very_sample(v, long, c, lead):
    heard = samples(beat_sound.wav(v, long, c, lead))
    rate, go, run = beat_sound.RATE, lead * c, long / v
    counts = [i * c for i in range(lead)] + [go + i * c for i in range(int(run / c + 1e-9) + 1)]
    inches = [go + i * 25.4 / v for i in range(1, int(run * v / 25.4 + 1e-9) + 1)]
    want = sorted({round(t * rate) for t in counts + inches})
    # two that run into each other are heard as one; its second beginning is in the first one's ring
    ring = round(beat_sound.CLICK_S * rate)
    alone = [w for i, w in enumerate(want) if i == 0 or w - want[i - 1] > ring]
    got = [o for o in onsets(heard) if any(abs(o - w) < 2 for w in alone)]
    assert got == alone
    # and silence wherever no click rings
    mask = np.ones(len(heard), dtype=bool)
    for w in want:
        mask[w : w + ring] = False
    assert not heard[mask].any()


def test_clicks_differ_and_mean_what_they_say():
    # 25.4 mm/s, 100 mm, a count each 0.4 s: inches at 1, 2, 3 s after go, no count there
    heard = samples(beat_sound.wav(25.4, 100, 0.4, 2))
    rate = beat_sound.RATE

    def at(second: float, kind: str) -> bool:
        one = beat_sound.click(kind)
        begin = round(second * rate)
        return bool(np.array_equal(heard[begin : begin + len(one)], one))

    assert at(0.0, "lead-in")
    assert at(0.4, "lead-in")
    assert at(0.8, "count")  # go
    assert at(1.2, "count")
    assert at(1.8, "inch")
    assert not at(1.8, "count")
    kinds = [beat_sound.click(k).tobytes() for k in beat_sound.PITCH_HZ]
    assert len(set(kinds)) == 3
    # an inch and a count together are both there, unclipped
    both = samples(beat_sound.wav(25.4, 60, 1.0, 0))[rate : rate + 400].astype(int)
    assert np.array_equal(both, beat_sound.click("count").astype(int) + beat_sound.click("inch"))


def test_sound_of_a_set_out_is_the_sound_of_its_numbers():
    s = beat(length="12", pace="30 in/min", lead_in="3")
    data = sound(s)
    assert data == sound(s)
    assert data == beat_sound.wav(12.7, 304.8, 1.0, 3)
    seconds = len(samples(data)) / beat_sound.RATE
    assert seconds == pytest.approx(3 + 24, abs=0.1)


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        ({"pace_mm_s": 0.0}, "pace must be above zero"),
        ({"pace_mm_s": math.nan}, "pace must be above zero"),
        ({"length_mm": -1.0}, "length must be above zero"),
        ({"count_s": math.inf}, "count must be above zero"),
        ({"mark_mm": 0.0}, "mark must be above zero"),
        ({"lead_in": 65}, "0 to 64"),
        ({"lead_in": -1}, "0 to 64"),
        ({"length_mm": 1e5}, "at most 900 s"),
        ({"count_s": 1e-9}, "100000 clicks"),
    ],
)
def test_sound_is_bounded(bad, says):
    with pytest.raises(ValueError, match=says):
        beat_sound.wav(**{"pace_mm_s": 10.0, "length_mm": 100.0, **bad})


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ({}, "length of the cut is needed"),
        ({"line": "disc"}, "needs its diameter"),
        ({"line": "hole", "diameter": "1/16"}, "no wider than the kerf"),
        ({"length": "12", "pace": "fast"}, "not a pace"),
        ({"length": "12", "pace": "0"}, "out of range"),
        ({"length": "12", "pace": "-5 in/min"}, "negative"),
        ({"length": "12", "pace": "nan"}, "not a pace"),
        ({"length": "12", "pace": "9999 in/min"}, "out of range"),
        ({"length": "12", "count": "0"}, "out of range"),
        ({"length": "12", "lead_in": "1.5"}, "not a whole number"),
        ({"length": "60 ft", "pace": "3 in/min", "count": "1"}, "too many"),
        ({"length": "nan"}, "not a length"),
    ],
)
def test_impossible_asks_are_refused_with_what_works(texts, says):
    with pytest.raises(LaglineError, match=says) as refused:
        beat(**texts)
    assert all(f.allowed for f in refused.value.findings)


def test_a_pace_no_hand_holds_is_said():
    assert any(f.code == "beat-pace" for f in beat(length="12", pace="120 in/min").findings)
    assert not any(f.code == "beat-pace" for f in beat(length="12", pace="25").findings)


@pytest.mark.parametrize("units", ["in", "mm"])
@pytest.mark.parametrize("pace", ["2 mm/s", "10 mm/s", "40 mm/s"])
def test_no_words_on_each_other(units, pace):
    for texts in ({"length": "600 mm"}, {"length": "12 mm"}, {"line": "disc", "diameter": "100 mm"}):
        s = ask("guide", "beat", {"thickness": "10 mm", "pace": pace, **texts}, units=units)
        assert s.picture is not None
        assert overlaps(s.picture) == ()
        for sheet in s.sheets:
            assert overlaps(sheet, full_scale=True) == ()
