"""The part that is left equals the drawing: the torch is driven along its guides and the kerf taken away."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
import shapely

from lagline.planning.kit_file import generic_kit
from lagline.planning.proof import prove, torch_path
from lagline.records.finding import Severity
from lagline.records.geometry import Arc, Line, Loop, Move, Outline
from lagline.records.plan import ArmGuide, Method, Start, StraightGuide, TemplateGuide
from lagline.shapes.region import chain_line
from tests.cutting import box, cut_on_paper, part_polygon, plain_setting, turned
from tests.generate import circle, random_blanks, rectangle_blank
from tests.sample_plan import blank as sample_blank


def part_of(where: str) -> str:
    """The part's name without copy and hole."""
    return where.split(" #")[0].split(",")[0]


def check_job(seed: int, **options: object) -> int:
    """One generated job; returns how many parts came out right. Every other part has its own no-go finding."""
    blanks = random_blanks(seed, 10)
    _, steps, left, findings, plate, layout = cut_on_paper(blanks, entry=seed, **options)  # type: ignore[arg-type]
    stopped = {part_of(f.where) for f in findings if f.severity is Severity.NO_GO}
    for e in left:
        name = layout.placed[e.placed].name(blanks)
        assert e.right or part_of(name) in stopped, (seed, name, e)
    assert len(prove(left, blanks, layout)) == sum(not e.right for e in left)
    return sum(e.right for e in left)


@pytest.mark.parametrize("seed", range(10))
def test_part_left_equals_the_drawing(seed: int):
    assert check_job(seed) >= 8


@pytest.mark.parametrize("seed", range(100, 104))
def test_square_side_left_gives_the_same_part(seed: int):
    assert check_job(seed, kit=turned(generic_kit(), "left")) >= 8


@pytest.mark.parametrize(("kerf", "cup"), [(1.1, 8.0), (2.8, 12.5)])
def test_other_kerfs_and_cups(kerf: float, cup: float):
    setting = plain_setting(random_blanks(7, 1)[0].part.stock, kerf=kerf, cup=cup)
    assert check_job(7, setting=setting) >= 7


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(1000, 1300))
def test_part_left_equals_the_drawing_deep(seed: int):
    check_job(seed)


def test_a_wrong_guide_offset_is_caught():
    """The law must be able to fail: a cup half a millimetre off gives parts half a millimetre off."""
    from lagline.planning.proof import what_is_left

    blanks = (rectangle_blank("plate", 200, 120),)
    setting = plain_setting(blanks[0].part.stock)
    _, steps, left, _, plate, layout = cut_on_paper(blanks, setting=setting)
    assert left[0].right
    wrong = plain_setting(blanks[0].part.stock, cup=setting.cup_radius_mm.value + 0.5)
    off = what_is_left((plate,), blanks, layout, steps, (wrong,))
    assert not off[0].right


@pytest.mark.parametrize("seed", range(6))
def test_no_start_or_run_in_touches_a_part_and_kerfs_stay_apart(seed: int):
    blanks = random_blanks(seed, 10)
    cuts, steps, _, findings, plate, layout = cut_on_paper(blanks, entry=seed)
    alone = {c.id for c in cuts if not c.open}  # lines shared by neighbours cross in the waste
    kerf = plain_setting(blanks[0].part.stock).kerf_mm.value
    parts = [part_polygon(blanks[p.part], layout, i) for i, p in enumerate(layout.placed)]
    swaths: dict[int, list[shapely.Geometry]] = {}
    unable = {part_of(f.where) for f in findings if f.code == "no-room-to-start"}
    for s in steps:
        if s.method is Method.DRILL or part_of(layout.placed[s.placed].name(blanks)) in unable:
            continue
        swath = chain_line(s.path).buffer(kerf / 2)
        if s.cut in alone:
            swaths.setdefault(s.placed, []).append(swath)
        assert min(p.distance(shapely.Point(s.path[0].start)) for p in parts) > kerf / 2 - 0.03
        for p in parts:
            assert not swath.intersects(p.buffer(-0.03))  # chords of arcs may touch
    whole = {i: shapely.union_all(g) for i, g in swaths.items()}
    for a, b in itertools.combinations(whole.values(), 2):
        assert a.intersection(b).area < 1e-6


def test_a_rectangle_by_hand():
    """200 x 120 mm, kerf 1.7, cup 11: worked by arithmetic, side by side with the plan."""
    blanks = (rectangle_blank("plate", 200, 120),)
    cuts, steps, _, _, _, layout = cut_on_paper(blanks)
    assert [s.method for s in steps] == [Method.STRAIGHTEDGE] * 4
    assert [s.start for s in steps][1:] == [Start.KERF] * 3
    outline = part_polygon(blanks[0], layout, 0)
    for s in steps:
        guide = s.guide
        assert isinstance(guide, StraightGuide)
        want = 11.0 - 0.85 if guide.side == "kept" else 11.0 + 0.85
        assert guide.offset_mm.value == pytest.approx(want)
        near = shapely.LineString(guide.near)
        assert near.distance(shapely.Point(s.line[0].start)) == pytest.approx(want)
        middle = shapely.Point(s.path[-1].start).distance(outline)
        assert middle >= 0.85 - 1e-6
        assert outline.buffer(1e-6).intersects(shapely.centroid(near)) == (guide.side == "kept")
        # part on the right of travel
        h = math.radians(s.heading_deg)
        mid = shapely.line_interpolate_point(chain_line(s.line), 0.5, normalized=True)
        right = shapely.Point(mid.x + math.sin(h), mid.y - math.cos(h))
        assert outline.contains(right)


def test_a_ring_by_hand():
    """Disc and hole with the circle arm: arm is D/2 + k/2 for the disc, D/2 - k/2 for the hole."""
    from tests import generate

    rng = __import__("random").Random(3)
    blank = generate.blank("ring", generate.ring(rng, 320.0))
    _, steps, left, _, _, _ = cut_on_paper((blank,))
    assert left[0].right
    outer = blank.cut.outer.segments[0]
    hole = blank.cut.holes[0].segments[0]
    assert isinstance(outer, Arc)
    assert isinstance(hole, Arc)
    arms = [s.guide.arm_mm.value for s in steps if isinstance(s.guide, ArmGuide)]
    assert arms == pytest.approx([hole.radius - 0.85, outer.radius + 0.85])
    assert steps[-1].guide.pivot_in_drop  # type: ignore[union-attr]
    assert steps[-1].guide.to_cup_edge_mm.value == pytest.approx(outer.radius + 0.85 - 11.0)  # type: ignore[union-attr]


def test_holes_come_before_their_outline_and_small_holes_are_drilled():
    from tests import generate

    for seed in range(8):
        blanks = random_blanks(seed, 8)
        cuts, *_ = cut_on_paper(blanks)
        for c in cuts:
            if c.role == "outline":
                mine = {o.id for o in cuts if o.placed == c.placed and o.role != "outline"}
                assert mine <= set(c.after)
            if c.role == "drill":
                assert c.diameter_mm < 19.0
    assert generate.SHAPES


def test_where_piercing_is_beyond_the_set_starts_are_drilled_or_at_an_edge():
    blanks = random_blanks(2, 8)
    setting = plain_setting(blanks[0].part.stock, pierce=False)
    _, steps, *_ = cut_on_paper(blanks, setting=setting)
    assert {s.start for s in steps} <= {Start.EDGE, Start.DRILLED, Start.KERF, Start.NONE}
    assert Start.DRILLED in {s.start for s in steps}


def test_no_room_to_start_is_said():
    blanks = (rectangle_blank("tight", 100, 100), rectangle_blank("next", 100, 100))
    _, _, _, findings, _, _ = cut_on_paper(blanks, gap=0.5, margin=0.5)
    assert any(f.code in ("no-room-to-start", "guide-no-hold") for f in findings)


def test_templates_are_inset_by_cup_less_half_kerf():
    for seed in range(4):
        blanks = random_blanks(seed, 10)
        _, steps, *_ = cut_on_paper(blanks)
        for s in steps:
            if isinstance(s.guide, TemplateGuide):
                assert s.guide.inset_mm.value == pytest.approx(11.0 - 0.85)
                edge = shapely.LineString(s.guide.edge)
                gap = shapely.distance(edge, shapely.points([q for g in s.line for q in g.points(0.05)]))
                assert gap.max() <= 11.0 - 0.85 + 0.02


def test_a_window_filled_by_another_part_is_started_from_that_parts_place():
    """A part nested in a window is cut first; where it dropped out is an opening to start the window from."""
    from lagline.planning.cuts import make_cuts
    from lagline.planning.kit_file import generic_kit as kit
    from lagline.records.geometry import Line, Loop, Move, Outline
    from lagline.records.plan import Layout, Placed
    from tests.cutting import box
    from tests.generate import blank

    def rect(x: float, y: float, w: float, h: float, prefix: str) -> Loop:
        pts = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        return Loop(tuple(Line(a, b) for a, b in zip(pts, pts[1:] + pts[:1], strict=True)),
                    tuple(f"{prefix}{i}" for i in range(4)))  # fmt: skip

    frame = blank("frame", Outline(rect(0, 0, 300, 300, "e"), (rect(50, 50, 200, 200, "h1."),)))
    inner = rectangle_blank("inner", 178, 178)
    from lagline.records.job import Plate

    plate = Plate("A", "plate", box(400, 400), frame.part.stock, 10.0)
    layout = Layout((Placed(0, 1, 0, Move(50, 50)), Placed(1, 1, 0, Move(111, 111))), (), 11.0, "by hand")
    cuts, findings = make_cuts((frame, inner), (plate,), layout, (plain_setting(plate.stock),), kit())
    window = next(c for c in cuts if c.role == "window")
    assert {e.start for e in window.entries} == {Start.EDGE}
    assert next(c.id for c in cuts if c.placed == 1) in window.after
    assert not [f for f in findings if f.severity is Severity.NO_GO]


def test_a_slot_narrower_than_the_kerf_is_a_no_go_named_with_its_place():
    from tests.generate import blank, polygon_loop

    notched = [(0, 0), (120, 0), (120, 80), (60.6, 80), (60.6, 40), (59.4, 40), (59.4, 80), (0, 80)]
    made = blank("notched", Outline(polygon_loop([(float(x), float(y)) for x, y in notched])))
    _, _, left, findings, _, _ = cut_on_paper((made,))
    told = [f for f in findings if f.code == "narrower-than-kerf"]
    assert len(told) == 1
    assert told[0].severity is Severity.NO_GO
    assert "x 60" in told[0].message
    assert left[0].right  # but for the slot, which the kerf cannot enter
    wide = [(0, 0), (120, 0), (120, 80), (64, 80), (64, 40), (56, 40), (56, 80), (0, 80)]
    made = blank("wide", Outline(polygon_loop([(float(x), float(y)) for x, y in wide])))
    _, _, left, findings, _, _ = cut_on_paper((made,))
    assert not [f for f in findings if f.code == "narrower-than-kerf"]
    assert left[0].right


def test_a_spike_of_no_width_still_comes_loose():
    from tests.generate import blank

    q = math.pi
    horn = (
        Line((40, 0), (40, 60)),
        Arc((40, 66), 6, -q / 2, q),
        Arc((40, 68), 4, q / 2, -q),
        Line((40, 64), (0, 64)),
        Line((0, 64), (0, 0)),
        Line((0, 0), (40, 0)),
    )
    made = blank("horn", Outline(Loop(horn, tuple(f"e{i}" for i in range(6)))))
    _, _, left, _, _, _ = cut_on_paper((made,))
    assert left[0].right


def test_guides_are_held_on_metal_that_is_there_when_they_are_used():
    """Replay: every hold point lies on the plate less what has dropped out before that step."""
    from lagline.planning.steps import fallen
    from lagline.shapes.region import polygon

    for seed in range(5):
        blanks = random_blanks(seed, 10)
        cuts, steps, _, _, plate, layout = cut_on_paper(blanks, entry=seed)
        metal = polygon(plate.outline)
        by_id = {c.id: c for c in cuts}
        for s in steps:
            if isinstance(s.guide, StraightGuide):
                for at in s.guide.clamps:
                    assert metal.buffer(0.2).contains(shapely.Point(at)), (seed, s.title)
            if isinstance(s.guide, ArmGuide) and s.guide.foot != "opening":
                assert metal.buffer(0.2).contains(shapely.Point(s.guide.pivot)), (seed, s.title)
            if s.frees != "nothing":
                metal = metal.difference(fallen(by_id[s.cut], 1.7))


def test_a_ring_is_cut_with_a_bar_across_the_hole():
    from tests import generate

    blank = generate.blank("ring", generate.ring(__import__("random").Random(3), 320.0))
    _, steps, *_ = cut_on_paper((blank,))
    feet = [s.guide.foot for s in steps if isinstance(s.guide, ArmGuide)]
    assert feet == ["drop", "opening"]


def test_holes_of_different_size_have_templates_of_their_own_and_like_holes_share_one():
    from tests.generate import blank, circle, polygon_loop

    big, small = 17.0, 12.0
    holes = (
        circle((40, 40), big, "h1", hole=True),
        circle((40, 100), small, "h2", hole=True),
        circle((110, 40), big, "h3", hole=True),
    )
    made = blank("pad", Outline(polygon_loop([(0, 0), (150, 0), (150, 140), (0, 140)]), holes))
    _, steps, left, _, _, _ = cut_on_paper((made,), setting=plain_setting(made.part.stock, min_hole=14.0))
    assert left[0].right
    ids = {s.title.split(": ")[0]: s.guide.id for s in steps if isinstance(s.guide, TemplateGuide)}
    assert ids["pad, hole 1"] == ids["pad, hole 3"] != ids["pad, hole 2"]


def test_a_small_hole_is_drilled_where_a_crater_would_touch_it():
    from tests.generate import blank, circle, polygon_loop

    hole = circle((60, 60), 6.0, "h1", hole=True)
    made = blank("pad", Outline(polygon_loop([(0, 0), (120, 0), (120, 120), (0, 120)]), (hole,)))
    cuts, _, _, findings, _, _ = cut_on_paper((made,), setting=plain_setting(made.part.stock, min_hole=10.0))
    assert next(c for c in cuts if c.id.endswith("h1")).role == "drill"
    assert any("crater" in f.message for f in findings)


def test_a_sliver_is_a_no_go_and_a_bevel_is_told():
    from dataclasses import replace

    from lagline.planning.cut_notes import bevels_left, sliver

    made = rectangle_blank("sliver", 100, 4)
    assert sliver(made, 1.7)[0].severity is Severity.NO_GO
    assert not sliver(rectangle_blank("bar", 100, 25), 1.7)
    edges = tuple(replace(e, bevel_deg=30.0 if i == 0 else 0.0) for i, e in enumerate(made.part.edges))
    told = bevels_left(replace(made, part=replace(made.part, edges=edges)))
    assert "30 deg" in told[0].message
    assert not bevels_left(made)


def test_a_drop_weighs_what_is_left_of_it():
    """A window's drop has lost the part that lay in it."""
    from lagline.planning.cuts import make_cuts
    from lagline.records.geometry import Move
    from lagline.records.job import Plate
    from lagline.records.plan import Layout, Placed
    from tests.cutting import box
    from tests.generate import blank, polygon_loop

    window = polygon_loop([(50, 50), (250, 50), (250, 250), (50, 250)], "h1.")
    frame = blank("frame", Outline(polygon_loop([(0, 0), (300, 0), (300, 300), (0, 300)]), (window,)))
    inner = rectangle_blank("inner", 150, 150)
    plate = Plate("A", "plate", box(400, 400), frame.part.stock, 10.0)
    layout = Layout((Placed(0, 1, 0, Move(50, 50)), Placed(1, 1, 0, Move(125, 125))), (), 11.0, "by hand")
    cuts, _ = make_cuts((frame, inner), (plate,), layout, (plain_setting(plate.stock),), generic_kit())
    drop = next(c for c in cuts if c.role == "window").drop_kg
    t = plate.stock.thickness_mm
    assert drop == pytest.approx((200**2 - 150**2) * t * 7.85e-6, rel=1e-3)


def test_a_window_with_a_wide_crater_is_pierced_further_from_its_corner():
    """At a corner the crater needs (9.5 - 1.15) sqrt 2 = 11.8 mm of run-in, more than the 9.5 mm wanted."""
    from dataclasses import replace

    frame = rectangle_blank("frame", 300, 260)
    window = Move(60, 30).loop(box(176, 200).outer).reversed()
    blank = replace(frame, finished=replace(frame.finished, holes=(window,)), cut=replace(frame.cut, holes=(window,)))
    setting = replace(plain_setting(frame.part.stock, kerf=2.3), lead_in_mm=9.525, crater_radius_mm=9.5)
    cuts, _, left, findings, _, _ = cut_on_paper((blank,), setting=setting, margin=20.0)
    assert "no-room-to-start" not in {f.code for f in findings}
    inside = next(c for c in cuts if c.role == "window")
    for e in inside.entries:
        spot = shapely.Point(e.run_in[0])
        assert shapely.LinearRing(inside.loop.points()).distance(spot) >= 9.5
    assert left[0].right


def test_a_start_drilled_on_the_line_has_no_run_in_to_leave_out_of_the_proof():
    bore = 40.0
    ring = sample_blank("ring", Outline(circle((0, 0), 150, "rim"), (circle((0, 0), bore, "bore", hole=True),)), 1)
    setting = replace(plain_setting(ring.part.stock), crater_radius_mm=2 * bore)  # no waste takes a start
    _, steps, left, _, _, _ = cut_on_paper((ring,), setting=setting)
    assert steps[0].start is Start.DRILLED
    arm = bore - setting.kerf_mm.value / 2
    led = torch_path(steps[0], setting)
    assert led.length == pytest.approx(2 * math.pi * arm + 3.0, abs=0.1)
    whole = torch_path(replace(steps[0], path=steps[0].path[:1]), setting)
    assert whole.length == pytest.approx(2 * math.pi * arm, abs=0.1)
    assert all(e.right for e in left)
