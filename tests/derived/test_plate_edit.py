"""What the plate's page writes into a job's text: read back equal, taken out again without a trace, faults told."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lagline.desk import plate_edit as edit
from lagline.planning.fields import read_toml
from lagline.planning.job_file import job_from_text
from lagline.planning.job_pins import pinned
from lagline.planning.pins_held import left_bottom
from lagline.records.errors import LaglineError
from lagline.records.job import Job
from lagline.records.length import read_length

TABLES = """# the pads
units = "in"

[stock]
metal = "steel"
thickness = "3/8"

[[parts]]
name = "pad"        # under the roller
shape = "gusset"
leg_across = "8"
leg_up = "4"
quantity = 3
mirror = true
[parts.edges]
all = "weld"

[[plates]]
name = "A"          # behind the saw
width = 40
height = 20
[plates.stock]
grade = "mild"

[[plates]]
name = "B"
width = 30
height = 20
"""
IN_LINES = """units = "mm"   # one line each
stock = { metal = "steel", thickness = 10 }
parts = [{ name = "pad", shape = "gusset", leg_across = 200, leg_up = 100, quantity = 3, mirror = true }]
plates = [{ name = "A", width = 1000, height = 500 }, { name = "B", width = 800, height = 500 }]
"""
TEXTS = [TABLES, IN_LINES]


def read(text: str) -> Job:
    return job_from_text(text, Path(), "job.toml")[0]


def refusals(make: object, *given: object) -> list[tuple[str, str]]:
    with pytest.raises(LaglineError) as error:
        make(*given)  # type: ignore[operator]
    return [(f.where, f.message) for f in error.value.findings]


def lying(job: Job, left_mm: float, bottom_mm: float, turn_deg: float, over: bool = False) -> dict[str, str]:
    """A form of the page as it comes for a copy that lies there, nothing typed."""
    return {
        "part": "pad", "plate": "A", "left": edit.shown_length(left_mm, job.units),
        "bottom": edit.shown_length(bottom_mm, job.units), "turn": edit.shown_turn(math.radians(turn_deg)),
        "left_mm": f"{left_mm:.9f}", "bottom_mm": f"{bottom_mm:.9f}", "turn_deg": f"{turn_deg:.12f}",
        **({"turned_over": "yes"} if over else {}),
    }  # fmt: skip


PLACE = st.floats(-50, 2000)


@pytest.mark.parametrize("text", TEXTS, ids=["tables", "in lines"])
@given(
    left=PLACE,
    bottom=PLACE,
    turn=st.one_of(st.sampled_from([0, 90, 180, 270]), st.floats(0, 359.9)),
    over=st.booleans(),
)
@settings(deadline=None, max_examples=40)
def test_pinned_where_it_lies_it_lies_there_when_read(
    text: str, left: float, bottom: float, turn: float, over: bool
) -> None:
    before = read(text)
    after = edit.pin(text, lying(before, left, bottom, turn, over))
    (pin,) = read(after).pins
    meant = pinned(before.parts[0], left, bottom, turn, turned_over=over)
    assert (pin.part, pin.plate, pin.move.mirror) == ("pad", "A", over)
    assert left_bottom(before.parts[0], pin.move) == pytest.approx((left, bottom), abs=2e-6)
    assert math.remainder(pin.move.turn - meant.turn, math.tau) == pytest.approx(0, abs=1e-9)
    (key,) = edit.pin_keys(after)
    assert read_toml(edit.let_go(after, key), "job.toml") == read_toml(text, "job.toml")
    for line in text.splitlines():
        if "#" in line:
            assert line.split("#")[1] in after


@pytest.mark.parametrize("text", TEXTS, ids=["tables", "in lines"])
def test_a_number_that_is_typed_is_kept_as_typed(text: str) -> None:
    form = {**lying(read(text), 100, 200, 90), "left": '12-3/8"', "turn": "-45"}
    after = edit.pin(text, form)
    (pin,) = read(after).pins
    assert left_bottom(read(text).parts[0], pin.move) == pytest.approx((12.375 * 25.4, 200), abs=2e-6)
    assert pin.move.turn == pytest.approx(math.radians(315))
    (key,) = edit.pin_keys(after)
    moved = edit.pin(after, {**form, "key": key, "left": "3/4 in", "turned_over": "yes"})
    (pin,) = read(moved).pins
    assert left_bottom(read(text).parts[0], pin.move) == pytest.approx((19.05, 200), abs=2e-6)
    assert pin.move.mirror
    (key,) = edit.pin_keys(moved)
    back = edit.pin(moved, {**form, "key": key})  # the tick taken away again
    assert read(back).pins == read(after).pins


def test_whole_fractions_stay_readable() -> None:
    after = edit.pin(TABLES, lying(read(TABLES), 20 * 25.4, 25.4 * 3 / 8, 90))
    assert read_toml(after, "x")["pins"] == [{"part": "pad", "plate": "A", "left": "20", "bottom": "3/8", "turn": 90}]


@pytest.mark.parametrize(
    ("field", "value"),
    [(f, v) for f in ("left", "bottom") for v in ("", "nan", "inf", "much", "1/0", "3-4", "12,5", "1e9")]
    + [("turn", v) for v in ("", "nan", "inf", "up", "361", "-361", "1e2", "٣")],
)
def test_a_bad_number_is_named_with_its_field(field: str, value: str) -> None:
    form = {**lying(read(TABLES), 100, 100, 90), field: value}
    ((where, message),) = refusals(edit.pin, TABLES, form)
    assert where == field
    assert f'"{value}"' in message


def test_all_bad_numbers_are_told_at_once() -> None:
    form = {**lying(read(TABLES), 100, 100, 90), "left": "", "bottom": "nan", "turn": "round"}
    assert [where for where, _ in refusals(edit.pin, TABLES, form)] == ["left", "bottom", "turn"]


@pytest.mark.parametrize("name", ["part", "plate"])
def test_a_part_or_plate_that_is_not_there_is_refused_by_the_reader(name: str) -> None:
    form = {**lying(read(TABLES), 100, 100, 90), name: "none of these"}
    with pytest.raises(LaglineError, match="none of these"):
        read(edit.pin(TABLES, form))


@pytest.mark.parametrize("text", TEXTS, ids=["tables", "in lines"])
@given(st.lists(st.tuples(*[st.integers(1, 300)] * 4), min_size=1, max_size=4, unique=True))
@settings(deadline=None, max_examples=25)
def test_regions_are_read_back_and_go_without_a_trace(text: str, boxes: list[tuple[int, ...]]) -> None:
    now = text
    for numbers in boxes:
        names = ("left", "bottom", "width", "height")
        now = edit.keep_out(now, 1, {n: f"{v} mm" for n, v in zip(names, numbers, strict=True)})
    job = read(now)
    assert job.plates[0].keep_out == ()
    for loop, (x, y, w, h) in zip(job.plates[1].keep_out, boxes, strict=True):
        xs, ys = zip(*loop.points(), strict=True)
        assert (min(xs), min(ys), max(xs), max(ys)) == pytest.approx((x, y, x + w, y + h))
    keys = edit.region_keys(now, 1)
    assert len(set(keys)) == len(boxes)
    for key in keys:
        now = edit.open_up(now, 1, key)
    assert read_toml(now, "job.toml") == read_toml(text, "job.toml")
    assert refusals(edit.open_up, now, 1, keys[0]) == [("region", "that region is not there any more")]


@pytest.mark.parametrize(
    ("field", "value"),
    [("left", ""), ("bottom", "nan"), ("width", "0"), ("width", "-2"), ("height", "-1/2"), ("height", "high")],
)
def test_a_bad_region_names_its_field(field: str, value: str) -> None:
    whole = {"left": "1", "bottom": "1", "width": "2", "height": "2", field: value}
    assert [where for where, _ in refusals(edit.keep_out, TABLES, 0, whole)] == [field]


def test_a_region_off_the_plate_is_refused_and_one_over_its_edge_is_not() -> None:
    def checked(left: str, bottom: str) -> None:
        text = edit.keep_out(TABLES, 0, {"left": left, "bottom": bottom, "width": "4", "height": "4"})
        edit.check_region(read(text), 0)

    checked("-2", "18")
    checked("39-31/32", "0")
    for left, bottom in (("40", "0"), ("-4", "0"), ("0", "20"), ("200", "200")):
        ((where, message),) = refusals(checked, left, bottom)
        assert (where, message) == ("region", "no part of it lies on the plate")


@pytest.mark.parametrize("text", TEXTS, ids=["tables", "in lines"])
def test_edges_are_read_back_in_one_order(text: str) -> None:
    after = edit.factory_edges(text, 1, ("left", "bottom"))
    assert [p.factory_edges for p in read(after).plates] == [(), ("bottom", "left")]
    assert read(edit.factory_edges(after, 1, ("top",))).plates[1].factory_edges == ("top",)
    assert read_toml(edit.factory_edges(after, 1, ()), "x") == read_toml(text, "x")
    assert edit.factory_edges(text, 1, ()) == text
    assert refusals(edit.factory_edges, text, 1, ("under",))
    assert refusals(edit.factory_edges, text, 7, ("left",))


def test_a_pin_is_found_again_although_another_went_before_it() -> None:
    one = edit.pin(TABLES, lying(read(TABLES), 100, 100, 0))
    two = edit.pin(one, lying(read(TABLES), 400, 100, 90))
    first, second = edit.pin_keys(two)
    left = edit.let_go(two, first)
    assert edit.pin_keys(left) == (second,)
    assert refusals(edit.let_go, left, first) == [("pin", "that pin is not there any more")]
    assert refusals(edit.pin, left, {**lying(read(TABLES), 1, 1, 0), "key": first})


@given(st.floats(-1e5, 1e5), st.sampled_from(["in", "mm"]))
@settings(deadline=None, max_examples=200)
def test_an_exact_length_reads_as_itself(mm: float, units: str) -> None:
    assume(abs(mm) > 1e-6 or mm == 0)
    assert read_length(edit.exact(mm, units), units, "x", signed=True) == pytest.approx(mm, abs=1.1e-6)
