"""Pinned copies stay, regions kept out stay free, grain runs along the plate's: whatever the way of laying out."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.layout import lay_out
from lagline.planning.layout_check import check_layout
from lagline.records.finding import Severity
from lagline.records.geometry import Move, Outline
from lagline.records.job import Pin, Plate, Stock
from lagline.records.plan import Blank, Layout
from lagline.shapes.region import loop_polygon, polygon
from tests.generate import (
    STEEL,
    blank,
    circle,
    polygon_loop,
    random_blanks,
    random_plate,
    rectangle_blank,
    rectangle_plate,
)

KERF, GAP = 1.6, 6.0
WAYS = ("quick", "guided")
PLATE = rectangle_plate("A", 900, 600, margin_mm=10)
PAD = rectangle_blank("pad", 120, 80, 10)


def laid(
    blanks: tuple[Blank, ...],
    plates: tuple[Plate, ...],
    pins: tuple[Pin, ...] = (),
    way: str = "quick",
    gap: float = GAP,
) -> Layout:
    """Lay out; whatever the case, the layout holds."""
    kerfs = {STEEL.key: KERF}
    layout = lay_out(blanks, plates, gap, seed=1, method=way, pins=pins, kerfs_mm=kerfs, seconds=1)
    assert check_layout(layout, blanks, plates, pins) == ()
    assert all(f.code != "layout-check" for f in layout.findings)
    return layout


def moves(layout: Layout, part: int = 0) -> set[Move]:
    return {p.move for p in layout.placed if p.part == part}


def regions(rng: random.Random, plate: Plate) -> Plate:
    """The plate with a region kept out and a grain."""
    _, _, w, h = plate.outline.bounds()
    x, y = rng.uniform(0, w * 0.7), rng.uniform(0, h * 0.7)
    corners = [(x, y), (x + w * 0.2, y), (x + w * 0.25, y + h * 0.25), (x, y + h * 0.2)]
    return replace(plate, keep_out=(polygon_loop(corners),), grain_deg=rng.choice((None, 0.0, 90.0)))


@pytest.mark.parametrize("way", WAYS)
@settings(deadline=None, max_examples=5)
@given(seed=st.integers(0, 10_000), gap=st.sampled_from((0.0, 3.0, 9.0)))
def test_pins_stay_and_all_else_keeps_off(way: str, seed: int, gap: float) -> None:
    rng = random.Random(seed)
    plates = tuple(replace(regions(rng, random_plate(seed + n)), name=f"P{n}") for n in range(2))
    blanks = tuple(
        replace(b, part=replace(b.part, grain_deg=rng.choice((None, 0.0, 90.0)))) for b in random_blanks(seed, 4)
    )
    pins = []
    for b in blanks[:3]:
        turn = rng.choice((0.0, math.pi / 2, 0.4))
        x0, y0, *_ = polygon(Move(turn=turn).outline(b.cut)).bounds
        _, _, w, h = plates[0].outline.bounds()
        pins.append(Pin(b.part.name, "P0", Move(rng.uniform(0, w / 2) - x0, rng.uniform(0, h / 2) - y0, turn)))
    layout = laid(blanks, plates, tuple(pins), way, gap)
    off = {f.where for f in layout.findings if f.code == "pin-cannot"}
    for pin, (k, b) in zip(pins, enumerate(blanks), strict=False):
        assert (pin.move in moves(layout, k)) != (b.part.name in off)


@pytest.mark.parametrize("way", [*WAYS, "dense"])
def test_all_ways_lay_round_pins_and_regions(way: str) -> None:
    keep_out = polygon_loop([(500, 200), (700, 200), (700, 400), (500, 400)])
    plate = replace(PLATE, keep_out=(keep_out,))
    pins = (Pin("pad", "A", Move(300, 250)), Pin("pad", "A", Move(700, 420, 0.7)))
    layout = laid((PAD,), (plate,), pins, way)
    assert layout.unplaced == ()
    assert {p.move for p in pins} <= moves(layout)
    region = loop_polygon(keep_out)
    assert all(region.intersection(polygon(p.move.outline(PAD.cut))).area < 1e-6 for p in layout.placed)


@pytest.mark.parametrize("way", WAYS)
def test_a_region_is_touched_and_the_gap_not_added(way: str) -> None:
    # 120 clear beside the region, no margin: the pad just fits
    plate = replace(
        rectangle_plate("A", 220, 80), keep_out=(polygon_loop([(120, -10), (230, -10), (230, 90), (120, 90)]),)
    )
    assert len(laid((rectangle_blank("pad", 120, 80, 1),), (plate,), (), way).placed) == 1


@pytest.mark.parametrize("way", WAYS)
def test_pins_that_cannot_hold_are_named_and_their_copies_not_laid_elsewhere(way: str) -> None:
    other = rectangle_plate("thin", 500, 500)
    other = replace(other, stock=Stock("steel", "plain", 6.0, "6 mm"))
    for pins, says in (
        ((Pin("pad", "A", Move(850, 250)),), "over the plate's edge"),
        ((Pin("pad", "A", Move(200, 200)), Pin("pad", "A", Move(250, 230))), "overlaps a pinned copy of pad"),
        ((Pin("pad", "A", Move(200, 200)), Pin("pad", "A", Move(321, 200))), "less than a kerf from"),
        ((Pin("pad", "thin", Move(200, 200)),), "not made of"),
        ((Pin("pad", "A", Move(400, 200, mirror=True)),), "mirrored"),
        ((Pin("pad", "B", Move(200, 200)),), "no such plate"),
    ):
        layout = laid((PAD,), (PLATE, other), pins, way)
        (finding,) = [f for f in layout.findings if f.code.startswith("pin")]
        assert (finding.code, finding.severity, finding.where) == ("pin-cannot", Severity.NO_GO, "pad")
        assert says in finding.message
        assert layout.unplaced == ((0, 1),)
        assert not any(f.code == "layout-no-room" for f in layout.findings)


def test_more_pins_than_copies_or_of_a_part_that_is_not_there() -> None:
    one = replace(PAD, part=replace(PAD.part, quantity=1))
    pins = (Pin("pad", "A", Move(100, 100)), Pin("pad", "A", Move(400, 100)), Pin("tab", "A", Move(600, 100)))
    layout = laid((one,), (PLATE,), pins)
    assert [f.code for f in layout.findings] == ["pin-cannot", "pin-cannot"]
    assert moves(layout) == {pins[0].move}


@pytest.mark.parametrize("way", WAYS)
def test_pins_near_an_edge_or_each_other_hold_with_a_caution(way: str) -> None:
    pins = (Pin("pad", "A", Move(2, 100)), Pin("pad", "A", Move(2 + 120 + 4, 100)))
    layout = laid((PAD,), (PLATE,), pins, way)
    assert {p.move for p in pins} <= moves(layout)
    near = [f for f in layout.findings if f.code == "pin-near"]
    assert [f.severity for f in near] == [Severity.CAUTION] * 2
    assert "margin" in near[0].message
    assert "gap" in near[1].message


def test_pins_a_kerf_apart_share_it() -> None:
    # what one layout laid may be pinned in the next
    first = laid((PAD,), (PLATE,), (), "guided")
    pins = tuple(Pin("pad", "A", p.move) for p in first.placed)
    again = laid((PAD,), (PLATE,), pins, "quick")
    assert again.shared == first.shared
    assert again.findings == ()


def test_bands_line_up_with_what_is_pinned() -> None:
    pins = (Pin("pad", "A", Move(300, 250)),)
    layout = laid((PAD,), (PLATE,), pins, "guided")
    (pinned,) = [n for n, p in enumerate(layout.placed) if p.move == pins[0].move]
    assert any(pinned in pair for pair in layout.shared)


@pytest.mark.parametrize("way", [*WAYS, "dense"])
@pytest.mark.parametrize("turns", [(), (0.0, 90.0, 180.0, 270.0)])
def test_grain_runs_along_the_plates(way: str, turns: tuple[float, ...]) -> None:
    long = rectangle_blank("rail", 200, 50, 6, turns_deg=turns)
    long = replace(long, part=replace(long.part, grain_deg=90.0))  # across the rail
    plates = (replace(PLATE, grain_deg=0.0), replace(PLATE, name="B", grain_deg=30.0 if not turns else 90.0))
    layout = laid((long,), plates, (), way)
    assert layout.unplaced == ()
    for p in layout.placed:
        grain = math.degrees(p.move.turn) + 90.0
        assert abs(math.remainder(grain - (plates[p.plate].grain_deg or 0.0), 180.0)) < 1e-6


def test_plates_of_different_grain_take_what_each_can() -> None:
    # 500 long with the grain lengthways: only the second plate is long enough along its grain
    long = rectangle_blank("rail", 700, 50, 3)
    long = replace(long, part=replace(long.part, grain_deg=0.0))
    tall = replace(PLATE, grain_deg=90.0)
    wide = replace(PLATE, name="B", grain_deg=0.0)
    for way in WAYS:
        layout = laid((long, rectangle_blank("pad", 90, 90, 4)), (tall, wide), (), way)
        assert {p.plate for p in layout.placed if p.part == 0} == {1}
        assert layout.unplaced == ()


def test_no_turn_along_the_grain_is_named() -> None:
    slant = replace(PAD, part=replace(PAD.part, grain_deg=45.0))
    layout = laid((slant,), (replace(PLATE, grain_deg=0.0),))
    assert layout.unplaced == ((0, 10),)
    (finding,) = layout.findings
    assert finding.code == "layout-grain"


def test_a_round_part_with_grain_is_turned() -> None:
    disc = blank("disc", Outline(circle((0, 0), 50, "rim")))
    disc = replace(disc, part=replace(disc.part, grain_deg=90.0))
    layout = laid((disc,), (replace(PLATE, grain_deg=0.0),))
    assert abs(math.degrees(layout.placed[0].move.turn)) in (90.0, 270.0)


def test_a_mirrored_part_keeps_its_grain() -> None:
    # only mirrored does the knee fit; its grain, 30 deg on the drawing, is then 150
    shape = [(0.0, 0.0), (400.0, 0.0), (120.0, 300.0), (0.0, 300.0)]
    image = [(400 - x, y) for x, y in shape[::-1]]
    knee = blank("knee", Outline(polygon_loop(shape)), may_mirror=True, turns_deg=(0.0,))
    knee = replace(knee, part=replace(knee.part, grain_deg=30.0))
    for grain, count in ((150.0, 1), (30.0, 0)):
        plate = Plate("A", "offcut", Outline(polygon_loop(image)), STEEL, 0.0, grain_deg=grain)
        assert len(laid((knee,), (plate,)).placed) == count


def test_a_pin_across_the_grain_holds_with_a_caution() -> None:
    rail = replace(PAD, part=replace(PAD.part, grain_deg=0.0))
    pins = (Pin("pad", "A", Move(300, 250, math.pi / 2)),)
    layout = laid((rail,), (replace(PLATE, grain_deg=0.0),), pins)
    assert pins[0].move in moves(layout)
    assert [f.code for f in layout.findings] == ["pin-grain"]
