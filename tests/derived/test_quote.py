"""Prices: parts sum to the whole, rates scale their lines and nothing else, bad rates are told all at once."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.cards import quote_sheet
from lagline.desk.quote_desk import priced, quote_dict, sheet
from lagline.planning.compare import compare
from lagline.planning.kit_file import generic_kit, kit_from_text
from lagline.planning.quote import RATES, quote_of, with_rates
from lagline.planning.wear_plan import wear_plan
from lagline.records.errors import LaglineError
from lagline.records.figure import Figure
from lagline.records.plan import PlateUse, Timetable
from lagline.trade import cost
from lagline.trade.break_even import Way, even_count, even_length_mm, saw_way
from tests.sample_plan import sample_plan

PLAN = sample_plan()


def ends(f: Figure) -> tuple[float, float, float]:
    return f.low, f.value, f.high


def test_the_parts_sum_to_the_price():
    q = quote_of(PLAN, {"overhead": "15", "margin": "20 %"})
    for i in range(3):
        parts = math.fsum(ends(x.money)[i] for x in q.lines)
        assert parts == pytest.approx(ends(q.cost)[i])
        assert ends(q.overhead)[i] == pytest.approx(0.15 * parts)
        assert ends(q.margin)[i] == pytest.approx(0.2 * ends(q.price)[i])  # a share of the price
        assert ends(q.price)[i] == pytest.approx(1.15 * parts / 0.8)
        assert ends(q.minutes)[i] == pytest.approx(math.fsum(ends(x.minutes)[i] for x in q.lines if x.minutes))
    assert {x.group for x in q.lines} == {"labour", "metal", "used up"}
    assert len({x.key for x in q.lines}) == len(q.lines)


@settings(deadline=None, max_examples=15)
@given(st.sampled_from(["labour", "metal", "tips", "power"]), st.floats(0.01, 500), st.floats(0.1, 20))
def test_a_rate_scales_its_own_lines_and_nothing_else(name, rate, times):
    groups = {"labour": ("labour",), "metal": ("metal",), "tips": ("nozzles", "electrodes"), "power": ("power", "air")}
    a, b = quote_of(PLAN, {name: f"{rate:.6f}"}), quote_of(PLAN, {name: f"{rate * times:.6f}"})
    by = round(rate * times, 6) / round(rate, 6)
    assert [x.key for x in a.lines] == [x.key for x in b.lines]
    for x, y in zip(a.lines, b.lines, strict=True):
        mine = x.group in groups[name] or x.key.startswith(groups[name])
        for u, v in zip(ends(x.money), ends(y.money), strict=True):
            assert v == pytest.approx(u * (by if mine else 1.0), rel=1e-9, abs=1e-12)


def test_plate_less_offcut_by_hand():
    # 100 kg at 2 each, 60 kg left of which a clear 40 kg is kept at half: 200 - 40; from 200 - 120 to 200
    assert ends(cost.plate(200, 200, 100, 60, 40, 2, "USD")) == pytest.approx((80, 160, 200))
    # an offcut at half itself: 100 - 40, from 100 - 60 to what it would cost new
    assert ends(cost.plate(100, 200, 100, 60, 40, 2, "USD")) == pytest.approx((40, 60, 200))
    # written down as worth 20: what is kept of it is never worth more for its weight
    assert ends(cost.plate(20, 20, 100, 60, 40, 2, "USD")) == pytest.approx((8, 12, 20))
    assert ends(cost.plate(200, 200, 100, 60, 0, 2, "USD")) == pytest.approx((80, 200, 200))


@settings(deadline=None, max_examples=80)
@given(st.floats(1, 1e4), st.floats(1, 1e3), st.floats(0, 1), st.floats(0, 1), st.floats(0.1, 50))
def test_a_plate_is_never_charged_below_nothing_nor_above_its_worth(worth, kg, left, kept, price):
    f = cost.plate(worth, worth, kg, left * kg, kept * left * kg, price, "USD")
    assert -1e-6 <= f.low <= f.value <= f.high <= worth * (1 + 1e-9)


@pytest.mark.parametrize(
    ("given_rates", "codes"),
    [
        ({"labour": "-3"}, ["quote-rate"]),
        ({"labour": "nan", "margin": "95"}, ["quote-rate", "quote-rate"]),
        ({"metal": "1e5"}, ["quote-rate"]),
        ({"overhead": "1,5"}, ["quote-rate"]),
        ({"power": "inf"}, ["quote-rate"]),
        ({"tips": "ten"}, ["quote-rate"]),
        ({"labour": "9" * 60}, ["quote-rate"]),
        ({"labor": "3"}, ["quote-field"]),
        ({"shop": "a\x07b"}, ["quote-shop"]),
        ({"shop": "x" * 200}, ["quote-shop"]),
    ],
)
def test_bad_rates_are_told_all_at_once(given_rates, codes):
    with pytest.raises(LaglineError) as caught:
        quote_of(PLAN, given_rates)
    assert [f.code for f in caught.value.findings] == codes
    assert all(f.allowed for f in caught.value.findings)


def test_empty_fields_keep_the_kit_and_an_empty_shop_is_a_line_to_fill_in():
    empty = {r.name: "  " for r in RATES} | {"shop": "   "}
    assert with_rates(PLAN.kit, empty, ("steel",)).bench == PLAN.kit.bench
    assert quote_of(PLAN, empty).shop == ""
    data = quote_sheet.quote_data(PLAN, quote_of(PLAN, empty), (), None, "letter")
    assert data["shop"] == ""
    assert quote_of(PLAN, {"shop": " Quay   yard "}).shop == "Quay yard"


def test_nothing_to_cut_costs_nothing_and_says_so():
    none = replace(
        PLAN, steps=(), verdicts=(), timetable=replace(PLAN.timetable, clocks=(), arc_s=0.0, rest_s=0.0),
        layout=replace(PLAN.layout, placed=()),
        plates=tuple(PlateUse(u.plate, 0.0, 0.0, u.left_kg, 0.0, u.offcut_mm) for u in PLAN.plates),
    )  # fmt: skip
    q = quote_of(none, {"overhead": "10", "margin": "10"})
    assert q.lines == ()
    assert q.price.value == 0
    assert "quote-nothing" in {f.code for f in q.findings}
    assert sheet(priced(none, compared=True), "a4").startswith(b"%PDF")
    assert isinstance(none.timetable, Timetable)


def test_what_is_not_in_the_price_is_said():
    assert "quote-no-go" in {f.code for f in quote_of(PLAN).findings}
    over = replace(PLAN, layout=replace(PLAN.layout, unplaced=((0, 2),)))
    told = [f for f in quote_of(over).findings if f.code == "quote-left-over"]
    assert len(told) == 1
    assert "2 of cheek found no place and are not in the price" in told[0].message


def test_more_steps_never_fewer_tips():
    whole = wear_plan(PLAN.kit, PLAN.settings, PLAN.steps, PLAN.timetable.clocks)
    half = wear_plan(PLAN.kit, PLAN.settings, PLAN.steps[:12], PLAN.timetable.clocks[:12])
    assert whole[0].nozzles.value >= half[0].nozzles.value
    assert whole[0].stock >= half[0].stock


def test_json_is_flat_and_its_lines_sum():
    d = quote_dict(priced(PLAN, {"margin": "10"}, compared=True))
    assert math.fsum(x["cost_money"] for x in d["lines"]) == pytest.approx(d["cost_money"], abs=0.01)
    assert d["price_low_money"] <= d["price_money"] <= d["price_high_money"]
    assert {"compared", "break_even", "tips", "findings"} <= set(d)


@pytest.mark.parametrize(
    ("line", "where"),
    [
        ('margin = "95 %"', "quote: margin"),
        ("margin = -0.1", "quote: margin"),
        ('overhead = "a lot"', "quote: overhead"),
        ("disc_cost = -1", "quote: disc_cost"),
        ("disc_cost = nan", "quote: disc_cost"),
        ('disc_life = "0"', "quote: disc_life"),
        ('grind = "0 in/min"', "quote: grind"),
        ("saw_mm2_s = { value = 5, low = 9, high = 10 }", "quote: saw_mm2_s"),
        ("labour = 3", "quote: labour"),
        ("shop = 3", "quote: shop"),
    ],
)
def test_a_kit_with_a_bad_quote_table_is_refused_with_its_field(line, where):
    with pytest.raises(LaglineError) as caught:
        kit_from_text(f"[quote]\n{line}\n", "kit.toml")
    assert [f.where for f in caught.value.findings] == [f"kit.toml: {where}"]


def test_a_kit_with_a_quote_table_is_read():
    kit, _ = kit_from_text(
        '[quote]\nshop = " Quay  yard "\nmargin = "20 %"\noverhead = 0\ndrill_cost = 1\n', "kit.toml"
    )
    p = kit.pricing
    assert p is not None
    assert (p.shop, p.margin, p.overhead, p.drill_cost.value, p.drill_cost.default) == ("Quay yard", 0.2, 0, 1, False)
    assert p.grind_mm_s.default
    assert kit_from_text('[quote]\nshop = ""\n', "kit.toml")[0].pricing == generic_kit().pricing


# ---- torch, drill and saw ----


ways = st.builds(Way, st.floats(0, 1000), st.floats(0, 10))


@settings(deadline=None, max_examples=100)
@given(ways, ways)
def test_at_the_break_even_length_both_come_to_the_same(a, b):
    at = even_length_mm(a, b)
    if at is None:
        better = [a.of(x) <= b.of(x) for x in (1e-6, 1.0, 1e3, 1e6)]
        assert len(set(better)) == 1 or a.each_mm == b.each_mm or a.once == b.once
        return
    assert a.of(at) == pytest.approx(b.of(at), rel=1e-6, abs=1e-6)


@settings(deadline=None, max_examples=100)
@given(st.floats(0, 1e4), st.floats(0, 100), st.floats(0, 100))
def test_from_the_break_even_count_the_drill_pays_and_not_before(setup, torch, drill):
    n = even_count(setup, torch, drill)
    if n is None:
        assert torch <= drill
        return
    slack = 1e-6 * (1 + setup)
    assert setup + n * drill <= n * torch + slack
    assert n == 1 or setup + (n - 1) * drill >= (n - 1) * torch - slack


def test_saw_by_hand():
    # 10 mm plate, 1000 mm long, 25 mm2/s, 3 min to set up: 180 + 10 x 1000/25 = 580 s; twice the sawing in stainless
    assert saw_way(10, 180, 25, 1.0).of(1000) == pytest.approx(580)
    assert saw_way(10, 180, 25, 2.0).of(1000) == pytest.approx(980)


def test_every_hole_is_compared_once_and_none_is_drilled_beyond_the_drill():
    made = compare(PLAN)
    numbers = [n for p in made.pairs for n in p.numbers]
    assert len(numbers) == len(set(numbers))
    for p in made.pairs:
        assert p.count == len(p.numbers)
        if p.tool == "drill":
            assert (p.other_minutes is None) == (p.size_mm > PLAN.kit.guides.drill_max_mm)
        for f in (p.torch_minutes, p.torch_money):
            assert 0 < f.low <= f.value <= f.high
    dear = compare(PLAN, with_rates(PLAN.kit, {"labour": "500"}, ()))
    for a, b in zip(made.pairs, dear.pairs, strict=True):
        assert b.torch_money.value > a.torch_money.value
        assert b.torch_minutes == a.torch_minutes
