"""The heat field: conservation, symmetry, no new extremes, order of convergence, and a finite element judge."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lagline.records.errors import LaglineError
from lagline.trade.heat_field import Field, Track, choose_cell
from lagline.trade.heat_plate import line_source_rise, loss_per_s, warm
from tests.heat_judge import Judge, mode_decay

T_MM = 9.525


def plate(w=300.0, h=200.0, holes=()):
    return shapely.Polygon([(0, 0), (w, 0), (w, h), (0, h)], holes)


class TestEnergy:
    @given(
        st.lists(st.tuples(st.floats(-20, 320), st.floats(-20, 220)), min_size=2, max_size=5, unique=True),
        st.floats(2, 40),
        st.floats(1, 400),
        st.sampled_from(["steel", "stainless", "aluminium"]),
        st.floats(0, 400),
    )
    @settings(deadline=None, max_examples=25)
    def test_with_losses_off_what_went_in_is_there(self, points, pace, heat, metal, rest):
        hole = [(100, 80), (180, 90), (150, 140)]
        f = Field(plate(holes=[hole]), metal, T_MM, 5.0)
        f.cut(Track(tuple(points), pace, heat, 2.0, 500.0, 1.0))
        f.rest(rest)
        assert f.held_j == pytest.approx(f.put_j, rel=1e-9, abs=1e-9)

    def test_a_whole_cut_inside_the_plate_leaves_all_its_heat(self):
        f = Field(plate(), "steel", T_MM, 3.0)
        track = Track(((40, 50.3), (200, 120.7), (250, 60)), 10, 120.0, 3.0, 900.0)
        f.cut(track)
        assert f.put_j == pytest.approx(120 * track.length_mm + 900, rel=1e-12)

    def test_a_cut_along_the_edge_leaves_half(self):
        f = Field(plate(), "steel", T_MM, 4.0)
        f.cut(Track(((0, 0.0), (300, 0.0)), 10, 100.0))
        assert f.put_j == pytest.approx(100 * 300 / 2, rel=0.02)

    def test_with_losses_on_a_lying_plate_cools_by_its_own_law(self):
        loss = loss_per_s("steel", T_MM)
        f = Field(plate(), "steel", T_MM, 5.0, loss)
        f.cut(Track(((50, 100), (250, 100)), 10, 100.0))
        before = f.held_j
        f.rest(1800)
        assert f.held_j == pytest.approx(before * math.exp(-loss * 1800), rel=5e-3)

    def test_the_metal_of_a_plate_is_its_area_whatever_the_squares(self):
        for h in (3.7, 5.0, 8.1):
            f = Field(plate(301.3, 199.1), "steel", T_MM, h)
            assert (f.metal / f.share).sum() * h * h == pytest.approx(301.3 * 199.1, rel=2e-3)


class TestLaws:
    @given(st.integers(0, 10**6), st.floats(5, 900))
    @settings(deadline=None, max_examples=30)
    def test_without_a_source_nothing_is_hotter_or_colder_than_before(self, seed, seconds):
        r = np.random.default_rng(seed)
        f = Field(plate(150, 100), "steel", T_MM, 5.0)
        for _ in range(3):
            a, b = r.uniform(0, 150, 2), r.uniform(0, 100, 2)
            f.cut(Track(((a[0], b[0]), (a[1], b[1])), 12, 150.0))
        for _ in range(4):
            low, high = f.rise[f.metal].min(), f.rise[f.metal].max()
            f.rest(seconds / 4)
            assert f.rise[f.metal].min() >= low - 1e-6 * high
            assert f.rise[f.metal].max() <= high * (1 + 1e-6)

    # a line exactly through middles (off 0) has to lie on one side of them, which turns with the plate's mirror
    @pytest.mark.parametrize(("off", "rel"), [(0.7, 1e-9), (1.3, 1e-9), (2.0, 1e-9), (0.0, 0.05)])
    def test_mirrored_cuts_give_mirrored_heat(self, off, rel):
        fields = []
        for sign in (1, -1):
            f = Field(plate(), "steel", T_MM, 4.0)
            y = 100 + sign * (30 + off)
            f.cut(Track(((40, y), (260, y)), 10, 100.0))
            f.rest(60)
            fields.append(f)
        a, b = fields[0].rise, fields[1].rise[::-1]
        assert np.abs(a - b).max() <= rel * a.max()

    def test_turned_plates_give_turned_heat(self):
        a, b = Field(plate(200, 200), "steel", T_MM, 4.0), Field(plate(200, 200), "steel", T_MM, 4.0)
        a.cut(Track(((30, 81.0), (170, 121.0)), 10, 100.0))
        b.cut(Track(((81.0, 30), (121.0, 170)), 10, 100.0))
        assert np.allclose(a.rise, b.rise.T, rtol=1e-9, atol=1e-9)

    def test_more_pace_less_heat_and_more_heat_hotter(self):
        def peak(pace, heat):
            f = Field(plate(), "steel", T_MM, 4.0)
            f.cut(Track(((40, 100), (260, 100)), pace, heat))
            f.rest(30)
            return f.at((150, 115), f.peak)

        assert peak(10, 100) == pytest.approx(2 * peak(10, 50))  # heat a length as given: linear
        # the same power, as a set gives it: heat a length goes down with pace
        paces = [peak(v, 1000 / v) for v in (5, 10, 20)]
        assert paces == sorted(paces, reverse=True)

    def test_no_heat_crosses_a_kerf(self):
        f = Field(plate(), "steel", T_MM, 4.0)
        f.cut(Track(((150, -5), (150, 205)), 10, 0.0))  # a cold cut parts the plate
        f.cut(Track(((40, 60), (110, 140)), 10, 200.0))
        f.rest(3000)
        right = f.labels([shapely.box(151, 0, 300, 200)]) == 0
        assert f.rise[right].max() == 0.0
        g = Field(plate(), "steel", T_MM, 4.0)
        g.cut(Track(((40, 60), (110, 140)), 10, 200.0))
        g.rest(3000)
        assert g.rise[right].max() > 1.0

    @given(st.floats(0.2, 0.8), st.floats(0.2, 0.8), st.floats(12, 60), st.integers(0, 5))
    @settings(deadline=None, max_examples=20)
    def test_a_loop_cuts_off_what_it_goes_round(self, x, y, radius, turn):
        angles = [turn + k * math.pi / 20 for k in range(41)]
        ring = [(300 * x + radius * math.cos(a), 200 * y + radius * math.sin(a)) for a in angles]
        f = Field(plate(), "steel", T_MM, 4.0)
        f.cut(Track(tuple(ring), 10, 0.0))
        inside = f.labels([shapely.Polygon(ring)]) == 0
        f.cut(Track(((300 * x - 3, 200 * y - 3), (300 * x + 3, 200 * y + 3)), 10, 100.0))
        f.rest(600)
        outside = f.metal & ~inside
        assert f.rise[inside].max(initial=0.0) > 0
        assert f.rise[outside].max() == 0.0

    def test_a_kerf_in_a_narrow_strip_leaves_the_strip_as_hot_as_its_width_says(self):
        # 41.3 mm is no whole number of squares: the strip's mean rise is heat over mass all the same
        f = Field(plate(300, 200), "steel", T_MM, 5.0)
        f.cut(Track(((0, 41.3), (300, 41.3)), 12, 100.0, half_kerf_mm=1.0))
        f.rest(900)
        strip = f.labels([shapely.box(0, 0, 300, 41.3)]) == 0
        hot = (f.rise / f.share)[strip].sum() / (1 / f.share)[strip].sum()
        assert hot == pytest.approx(50 / (41.3 * T_MM * warm("steel").rho_c_j_mm3k), rel=0.01)


class TestConvergence:
    def test_a_cosine_decays_at_second_order(self):
        errors = []
        for n, h in enumerate((20.0, 10.0, 5.0)):
            f = Field(plate(200, 40), "steel", T_MM, h)
            x = f.x0 + h * np.arange(f.rise.shape[1])
            mode = np.where(f.metal, 100 * np.cos(math.pi * x / 200)[None, :], 0.0)
            f.rise[:], f.put_j = mode, 1.0
            steps = 20 * 4**n
            for _ in range(steps):
                f.idle_s = 0.0  # plain steps only
                f.rest(f.step_s)
            errors.append(float(np.abs(f.rise - mode * mode_decay(200, "steel", steps * f.step_s)).max()))
        orders = [math.log2(a / b) for a, b in itertools.pairwise(errors)]
        assert min(orders) > 1.95
        assert max(orders) < 2.3

    def test_long_steps_agree_with_plain_ones(self):
        fields = []
        for plain in (True, False):
            f = Field(plate(), "steel", T_MM, 4.0)
            f.cut(Track(((40, 90), (260, 130)), 10, 100.0))
            for _ in range(300 if plain else 1):
                if plain:
                    f.idle_s = 0.0
                f.rest(1.0 if plain else 300.0)
            fields.append(f)
        a, b = fields
        assert a.steps > 2.5 * b.steps
        assert np.abs(a.rise - b.rise).max() < 0.01 * a.rise.max()
        assert np.abs(a.peak - b.peak)[np.abs(a.peak) > 20].max() < 0.02 * 150

    @pytest.mark.parametrize("off", [0.0, 0.5, 0.81])
    def test_beside_the_line_it_is_the_line_source(self, off):
        # Rosenthal's line source (from memory), 10 to 30 mm off the line, wherever the squares lie: within 2 %
        power, pace, h = 2000.0, 10.0, 4.0
        f = Field(plate(900, 400), "steel", T_MM, h)
        y0 = 200 + off * h
        f.cut(Track(((50, y0), (850, y0)), pace, power / pace))
        j = round((350 - f.x0) / h)
        ahead = -np.geomspace(1, 2500, 300)
        seen = 0
        for i in range(f.rise.shape[0]):
            y = abs(f.place(i, j)[1] - y0)
            if 10 <= y <= 30:
                peak = max(line_source_rise(power, pace, x, y, "steel", T_MM) for x in ahead)
                assert f.peak[i, j] == pytest.approx(peak, rel=0.02)
                seen += 1
        assert seen >= 9


class TestJudge:
    """Linear finite elements with Crank-Nicolson on the same small plate (tests/heat_judge.py)."""

    @pytest.mark.parametrize("kerf", [False, True])
    def test_a_spot_heated_beside_a_kerf(self, kerf):
        # 1 kW for 20 s at one place, the plate slit half across beside it: at 20 mm and more they agree
        w, h = 240.0, 160.0
        judge = Judge(w, h, 2.5, "steel", T_MM, 80.0 if kerf else None, 120.0)
        load = judge.lay_in(1000.0, 65.0, 100.0)
        judge.run(load, 20.0, 0.1)
        assert judge.held_j() == pytest.approx(20_000, rel=1e-6)
        f = Field(plate(w, h), "steel", T_MM, 2.0)
        if kerf:
            f.cut(Track(((0, 80), (120, 80)), 20.0, 0.0))
        f.open_kerfs = False
        f.cut(Track(((64.5, 100), (65.5, 100)), 1000.0, 0.0, 20.0, 20_000.0))
        assert f.held_j == pytest.approx(20_000, rel=1e-6)
        for x, y in ((65, 125), (90, 100), (35, 115), (65, 75), (65, 60), (140, 60)):
            here = f.at((x, y))
            assert here == pytest.approx(judge.at(x, y), rel=0.02, abs=0.3)
        if kerf:
            assert f.at((65, 70)) < 0.5 * f.at((65, 90))

    def test_a_moving_cut_between_two_kerfs(self):
        w, h, pace, heat = 240.0, 160.0, 8.0, 100.0
        judge = Judge(w, h, 4.0, "steel", T_MM, 80.0, w)  # cut through, each half by itself
        dt = 0.05
        steps = round(160 / pace / dt)
        from scipy.sparse.linalg import splu

        a = splu((judge.c / dt + judge.k / 2).tocsc())
        for n in range(steps):
            x = 40 + (n + 0.5) * dt * pace
            load = judge.lay_in(heat * pace / 2, x, 80, True) + judge.lay_in(heat * pace / 2, x, 80, False)
            judge.rise = a.solve(judge.c @ judge.rise / dt - judge.k @ judge.rise / 2 + load)
        f = Field(plate(w, h), "steel", T_MM, 2.0)
        f.cut(Track(((-4, 80), (244, 80)), 50.0, 0.0))  # a cold kerf, then the heat along it
        f.cut(Track(((40, 80), (200, 80)), pace, heat))
        assert judge.held_j() == pytest.approx(16_000, rel=1e-3)
        for x, y in ((80, 92), (120, 92), (120, 100), (160, 100), (120, 60), (120, 120)):
            assert f.at((x, y)) == pytest.approx(judge.at(x, y), rel=0.03, abs=0.3)


class TestInput:
    def test_bad_numbers_are_told(self):
        line = ((0.0, 0.0), (10.0, 0.0))
        for bad in (
            lambda: Track(line, math.nan, 100.0),
            lambda: Track(line, 0.0, 100.0),
            lambda: Track(line, 10.0, math.inf),
            lambda: Track(((0.0, 0.0),), 10.0, 1.0),
            lambda: Track(((0.0, math.nan), (1.0, 1.0)), 10.0, 1.0),
            lambda: Field(plate(), "steel", math.nan, 4.0),
            lambda: Field(plate(), "steel", T_MM, 0.0),
            lambda: Field(plate(), "wood", T_MM, 4.0),
            lambda: Field(plate(100_000, 100_000), "steel", T_MM, 1.0),
            lambda: Field(shapely.Polygon(), "steel", T_MM, 1.0),
        ):
            with pytest.raises(LaglineError):
                bad()

    def test_a_plate_of_one_square_works(self):
        f = Field(shapely.box(0, 0, 4, 4), "steel", T_MM, 4.0)
        assert f.metal.sum() == 1
        f.cut(Track(((1, 2), (3, 2)), 10, 10.0))
        f.rest(100)
        assert f.held_j == pytest.approx(f.put_j)
        assert f.put_j == pytest.approx(20)

    def test_squares_grow_with_the_work_and_never_shrink_below_what_is_wanted(self):
        whole = plate(2400, 1200)
        assert choose_cell(whole, "steel", 600, 0, 0) == (4.0, False)
        sizes = [choose_cell(whole, "steel", 3000, rest, 80)[0] for rest in (0, 5000, 20_000, 200_000)]
        assert sizes == sorted(sizes)
        cell, coarse = choose_cell(plate(20_000, 20_000), "aluminium", 3000, 1e5, 100)
        assert coarse
        assert (20_000 / cell) ** 2 <= 1_000_001
        assert choose_cell(plate(80, 60), "steel", 60, 0, 0) == (1.5, False)
