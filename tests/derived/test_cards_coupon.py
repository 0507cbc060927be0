"""The printed coupon: full scale, everything at its place, the same bytes, room for what is measured; its charts."""

from __future__ import annotations

import io
import itertools
import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import pdfplumber
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from lagline.cards import chart, coupon_card, coupon_sketches
from lagline.cards.coupon_charts import drift_pictures, pace_picture
from lagline.cards.coupon_picture import Scrap, picture, scrap
from lagline.cards.svg import SCREEN
from lagline.cards.widths import text_width
from lagline.planning.coupon_plan import CouponPlan, PlannedCut, ThirdCut
from lagline.planning.kit_file import generic_kit
from lagline.planning.pace_chart import pace_chart
from lagline.records.coupon import Coupon, CouponCut, Dross, Learned
from lagline.trade.tip_drift import drifts

PT_MM = 25.4 / 72
KIT = generic_kit()


def cut(number: int, beat_s: float) -> PlannedCut:
    return PlannedCut(number, beat_s, 25.4 / beat_s, 6 * beat_s, 0.5, "the middle")


def plan(**changes: object) -> CouponPlan:
    made = CouponPlan(
        "45 A", "steel", 9.525, 45.0, 152.4, (cut(1, 4.5), cut(2, 3.0), cut(3, 6.0)),
        (ThirdCut("clean", "clean", cut(3, 6.0), 0.6), ThirdCut("slow dross", "clean", cut(3, 2.25), 0.4)),
        0.27, True, 80.0, True, True,
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def sizes(page: pdfplumber.page.Page) -> list[tuple[float, float]]:
    return [((o["x1"] - o["x0"]) * PT_MM, (o["bottom"] - o["top"]) * PT_MM)
            for o in (*page.lines, *page.curves, *page.rects)]  # fmt: skip


@pytest.fixture(scope="module")
def printed() -> bytes:
    return coupon_card.pdf(plan(), KIT, "letter")


@pytest.mark.parametrize(("paper", "units"), [("letter", "in"), ("a4", "mm")])
def test_coupon_is_two_pages_at_full_scale(paper: str, units: str) -> None:
    made = coupon_card.scrap_of(plan(), KIT, units)
    with pdfplumber.open(io.BytesIO(coupon_card.pdf(plan(), KIT, paper, units))) as read:
        assert len(read.pages) == 2
        found = sizes(read.pages[0])

    def there(w: float, h: float) -> bool:
        return any(abs(a - w) < 0.03 and abs(b - h) < 0.03 for a, b in found)

    assert there(made.width, made.height)
    c = made.cuts[0]
    assert there(abs(c.stop - c.start), made.kerf)  # the kerf at its true width and length
    assert made.circle is not None
    assert any(abs(w - 2 * made.circle.arm) < 0.05 and abs(h - 2 * made.circle.arm) < 0.05 for w, h in found)
    for bar in (100.0, 101.6):
        assert sum(abs(w - bar) < 0.02 and h < 0.1 for w, h in found) == 1
        assert sum(abs(h - bar) < 0.02 and w < 0.1 for w, h in found) == 1


def test_marks_are_as_far_apart_as_is_timed_and_guides_at_the_cup(printed: bytes) -> None:
    with pdfplumber.open(io.BytesIO(printed)) as read:
        page = read.pages[0]
        upright = [o for o in (*page.lines, *page.curves) if o["x1"] - o["x0"] < 0.01]
        marks = sorted(
            {round(o["x0"] * PT_MM, 2) for o in upright if abs((o["bottom"] - o["top"]) * PT_MM - 16) < 0.02}
        )
    assert len(marks) == 2
    assert marks[1] - marks[0] == pytest.approx(152.4, abs=0.03)
    made = coupon_card.scrap_of(plan(), KIT, "in")
    for c in made.cuts:
        assert c.y - c.guide_y == pytest.approx(KIT.torch.cup_radius_mm.value)
        assert c.seconds * c.pace_mm_s == pytest.approx(152.4)


def test_same_coupon_same_bytes_and_no_scaling(printed: bytes) -> None:
    assert coupon_card.pdf(plan(), KIT, "letter") == printed
    assert PdfReader(io.BytesIO(printed)).viewer_preferences.print_scaling == "/None"  # type: ignore[union-attr]


def test_form_has_room_for_everything_and_says_the_order(printed: bytes) -> None:
    with pdfplumber.open(io.BytesIO(printed)) as read:
        assert len(read.pages) == 2
        text = " ".join((read.pages[1].extract_text() or "").split())
        boxes = list(read.pages[1].chars)
        assert all(o["x0"] >= 0 and o["x1"] <= read.pages[1].width for o in boxes)
        assert all(o["top"] >= 0 and o["bottom"] <= read.pages[1].height for o in boxes)
    for word in ("seconds", "through?", "kerf, top", "kerf, bottom", "near edge", "far edge", "gap, right", "gap, left",
                 "lag", "dross", "crater", "disc", "hole", "gouge width", "nick", "29 CFR 1910.252"):  # fmt: skip
        assert word in text, word
    for told in ("27 s", "18.0 s", "36 s", "4.50 s/in", "13 in/min", "13.5 s, 2.25 s/in", "slow dross"):
        assert told in text, told
        # boxes for a hand in a glove
        rules = sorted({round(o["top"] * PT_MM, 1) for o in read.pages[1].lines if o["x1"] - o["x0"] > 100})
        rows = [b - a for a, b in itertools.pairwise(rules) if b - a > 3]
    assert sum(h >= 10 for h in rows) >= 13, rows
    bare = coupon_card.pdf(plan(turn_mm=0.0, pierce=False, gouge=False), KIT, "letter")
    text = PdfReader(io.BytesIO(bare)).pages[1].extract_text()
    assert "crater" not in text
    assert "disc" not in text
    assert "gouge" not in text.lower()


def test_wide_arm_is_tiled_at_true_scale() -> None:
    made = coupon_card.pdf(plan(turn_mm=240.0), KIT, "letter")
    with pdfplumber.open(io.BytesIO(made)) as read:
        assert len(read.pages) > 2
        assert len(PdfReader(io.BytesIO(made)).pages) == len(read.pages)
        for page in read.pages[:-1]:
            found = sizes(page)
            assert sum(abs(w - 100) < 0.02 and h < 0.1 for w, h in found) == 1
            assert "row" in (page.extract_text() or "")
            made_scrap = coupon_card.scrap_of(plan(turn_mm=240.0), KIT, "in")
            long = abs(made_scrap.cuts[0].stop - made_scrap.cuts[0].start)
            assert any(abs(w - long) < 0.05 and abs(h - made_scrap.kerf) < 0.05 for w, h in found)


def test_left_handed_swirl_mirrors_the_travel() -> None:
    def made(side: str) -> Scrap:
        return scrap((5.0, 8.0, 11.0), 150, 2.0, 11.0, square_side=side, units="mm", arm_mm=40)

    right, left = made("right"), made("left")
    assert (right.width, right.height) == (left.width, left.height)
    for a, b in zip(right.cuts, left.cuts, strict=True):
        assert b.start == pytest.approx(right.width - a.start)
        assert b.marks == pytest.approx(tuple(right.width - m for m in a.marks))
        # the kept piece lies below: right of travel going right, left of travel going left
        assert (a.stop > a.start, b.stop < b.start) == (True, True)
        assert a.guide_y == b.guide_y < a.y
    assert right.circle is not None
    assert left.circle is not None
    assert right.circle.clockwise
    assert not left.circle.clockwise


@settings(deadline=None, max_examples=60)
@given(
    st.floats(60, 300), st.floats(0.8, 4.0), st.floats(6, 20), st.one_of(st.none(), st.floats(20, 150)), st.booleans(),
    st.booleans(), st.sampled_from(["left", "right"]),
)  # fmt: skip
def test_nothing_on_the_scrap_runs_into_anything(
    length: float, kerf: float, cup: float, arm: float | None, pierce: bool, gouge: bool, side: str
) -> None:
    made = scrap((5.0, 8.0, 11.0), length, kerf, cup, square_side=side, units="in", arm_mm=arm, pierce=pierce,
                 gouge=gouge, guide_width_mm=50)  # fmt: skip
    for c in made.cuts:
        assert all(0 < x < made.width for x in (*c.marks, c.stop))
        assert abs(c.marks[1] - c.marks[0]) == pytest.approx(length)
        assert abs(made.width - abs(c.stop - c.start)) > 10  # the strip stays on
        assert 0 < c.guide_y < c.y < made.height
    for a, b in itertools.pairwise(made.cuts):
        assert a.guide_y > b.y + kerf / 2 + 10  # a guide leaves the next line's words free
    foot = made.gouge[0][1] + 12 if made.gouge else 0
    if made.circle is not None:
        r = arm + kerf / 2  # type: ignore[operator]
        x, y = made.circle.centre
        assert r < x < made.width - r
        assert foot <= y - r
        assert y + r <= made.cuts[-1].guide_y
        assert math.dist(made.circle.start, made.circle.centre) == pytest.approx(arm)
        if made.pierce is not None:
            assert math.dist(made.pierce, made.circle.centre) > r + 4
    ElementTree.fromstring(picture(made, paper=True))
    ElementTree.fromstring(picture(made, paper=False))


def test_scrap_refuses_what_cannot_be_drawn() -> None:
    for paces, length, kerf in (((), 150, 2.0), ((5.0, 0.0), 150, 2.0), ((5.0,), 0, 2.0), ((5.0,), 150, 0.0)):
        with pytest.raises(ValueError):
            scrap(paces, length, kerf, 11.0, square_side="right", units="in")


@pytest.mark.parametrize("name", coupon_sketches.NAMES)
def test_every_sketch_is_a_picture_with_a_title_inside_its_frame(name: str) -> None:
    for paper in (True, False):
        root = ElementTree.fromstring(coupon_sketches.sketch(name, paper=paper))
        assert root.findtext("{*}title")
        for t in root.iter("{http://www.w3.org/2000/svg}text"):
            bold = t.get("font-weight") == "bold"
            half = text_width(t.text or "", float(t.get("font-size", "0")), bold=bold) / 2
            assert float(t.get("x", "0")) - half >= 0
            assert float(t.get("x", "0")) + half <= 120


# ---- charts ----


def coupons(kerfs: tuple[float, ...]) -> list[Coupon]:
    return [
        Coupon(f"c-2026-10-{n:02d}-01", f"2026-10-{n:02d}", "45 A", "steel", 9.525, 45.0,
               (CouponCut(152.4, 16.0, True, kerf_top_mm=k, dross=Dross.NONE),
                CouponCut(152.4, 9.0, True, kerf_top_mm=k, dross=Dross.FAST)), arc_min=9.0 * n)
        for n, k in enumerate(kerfs, 1)
    ]  # fmt: skip


def texts(svg: str) -> list[str]:
    return [t.text or "" for t in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def test_drift_says_going_only_when_it_is() -> None:
    (steady,) = drift_pictures(drifts(coupons((1.8, 1.85, 1.78, 1.82)))[0])
    assert "chance" in steady.said
    assert not steady.going
    assert "ll-odd" not in steady.values
    (going,) = drift_pictures(drifts(coupons((1.8, 1.8, 1.8, 1.95, 2.1, 2.25, 2.4, 2.55)))[0])
    assert going.going
    assert "the tip is going" in going.said
    assert going.values.count('class="ll-odd"') == 1
    assert "tip is done" in texts(going.values)
    assert "limit" in texts(going.sums)
    (first,) = drift_pictures(drifts(coupons((1.8,)))[0])
    assert "One coupon" in first.said


def circles(svg: str) -> list[tuple[float, float]]:
    found = ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}circle")
    return [(float(c.get("cx", "0")), -float(c.get("cy", "0"))) for c in found if c.get("class") == "ll-dot"]


@pytest.mark.parametrize("units", ["in", "mm"])
def test_pace_chart_holds_every_cut_and_names_every_line(units: str) -> None:
    made = pace_chart(KIT, Learned(), "45 A", "steel", 45.0, tuple(coupons((1.8, 1.9))))
    svg = pace_picture(made, units)
    assert len(circles(svg)) == 4
    said = " ".join(texts(svg))
    for name in ("slow dross below", "fast dross above", "best", "not through above", "your hand holds this"):
        assert all(word in said for word in name.split()), name
    assert sum(t == "f" for t in texts(svg)) == 2
    colours = set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]{6})"', svg))
    known = {getattr(SCREEN, f) for f in SCREEN.__dataclass_fields__}
    assert colours <= known  # no colour that is not of this steel and chalk
    # a faster cut lies higher, at the same thickness
    (x0, slow), (x1, fast) = circles(svg)[:2]
    assert x0 == x1
    assert fast > slow


def test_chart_places_are_where_the_values_are() -> None:
    x, y = (chart.Axis(0, 10, ((0, "0"), (10, "10")), n) for n in ("x", "y"))
    dots = [chart.Dot(a, b, "") for a, b in ((0, 0), (10, 10), (5, 5), (2.5, 7.5))]
    (o, top, middle, other) = circles(chart.chart(x, y, title="t", desc="d", dots=dots))
    for axis in (0, 1):
        assert middle[axis] == pytest.approx((o[axis] + top[axis]) / 2, abs=0.01)
    assert other[0] == pytest.approx(o[0] + 0.25 * (top[0] - o[0]), abs=0.01)
    assert other[1] == pytest.approx(o[1] + 0.75 * (top[1] - o[1]), abs=0.01)
    outside = chart.chart(x, y, title="t", desc="d", dots=[chart.Dot(11, 5, ""), chart.Dot(5, -1, "")])
    assert circles(outside) == []


@settings(deadline=None, max_examples=100)
@given(st.lists(st.floats(0, 100), min_size=1, max_size=8))
def test_labels_are_pushed_apart_and_keep_their_order(wanted: list[float]) -> None:
    placed = chart.spread_out(wanted, 10, 0, 100)
    in_order = [placed[i] for i in sorted(range(len(wanted)), key=lambda i: wanted[i])]
    assert all(b - a >= 10 - 1e-9 for a, b in itertools.pairwise(in_order))
    assert all(-1e-9 <= p <= 100 + 1e-9 for p in placed)


@settings(deadline=None, max_examples=100)
@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4))
def test_ticks_are_round_few_and_inside(low: float, wide: float) -> None:
    ticks = chart.round_ticks(low, low + wide)
    assert 1 <= len(ticks) <= 7
    assert all(low - 1e-6 * wide <= t <= low + wide * (1 + 1e-6) for t in ticks)


def test_bars_share_one_scale() -> None:
    svg = chart.span_bars(chart.Span(2.0, 1.0, 3.0), chart.Span(2.2, 2.0, 2.4), "mm", "kerf")
    spans = re.findall(r'class="ll-span" d="M([\d.]+) -?[\d.]+L([\d.]+)', svg)
    (a, b), (c, d) = ((float(p), float(q)) for p, q in spans)
    assert (d - c) / (b - a) == pytest.approx(0.2, abs=0.001)
    assert (c - a) / (b - a) == pytest.approx(0.5, abs=0.001)


def test_the_form_says_which_way_a_gap_counts_and_what_dross_looks_like():
    rows = {name: (picture, hint) for picture, name, hint, _ in coupon_card.form_rows()}
    for side in ("right", "left"):
        picture, hint = rows[f"gap, {side} piece"]
        assert picture == "gap"  # both ways on both rows
        assert "+ bottom stands out" in hint
        assert "\N{MINUS SIGN}\N{NO-BREAK SPACE}bottom lies back" in hint
    assert "thick, bubbly" in rows["dross"][1]
    assert "thin hard bead" in rows["dross height"][1]
    assert re.search(">\\s*slow\\s*<", coupon_sketches.sketch("dross-slow", paper=True))
    assert re.search(">\\s*fast\\s*<", coupon_sketches.sketch("dross-fast", paper=True))
    assert any("does not go through, stop" in c for c in coupon_card.CAUTIONS)
