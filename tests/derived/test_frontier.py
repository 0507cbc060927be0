"""The ways to choose between: none is bettered in everything, every aim has its best, the same job gives the same."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.choose_layout import LaidOut, laid_out
from lagline.planning.estimate import Estimate
from lagline.planning.frontier import MOST, NEAR, Choice, frontier, worth
from lagline.planning.intake import intake
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.planning.settings import choose_settings
from lagline.records.plan import Blank, Layout

AIMS = ("least money", "fewest minutes", "least plate", "best offcut")
WAYS = ("guided", "quick")
JOB, _ = job_from_text(
    """
units = "in"
stock = { metal = "steel", thickness = "1/4" }
parts = [
  { name = "pad", shape = "rectangle", width = "6", height = "4", quantity = 3 },
  { name = "washer", shape = "disc", diameter = "3", quantity = 2 },
]
plates = [{ width = "30", height = "20" }]
""",
    Path(),
    "job.toml",
)


def measures(e: Estimate) -> tuple[float, float, float, float]:
    """Money, minutes, metal and offcut, least is best."""
    return e.money, e.minutes, e.metal, -e.offcut_mm2


def made_up(numbers: list[tuple[int, float, float, float, float, float]]) -> tuple[Choice, ...]:
    out = []
    for i, (left, minutes, metal, money, w, h) in enumerate(numbers):
        laid = LaidOut(Layout((), (), 0.0, "quick"), (), (), Estimate(left, 1, minutes, metal, money, (w, h)))
        out.append(Choice((), "quick", i, laid))
    return tuple(out)


AMOUNT = st.floats(1, 1000)
NUMBERS = st.lists(
    st.tuples(st.integers(0, 2), AMOUNT, st.one_of(st.just(0.0), AMOUNT), AMOUNT, AMOUNT, AMOUNT), max_size=9
)


@given(NUMBERS)
@settings(deadline=None, max_examples=80)
def test_every_aim_has_one_choice_and_nothing_tried_is_better_at_it(numbers: list[Any]) -> None:
    made = made_up(numbers)
    kept = worth(made)
    names = [name for c in kept for name in c.best_at]
    assert sorted(names) == (sorted(AIMS) if made else [])
    assert len(kept) <= MOST
    if not made:
        return
    fewest = min(c.estimate.left_over for c in made)
    full = [c.estimate for c in made if c.estimate.left_over == fewest]
    for c in kept:
        assert c.best_at
        assert c.estimate.left_over == fewest
        for name in c.best_at:
            own, best = ([measures(e)[AIMS.index(name)] for e in these] for these in ([c.estimate], full))
            assert own[0] <= min(best) + NEAR * abs(min(best)) + 1e-6


@given(NUMBERS)
@settings(deadline=None, max_examples=80)
def test_none_is_worse_than_another_in_everything(numbers: list[Any]) -> None:
    kept = worth(made_up(numbers))
    for a in kept:
        for b in kept:
            assert (
                a is b
                or any(x < y for x, y in zip(measures(a.estimate), measures(b.estimate), strict=True))
                or (measures(a.estimate) == measures(b.estimate))
            )


@given(NUMBERS, st.randoms())
@settings(deadline=None, max_examples=40)
def test_the_order_they_were_tried_in_does_not_change_the_best(numbers: list[Any], random: Any) -> None:
    made = made_up(numbers)
    mixed = list(made)
    random.shuffle(mixed)
    a, b = worth(made), worth(tuple(mixed))
    assert (a and a[0].estimate.money) == (b and b[0].estimate.money)


def test_the_cheapest_comes_first_and_is_the_least_money() -> None:
    kept = worth(made_up([(0, 10, 5, 50, 9, 9), (0, 20, 4, 40, 9, 9), (1, 1, 1, 1, 99, 99)]))
    assert [c.seed for c in kept] == [1, 0]
    assert kept[0].best_at[0] == "least money"


@dataclass
class Looked:
    """One search: what it gave, and what it told on its way."""

    choices: tuple[Choice, ...] = ()
    blanks: tuple[Blank, ...] = ()
    told: list[float] = field(default_factory=list)
    came: list[tuple[Choice, ...]] = field(default_factory=list)


def look(stop: Callable[[Looked], bool] = lambda _: False) -> Looked:
    out = Looked()
    out.blanks, out.choices = frontier(
        JOB, generic_kit(), ways=WAYS, tell=lambda share, _: out.told.append(share),
        found=lambda _, c: out.came.append(c), stop=lambda: stop(out),
    )  # fmt: skip
    return out


@pytest.fixture(scope="module")
def looked() -> Looked:
    return look()


def as_known(c: Choice) -> tuple[object, ...]:
    return c.method, c.seed, c.best_at, c.laid.layout, c.estimate


def test_they_come_one_by_one(looked: Looked) -> None:
    assert looked.blanks == intake(JOB)[0]
    assert len(looked.came) == 4  # two ways, two seeds
    assert looked.came[-1] == looked.choices
    assert looked.told == sorted(looked.told)
    assert 0 <= looked.told[0] <= looked.told[-1] <= 1


def test_the_same_job_gives_the_same_choices(looked: Looked) -> None:
    assert [as_known(c) for c in look().choices] == [as_known(c) for c in looked.choices]


def test_a_choice_is_what_the_job_gives_when_it_takes_it(looked: Looked) -> None:
    kit = generic_kit()
    own, _ = choose_settings(looked.blanks, kit, None)
    assert looked.choices
    for c in looked.choices:
        again = laid_out(replace(JOB, layout=c.method, seed=c.seed), kit, looked.blanks, own, c.method)
        assert again.layout == c.laid.layout
        assert again.estimate == c.estimate
        assert c.estimate.left_over == sum(n for _, n in again.layout.unplaced)


@pytest.mark.parametrize("after", [0, 2])
def test_stopped_it_gives_the_best_so_far(looked: Looked, after: int) -> None:
    part = look(lambda so_far: len(so_far.came) >= after)
    assert len(part.came) == after
    assert part.choices == (part.came[-1] if after else ())
    assert part.choices == (looked.came[after - 1] if after else ())


def test_a_stop_in_the_middle_of_a_way_loses_no_part() -> None:
    asked: list[int] = []

    def stop() -> bool:
        asked.append(1)
        return len(asked) > 3

    _, choices = frontier(JOB, generic_kit(), ways=("quick",), stop=stop)
    assert len(asked) > 3
    assert len(choices) == 1
    layout = choices[0].laid.layout
    assert len(layout.placed) + choices[0].estimate.left_over == sum(p.quantity for p in JOB.parts)
