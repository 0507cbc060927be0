"""Jobs cut from the rack: read from the job file, advised, and cut again from what an earlier job left."""

from __future__ import annotations

import itertools
import json
import re
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest
import shapely

from lagline.book.rack import RackBook
from lagline.cards.plan_json import to_json
from lagline.desk.rack_cut import cut_of
from lagline.desk.rack_desk import RackDesk
from lagline.planning.chain import plan
from lagline.planning.job_file import job_from_text
from lagline.planning.kit_file import generic_kit
from lagline.planning.offcuts import offcuts_of
from lagline.planning.rack_advice import advise, charge_of, from_rack
from lagline.records.errors import LaglineError
from lagline.records.geometry import Move, Outline
from lagline.records.job import Job, Stock
from lagline.records.plan import Plan
from lagline.records.rack import RackItem, RackState
from lagline.shapes.region import polygon
from tests.generate import circle, polygon_loop, random_job

ST = Stock("steel", "", 9.525, '3/8"')
HEAD = 'name = "cradle"\nunits = "mm"\nstock = { metal = "steel", thickness = "3/8 in" }\n'
PARTS = '[[parts]]\nshape = "rectangle"\nname = "cheek"\nwidth = 180\nheight = 120\nquantity = {n}\n'
OWN = '[[plates]]\nname = "new"\nwidth = 2400\nheight = 1200\n'


def item(n: int, w: float, h: float, kind: str = "offcut", **more) -> RackItem:
    return RackItem(f"R-{n}", kind, Outline(polygon_loop([(0, 0), (w, 0), (w, h), (0, h)])), ST, **more)


def read(text: str, *items: RackItem) -> Job:
    return job_from_text(HEAD + text, Path(), "job.toml", rack=lambda: items)[0]


def refused(text: str, *items: RackItem) -> dict[str, str]:
    with pytest.raises(LaglineError) as e:
        read(text, *items)
    return {f.code: f"{f.where}: {f.message}" for f in e.value.findings}


# ---- the job file ----


def test_a_plate_by_its_mark():
    holed = replace(item(7, 500, 400), outline=Outline(polygon_loop([(0, 0), (500, 0), (500, 400), (0, 400)]),
                    (circle((90, 90), 30, "h1", hole=True),)), heat="H1", name="door end")  # fmt: skip
    job = read(PARTS.format(n=1) + '[[plates]]\nrack = "r7"\nmargin = 3\ngrain = 90\n', holed)
    (plate,) = job.plates
    assert (plate.name, plate.rack, plate.kind, plate.mark) == ("R-7", "R-7", "offcut", "door end, heat H1")
    assert (plate.outline, plate.stock, plate.margin_mm, plate.grain_deg) == (holed.outline, ST, 3.0, 90.0)
    assert job.rack == ()


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ('[[plates]]\nrack = "R-9"\n', "rack-unknown", "R-9"),
        ('[[plates]]\nrack = ""\n', "field-bad", ""),
        ("[[plates]]\nrack = 7\n", "field-bad", "7"),
        ("[[plates]]\nrack = nan\n", "field-bad", "nan"),
        ('[[plates]]\nrack = "R-1"\nwidth = 400\nheight = 300\n', "field-unknown", "is not a field here"),
        ('[[plates]]\nrack = "R-1"\n[[plates]]\nrack = "r 1"\nname = "B"\n', "rack-twice", "R-1"),
        ('[[plates]]\nrack = "R-2"\n', "rack-metal", "R-2"),
        ('[[plates]]\nrack = "R-3"\n', "rack-unknown", "scrapped"),
        ('[[plates]]\nrack = "R-4"\n', "rack-gone", "used by another, plan AAA-AAA"),
        ('rack = "yes"\n', "field-bad", "yes"),
    ],
)
def test_what_cannot_be_taken_is_refused(text: str, code: str, said: str):
    alu = replace(item(2, 500, 400), stock=Stock("aluminium", "", 9.525, '3/8"'))
    gone = replace(item(3, 500, 400), state=RackState.SCRAPPED)
    used = replace(item(4, 500, 400), state=RackState.USED, by_job="another", by_plan="AAA-AAA")
    head = text if text.startswith("rack") else ""
    found = refused(head + PARTS.format(n=1) + ("" if head else text), item(1, 500, 400), alu, gone, used)
    assert said in found[code]


def test_what_it_used_itself_is_gone_for_any_plan_and_says_so():
    mine = replace(item(4, 500, 400), state=RackState.USED, by_job="cradle", by_plan="AAA-AAA")
    here, scrapped = item(5, 500, 400), replace(item(6, 500, 400), state=RackState.SCRAPPED)
    text = PARTS.format(n=1) + '[[plates]]\nrack = "R-4"\n'
    assert "used by cradle, plan AAA-AAA" in refused(text, mine, here)["rack-gone"]
    # what it may take instead is what lies there
    with pytest.raises(LaglineError) as e:
        read(text.replace("R-4", "R-9"), mine, here, scrapped)
    (said,) = (f.allowed for f in e.value.findings if f.code == "rack-unknown")
    assert "R-5" in said
    assert not any(m in said for m in ("R-4", "R-6"))
    job, notes = job_from_text(HEAD + "rack = true\n" + PARTS.format(n=1), Path(), "j", rack=lambda: (mine, here))
    assert [m for m, _ in job.rack] == ["R-5"]
    assert ["R-4 by plan AAA-AAA" in f.message for f in notes if f.code == "rack-spent"] == [True]
    assert "this job used R-4" in refused("rack = true\n" + PARTS.format(n=1), mine)["rack-empty"]
    # to look a text over it may name it
    assert job_from_text(HEAD + text, Path(), "j", rack=lambda: (mine, here), own=True)[0].plates[0].rack == "R-4"


def test_without_a_stock_nothing_is_said_of_a_metal_nobody_named():
    text = 'rack = true\n[[parts]]\nshape = "disc"\ndiameter = 70\n'
    named = '[[parts]]\nshape = "disc"\ndiameter = 70\n[[plates]]\nrack = "R-1"\n'
    for given_ in (text, named):
        with pytest.raises(LaglineError) as e:
            job_from_text(given_, Path(), "j", rack=lambda: (item(1, 500, 400),))
        assert {f.code for f in e.value.findings} == {"field-missing"}
        assert not any("10 mm" in f.message for f in e.value.findings)


def test_a_job_chooses_what_matches_what_it_left_itself_as_well():
    thin = replace(item(2, 500, 400), stock=replace(ST, thickness_mm=9.0))
    own_left = replace(item(3, 600, 400), from_job="cradle", from_plan="AAA-AAA")
    job = read("rack = true\n" + PARTS.format(n=1), item(1, 500, 400, worth=4.5), thin, own_left, item(5, 200, 200))
    assert job.rack == (("R-5", None), ("R-1", 4.5), ("R-3", None))
    assert [p.name for p in job.plates] == ["R-5", "R-1", "R-3"]


def test_nothing_there_is_said():
    assert "nothing on the rack is" in refused("rack = true\n" + PARTS.format(n=1))["rack-empty"]
    assert read("rack = true\n" + PARTS.format(n=1) + OWN).plates[0].name == "new"


def test_a_book_that_cannot_be_read_is_told(tmp_path: Path):
    (tmp_path / "book.sqlite").write_bytes(b"not a book\n" * 500)
    with pytest.raises(LaglineError) as e:
        job_from_text("rack = true\n" + HEAD + PARTS.format(n=1), Path(), "j", rack=RackDesk(tmp_path).items)
    assert "book-damaged" in {f.code for f in e.value.findings}
    # a job that takes nothing from the rack does not mind
    assert job_from_text(HEAD + PARTS.format(n=1) + OWN, Path(), "j", rack=RackDesk(tmp_path).items)[0].plates


# ---- advice ----

KIT = generic_kit()


def test_the_charge_by_hand():
    # 0.2 m2 of an offcut of 0.5 m2 worth 10 is left: 4 of it stays when metal in offcuts is worth 30 a m2
    assert charge_of(10.0, 5e5, 2e5, 30e-6) == pytest.approx((6.0, 4.0))
    # of a plate worth 60 a m2 what is left counts as offcut, at 30
    assert charge_of(30.0, 5e5, 2e5, 30e-6) == pytest.approx((24.0, 6.0))


def test_an_offcut_before_a_whole_plate_and_the_small_before_the_large():
    items = (item(1, 100, 100), item(2, 420, 300), item(3, 1200, 900), item(4, 2400, 1200, "plate"))
    advice = advise(read("rack = true\n" + PARTS.format(n=2) + OWN, *items), KIT)
    assert advice.cut == ("R-2",)
    assert advice.left_over == 0
    told = {t.mark: t for t in advice.told}
    assert [m for m, t in told.items() if t.used] == ["R-2"]
    assert "no part of its metal is small enough" in told["R-1"].why
    assert all(t.why.startswith(("used:", "not used:", "not needed:")) for t in advice.told)
    # its own plate keeps its place among the plates, and is left alone
    assert [(p.name, p.spare) for p in advice.job.plates] == [("new", True), ("R-2", False)]


def test_what_does_not_fit_goes_to_the_next():
    advice = advise(read("rack = true\n" + PARTS.format(n=5) + OWN, item(1, 300, 420), item(2, 420, 300)), KIT)
    assert set(advice.cut) == {"R-1", "R-2"}
    assert advice.left_over == 0


def test_what_fits_nowhere_is_counted():
    advice = advise(read("rack = true\n" + PARTS.format(n=9), item(1, 300, 200), item(2, 150, 150)), KIT)
    assert advice.cut == ("R-1",)
    # two stand beside each other: 2 x 120 and a gap in 300 less margins, 180 in 200 less margins; a third does not
    assert advice.left_over == 7


def test_worth_as_written_beats_weight():
    dear, cheap = item(1, 420, 300, worth=500.0), item(2, 600, 500, worth=1.0)
    assert advise(read("rack = true\n" + PARTS.format(n=2), dear, cheap), KIT).cut == ("R-2",)


@pytest.mark.parametrize(
    ("units", "said"), [("in", r"worth 10\.4 lb \(4\.7 kg\) of plate"), ("mm", r"worth 4\.7 kg of plate")]
)
def test_without_a_price_worth_is_weight_in_the_shops_unit(units: str, said: str):
    """420 x 300 x 9.525 mm of steel is 9.4 kg by 7850 kg/m3; an offcut counts half of it."""
    unpriced = replace(KIT, bench=replace(KIT.bench, metal_per_kg=()))
    job = replace(read("rack = true\n" + PARTS.format(n=2), item(2, 420, 300)), units=units)
    (told,) = advise(job, unpriced).told
    assert re.search(said, told.why), told.why


def test_same_job_same_advice():
    job = read("rack = true\n" + PARTS.format(n=3), item(1, 420, 300), item(2, 600, 500), item(3, 300, 300))
    assert advise(job, KIT) == advise(job, KIT)


@pytest.mark.parametrize("sizes", [((420, 300), (600, 260), (300, 300)), ((700, 200), (260, 390), (900, 700))])
def test_no_set_of_three_is_cheaper(sizes: tuple[tuple[float, float], ...]):
    """Against every subset, each given alone as the only plates there are."""
    items = [item(n, *s) for n, s in enumerate(sizes, 1)]
    text = "rack = true\n" + PARTS.format(n=3)
    best = advise(read(text, *items), KIT)

    def forced(some: tuple[RackItem, ...]):
        return advise(read(PARTS.format(n=3) + "".join(f'[[plates]]\nrack = "{i.mark}"\n' for i in some), *some), KIT)

    every = [forced(s) for k in (1, 2, 3) for s in itertools.combinations(items, k)]
    least = min((round(a.left_over), a.charge) for a in every)
    assert (best.left_over, best.charge) <= (least[0], least[1] + 0.011)


def test_a_pin_keeps_its_plate():
    pin = '[[pins]]\npart = "cheek"\nplate = "R-3"\nleft = 20\nbottom = 20\n'
    advice = advise(read("rack = true\n" + PARTS.format(n=1) + pin, item(2, 420, 300), item(3, 1200, 900)), KIT)
    assert advice.cut == ("R-3",)


def test_the_plan_lies_on_what_was_advised():
    job = read("rack = true\n" + PARTS.format(n=2) + OWN, item(2, 420, 300), item(4, 2400, 1200, "plate"))
    chosen, notes = from_rack(job, KIT)
    made = plan(chosen, KIT, notes)
    assert {made.job.plates[p.plate].name for p in made.layout.placed} == {"R-2"}
    assert {f.where for f in made.findings if f.code == "rack-used"} == {"R-2"}
    assert {f.where for f in made.findings if f.code == "rack-left"} == {"R-4"}
    plain, none = from_rack(read(PARTS.format(n=2) + OWN), KIT)
    assert (plain.plates[0].spare, none) == (False, ())


# ---- from one job to the next ----


@lru_cache
def first(seed: int) -> Plan:
    blanks, plates = random_job(seed, 3)
    return plan(Job("first", "mm", tuple(b.part for b in blanks), plates, seed=seed, layout="quick"), KIT)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_second_job_keeps_clear_of_all_that_the_first_took(seed: int, tmp_path: Path):
    made, rack = first(seed), RackBook(tmp_path)
    told = cut_of(to_json(made), "plan.json", "2026-03-02")
    rack.cut(told.job, told.plan, told.used, told.offcuts)
    items = tuple(k.item for k in rack.all())
    kept = offcuts_of(made, 0)
    assert [i.outline.area for i in items] == pytest.approx([o.area_mm2 for o in kept], rel=1e-6)
    text = 'units = "mm"\nrack = true\nlayout = "quick"\nstock = { metal = "steel", thickness = "3/8 in" }\n'
    text += '[[parts]]\nshape = "disc"\ndiameter = 70\nquantity = 9\n'
    job, _ = job_from_text(text, Path(), "second.toml", rack=lambda: items)
    second = plan(from_rack(job, KIT)[0], KIT)
    assert second.layout.placed
    parts = shapely.union_all([polygon(p.move.outline(made.blanks[p.part].cut)) for p in made.layout.placed])
    holes = [polygon(Outline(h.reversed())) for h in made.job.plates[0].outline.holes]
    for p in second.layout.placed:
        plate = second.job.plates[p.plate]
        lies = polygon(p.move.outline(second.blanks[p.part].cut))
        assert polygon(plate.outline).buffer(0.01).contains(lies)
        # moved back to where it was cut from, it meets no part, no opening and no edge of the first plate
        n = next(k for k, i in enumerate(items) if i.mark == plate.rack)
        left, bottom, _, _ = kept[n].outline.bounds()
        back = polygon(Move(left, bottom).outline(p.move.outline(second.blanks[p.part].cut)))
        assert back.intersection(parts).area < 1e-3 or kept[n].came_from == "drop"
        assert all(back.intersection(h).area < 1e-3 for h in holes)
        assert polygon(made.job.plates[0].outline).buffer(0.01).contains(back)


def test_the_file_and_the_plan_say_the_same():
    made = first(1)
    told = cut_of(to_json(made), "plan.json", "2026-03-02")
    assert (told.job, told.go, told.used) == ("first", made.go, ())
    for o, i in zip(offcuts_of(made, 0), told.offcuts, strict=True):
        left, bottom, _, _ = o.outline.bounds()
        assert i.outline.area == pytest.approx(o.area_mm2, abs=1e-2)
        assert len(i.outline.holes) == len(o.outline.holes)
        assert i.outline.bounds()[:2] == pytest.approx((0, 0), abs=1e-9)
        assert polygon(Move(left, bottom).outline(i.outline)).symmetric_difference(polygon(o.outline)).area < 0.5


def spoil(data: dict, *path: object, to: object) -> str:
    here = data
    for key in path[:-1]:
        here = here[key]  # type: ignore[index]
    here[path[-1]] = to  # type: ignore[index]
    return json.dumps(data)


@pytest.mark.parametrize(
    "text",
    [
        "", "[]", "{}", "null", "not json", "NaN", '{"program": "lagline"}', "[" * 100_000, "\x00",
        '{"program": "lagline", "mark": "A", "plates": 3}', '{"program": "lagline", "mark": "A", "plates": [{}]}',
    ],
)  # fmt: skip
def test_no_plan_is_no_plan(text: str):
    with pytest.raises(LaglineError) as e:
        cut_of(text, "plan.json", "2026-03-02")
    assert {f.code for f in e.value.findings} <= {"plan-unreadable", "plan-old"}
    assert e.value.findings[0].where == "plan.json"


@pytest.mark.parametrize(
    ("path", "to"),
    [
        (("mark",), 3), (("mark",), "x" * 21), (("job", "name"), None), (("job", "plates"), []),
        (("plates", 0, "plate"), 7), (("plates", 0, "plate"), -1), (("plates", 0, "parts_kg"), "much"),
        (("plates", 0, "offcuts"), [{}] * 3), (("plates", 0, "offcuts", 0, "outline", "outer", "segments_mm"), []),
        (("plates", 0, "offcuts", 0, "outline", "outer", "segments_mm", 0), ["arc", [0, 0], 4, 0, 90]),
        (("plates", 0, "offcuts", 0, "outline", "outer", "segments_mm", 0, 1), [float("inf"), 0]),
        (("plates", 0, "offcuts", 0, "outline", "outer", "segments_mm", 0, 1), [float("nan"), 0]),
        (("plates", 0, "offcuts", 0, "outline", "outer", "segments_mm", 0, 1), [1e9, 0]),
        (("plates", 0, "offcuts", 0, "outline", "outer", "segments_mm", 0, 1), ["0", "0"]),
        (("job", "plates", 0, "stock", "thickness_mm"), 0), (("job", "plates", 0, "stock", "thickness_mm"), -3),
    ],
)  # fmt: skip
def test_a_spoiled_plan_is_refused(path: tuple[object, ...], to: object):
    text = spoil(json.loads(to_json(first(1))), *path, to=to)
    with pytest.raises(LaglineError) as e:
        cut_of(text, "plan.json", "2026-03-02")
    assert {f.code for f in e.value.findings} == {"plan-unreadable"}


@pytest.mark.parametrize(
    ("mark", "name", "heat"),
    [("heat 4711", "", "4711"), ("door end, heat 4711", "door end", "4711"), ("rack 2", "rack 2", ""), ("", "", "")],
)
def test_name_and_heat_go_onto_the_offcut(mark: str, name: str, heat: str):
    data = json.loads(to_json(first(1)))
    data["job"]["plates"][0]["mark"] = mark
    left = cut_of(json.dumps(data), "plan.json", "2026-03-02").offcuts
    assert {(i.name, i.heat) for i in left} == {(name, heat)}
