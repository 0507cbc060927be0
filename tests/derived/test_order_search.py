"""The order search against brute force, against a constraint solver as judge, and against its own laws."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.planning.order_search import Problem, best_options, closure, exact, greedy, in_turn, solve
from tests.order_cases import closed_case, open_case
from tests.order_judges import proven, routed


def problem(n: int, options: int, seed: int, pairs: float = 0.3, open_cuts: bool = False) -> Problem:
    """A random problem: places on 500 x 500, three kinds of tool, random precedence from low to high numbers."""
    r = np.random.default_rng(seed)
    m = n * options
    enter = r.uniform(0, 500, (m, 2))
    before = np.triu(r.uniform(size=(n, n)) < pairs / max(1, n / 4), 1)
    shuffle = r.permutation(n)
    near = r.uniform(0, 8, (n, n)) * (r.uniform(size=(n, n)) < 0.3)
    np.fill_diagonal(near, 0)
    kinds = r.integers(0, 3, (2, m))
    return Problem(
        enter,
        r.uniform(0, 500, (m, 2)) if open_cuts else enter,
        r.uniform(1, 10, m),
        kinds[0],
        kinds[1] if open_cuts else kinds[0],
        np.arange(n + 1) * options,
        closure(before[np.ix_(shuffle, shuffle)]),
        near,
        r.uniform(0, 0.2, n),
        40.0,
        6.0,
    )


def allowed(p: Problem, sequence: np.ndarray) -> bool:
    place = np.argsort(sequence)
    return all(place[i] < place[j] for i, j in np.argwhere(p.must))


def check(p: Problem, sequence: np.ndarray, chosen: np.ndarray) -> None:
    assert sorted(sequence) == list(range(p.tasks))
    assert allowed(p, sequence)
    assert all(p.first[t] <= o < p.first[t + 1] for t, o in zip(sequence, chosen, strict=True))


@settings(deadline=None, max_examples=40)
@given(st.integers(1, 5), st.integers(1, 3), st.integers(0, 10**6), st.booleans())
def test_exact_is_brute_force(n: int, options: int, seed: int, open_cuts: bool) -> None:
    p = problem(n, options, seed, open_cuts=open_cuts)
    least = min(
        p.cost(np.array(order), np.array(pick))
        for order in itertools.permutations(range(n))
        if allowed(p, np.array(order))
        for pick in itertools.product(*(range(p.first[t], p.first[t + 1]) for t in order))
    )
    sequence, chosen, cost = solve(p)
    check(p, sequence, chosen)
    assert cost == pytest.approx(least, abs=1e-9)
    assert p.cost(sequence, chosen) == pytest.approx(least, abs=1e-9)


@settings(deadline=None, max_examples=40)
@given(st.integers(1, 6), st.integers(1, 4), st.integers(0, 10**6))
def test_options_of_a_sequence_are_brute_force(n: int, options: int, seed: int) -> None:
    p = problem(n, options, seed, pairs=0.0, open_cuts=True)
    sequence = np.random.default_rng(seed).permutation(n)
    chosen, cost = best_options(p, sequence)
    every = itertools.product(*(range(p.first[t], p.first[t + 1]) for t in sequence))
    assert cost == pytest.approx(min(p.cost(sequence, np.array(pick)) for pick in every), abs=1e-9)
    assert p.cost(sequence, chosen) == pytest.approx(cost, abs=1e-9)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_exact_agrees_with_constraint_solver(seed: int) -> None:
    p = problem(8, 3, seed, open_cuts=seed == 3)
    # Costs are rounded to 1/1000 for the judge: 8 options, 7 links and 28 places are each off by half of that at most.
    least, bound = proven(p)
    assert least == pytest.approx(bound)
    assert solve(p)[2] == pytest.approx(least, abs=43 * 0.5e-3)


@pytest.mark.parametrize("seed", range(5))
def test_annealing_finds_the_exact_answer_where_it_is_known(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    p = problem(11, 4, seed, open_cuts=seed % 2 == 1)
    known = exact(p)
    assert known is not None
    monkeypatch.setattr("lagline.planning.order_search.exact", lambda _: None)
    sequence, chosen, cost = solve(p, seed)
    check(p, sequence, chosen)
    assert cost == pytest.approx(p.cost(*known), rel=1e-9)


@settings(deadline=None, max_examples=8)
@given(st.integers(14, 40), st.integers(1, 5), st.integers(0, 10**6), st.booleans())
def test_search_keeps_its_laws(n: int, options: int, seed: int, open_cuts: bool) -> None:
    """Laws of any search, however short."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("lagline.planning.order_search.MOVES_PER_TASK", 800)
        patch.setattr("lagline.planning.order_search.RESTARTS", (2, 2))
        keeps_its_laws(n, options, seed, open_cuts)


def keeps_its_laws(n: int, options: int, seed: int, open_cuts: bool) -> None:
    p = problem(n, options, seed, open_cuts=open_cuts)
    sequence, chosen, cost = solve(p, seed)
    check(p, sequence, chosen)
    assert p.cost(sequence, chosen) == pytest.approx(cost, rel=1e-9)
    assert cost <= p.cost(*greedy(p)) + 1e-9
    again = solve(p, seed)
    assert (again[0] == sequence).all()
    assert (again[1] == chosen).all()


@pytest.mark.parametrize("case", [lambda: closed_case(1, (2, 2), 6, 4), lambda: open_case(1, 1, 6, 4)])
def test_annealing_finds_what_a_constraint_solver_proves(case, monkeypatch: pytest.MonkeyPatch) -> None:
    p = case()
    least, bound = proven(p)
    assert least == pytest.approx(bound)
    monkeypatch.setattr("lagline.planning.order_search.exact", lambda _: None)
    assert solve(p)[2] == pytest.approx(least, rel=1e-6)


@pytest.mark.deep
@pytest.mark.parametrize("case", [closed_case, open_case])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_shorter_than_a_general_routing_solver(case, seed: int) -> None:
    """60 cuts, ten seconds of guided local search from either of two beginnings (bench/order.py: ten of each)."""
    p = case(seed)
    ours = solve(p)[2]
    assert ours < routed(p, 10.0, "PATH_CHEAPEST_ARC")
    assert ours < routed(p, 10.0, "PARALLEL_CHEAPEST_INSERTION")


@pytest.mark.deep
@pytest.mark.parametrize("make", [lambda s: closed_case(s, (3, 2), 12), lambda s: open_case(s, 1, 12)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_annealing_finds_the_exact_answer_for_eighteen_cuts(make, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    p = make(seed)
    known = exact(p, 10**6)
    assert known is not None
    monkeypatch.setattr("lagline.planning.order_search.exact", lambda _: None)
    assert solve(p, seed)[2] <= 1.02 * p.cost(*known)


def test_the_published_cases_are_what_the_table_says() -> None:
    """Sixty cuts of eight ways in, forty waits; with open cuts, two ways in that end where the other begins."""
    p = closed_case(1)
    assert (p.tasks, len(p.own), int(p.must.sum())) == (60, 480, 40)
    assert (p.enter == p.leave).all()
    p = open_case(1)
    assert p.tasks == 60
    two = [t for t in range(60) if p.first[t + 1] - p.first[t] == 2]
    assert len(two) == 12
    for t in two:
        a, b = p.first[t], p.first[t] + 1
        assert (p.enter[a] == p.leave[b]).all()
        assert (p.enter[b] == p.leave[a]).all()
        assert (p.enter[a] != p.leave[a]).any()


@settings(deadline=None, max_examples=25)
@given(st.integers(2, 20), st.integers(0, 10**6))
def test_in_turn_holds_back_what_stands_too_early(n: int, seed: int) -> None:
    p = problem(n, 1, seed, pairs=1.0)
    wanted = np.random.default_rng(seed).permutation(n)
    made = in_turn(p.must, wanted)
    assert sorted(made) == list(range(n))
    assert allowed(p, made)
    assert in_turn(p.must, made).tolist() == made.tolist()


def test_mending_keeps_new_precedence_and_is_repeatable(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lagline.planning.order_search.RESTARTS", (3, 3))
    p = problem(30, 3, 4, open_cuts=True)
    sequence, _, _ = solve(p)
    before = p.must.copy()
    before[sequence[-1], sequence[0]] = True
    q = replace(p, must=closure(before))
    made = solve(q, 1, sequence)
    check(q, *made[:2])
    assert (solve(q, 1, sequence)[0] == made[0]).all()
    assert solve(q, 1)[2] <= 1.05 * made[2]


def test_thinned_keeps_the_first_ways_of_each() -> None:
    p = problem(20, 5, 1)
    q = p.thinned(60)
    assert len(q.own) == 60
    assert (q.first == np.arange(21) * 3).all()
    assert (q.own == p.own.reshape(20, 5)[:, :3].ravel()).all()
    assert p.thinned(100) is p


def test_greedy_takes_the_nearest() -> None:
    """On a line, from its left end, the nearest next is the next to the right."""
    x = np.array([30.0, 10.0, 20.0, 0.0, 40.0])
    flat, none = np.zeros(5), np.zeros(5, dtype=np.int64)
    places = np.c_[x, flat]
    no = np.zeros((5, 5))
    p = Problem(places, places, flat, none, none, np.arange(6), no.astype(bool), no, flat, 1.0, 0.0)
    assert greedy(p, 3)[0].tolist() == [3, 1, 2, 0, 4]
    assert solve(p)[2] == pytest.approx(40.0)


def test_few_sequences_need_no_compiler() -> None:
    """A long chain of precedence leaves few sets, so it is exact at any length."""
    p = problem(30, 2, 5, pairs=0)
    chain = np.triu(np.ones((30, 30), dtype=bool), 1)
    p = Problem(
        *(p.enter, p.leave, p.own, p.kind_in, p.kind_out, p.first, chain, p.near, p.late, p.walk_mm_s, p.change_s)
    )
    found = exact(p)
    assert found is not None
    assert found[0].tolist() == list(range(30))
    assert p.cost(*found) == pytest.approx(best_options(p, np.arange(30))[1])


def test_too_many_sets_is_not_exact() -> None:
    assert exact(problem(14, 2, 1, pairs=0)) is None


def test_circle_is_an_error() -> None:
    before = np.zeros((3, 3), dtype=bool)
    before[0, 1] = before[1, 2] = before[2, 0] = True
    with pytest.raises(ValueError, match="before themselves"):
        closure(before)


def test_closure_goes_all_the_way() -> None:
    before = np.zeros((4, 4), dtype=bool)
    before[0, 1] = before[1, 2] = before[2, 3] = True
    assert (closure(before) == np.triu(np.ones((4, 4), dtype=bool), 1)).all()


def test_nothing_to_do() -> None:
    none, no = np.zeros(0), np.zeros((0, 0))
    kinds = none.astype(np.int64)
    p = Problem(
        np.zeros((0, 2)), np.zeros((0, 2)), none, kinds, kinds, np.zeros(1, int), no.astype(bool), no, none, 1.0, 1.0
    )
    assert solve(p)[2] == 0.0


def test_compiles_in_memory_where_no_folder_can_be_written(monkeypatch: pytest.MonkeyPatch) -> None:
    from lagline.planning import order_anneal

    real = order_anneal.njit

    def no_folder(*given: object, cache: bool = False) -> object:
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return real(*given)

    monkeypatch.setattr(order_anneal, "njit", no_folder)
    assert order_anneal._compiled(lambda x: x + 1)(2) == 3
