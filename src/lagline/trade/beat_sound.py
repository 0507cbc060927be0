"""The beat as sound: a click at each count, another at each inch, and a lead-in; a WAV file as bytes."""

from __future__ import annotations

import io
import math
import wave
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lagline.trade.register import formula

RATE = 16_000  # samples each second
LONGEST_S = 900.0
CLICK_S = 0.025
LOUD = 14_000  # of 32767: a count and an inch together still fit
PITCH_HZ = {"lead-in": 660.0, "count": 1000.0, "inch": 2000.0}


@dataclass(frozen=True, slots=True)
class Click:
    """One click: when [s from the file's start] and which: ``lead-in``, ``count`` or ``inch``."""

    at_s: float
    kind: str


@formula(
    "beat.sound",
    text="lead-in at 0, c ... (m-1) c; go at m c; count every c, inch every mark/v after it",
    gives="times of the clicks from the start of the sound [s]",
    source="definition",
)
def clicks(
    pace_mm_s: float, length_mm: float, count_s: float = 1.0, lead_in: int = 4, mark_mm: float = 25.4
) -> tuple[Click, ...]:
    """Return every click in order; the hand moves off at the first ``count``, which comes after the lead-in.

    Parameters: pace of the tip, cut length [mm], length of a count [s], how many counts before moving off, distance
    between the other clicks [mm].
    ValueError for a pace, length, count or mark of nought or less or not finite, a lead-in outside 0 to 64, or a sound
    over 900 s.
    """
    for word, value in (("pace", pace_mm_s), ("length", length_mm), ("count", count_s), ("mark", mark_mm)):
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{word} must be above zero, got {value}")
    if not 0 <= lead_in <= 64:
        raise ValueError(f"a lead-in has 0 to 64 counts, got {lead_in}")
    run_s = length_mm / pace_mm_s
    if lead_in * count_s + run_s > LONGEST_S:
        raise ValueError(f"the beat would sound for {lead_in * count_s + run_s:.0f} s, at most {LONGEST_S:.0f} s")
    if run_s / min(count_s, mark_mm / pace_mm_s) > 100_000:
        raise ValueError("more than 100000 clicks")
    go = lead_in * count_s
    out = [Click(i * count_s, "lead-in") for i in range(lead_in)]
    out += [Click(go + i * count_s, "count") for i in range(math.floor(run_s / count_s + 1e-9) + 1)]
    mark_s = mark_mm / pace_mm_s
    out += [Click(go + i * mark_s, "inch") for i in range(1, math.floor(run_s / mark_s + 1e-9) + 1)]
    return tuple(sorted(out, key=lambda c: (c.at_s, c.kind)))


def click(kind: str) -> NDArray[np.int16]:
    """Return the samples of one click: a tone that dies away, loud from its first sample on."""
    t = np.arange(round(CLICK_S * RATE)) / RATE
    tone = np.cos(2 * np.pi * PITCH_HZ[kind] * t) * np.exp(-t / (CLICK_S / 5))
    return np.round(LOUD * tone).astype(np.int16)


def wav(pace_mm_s: float, length_mm: float, count_s: float = 1.0, lead_in: int = 4, mark_mm: float = 25.4) -> bytes:
    """Return the beat as a WAV file: 16 bit, one channel, 16000 samples each second; see :func:`clicks`.

    A click begins on sample ``round(at_s * RATE)``. The same arguments give the same bytes.
    """
    beats = clicks(pace_mm_s, length_mm, count_s, lead_in, mark_mm)
    end_s = max(lead_in * count_s + length_mm / pace_mm_s, beats[-1].at_s)
    sound = np.zeros(round(end_s * RATE) + round(CLICK_S * RATE) + 1, dtype=np.int32)
    for beat in beats:
        at, one = round(beat.at_s * RATE), click(beat.kind)
        sound[at : at + len(one)] += one
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(np.clip(sound, -32768, 32767).astype("<i2").tobytes())
    return out.getvalue()
