"""`lagline coupon ...` as a person types it, and the desk behind it: entered, set aside, undone, learned from."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lagline.book.learned_text import learned_from_text, learned_text
from lagline.cli.main import app
from lagline.desk.coupon_desk import CouponDesk, learned_for, learned_from
from lagline.desk.planner import plan_files
from lagline.planning.kit_file import generic_kit
from lagline.records.coupon import Coupon, CouponCut, Dross, Learned
from lagline.records.errors import LaglineError
from lagline.records.finding import Finding, Severity
from lagline.trade import coupon_fit
from lagline.trade.tip_drift import CODES

KIT = generic_kit()
ADD = (
    'coupon add --units in --tip "65 A" --metal steel --thickness 3/8 --current 65 --also "date=2026-03-02, starts=40" '
    '--cut "length=6, seconds=16, kerf top=0.085, through=yes, dross=slow, guide near=0.40, guide far=0.48" '
    '--cut "length=6, seconds=9, kerf top=0.08, through=yes, dross=clean, gap right=0.01, gap left=0.03, lag=1/16"'
)
FILE = """
units = "mm"
tip = "65 A"
metal = "steel"
thickness = "9.5"
current = 65
date = 2026-03-03
[[cuts]]
length = "150"
seconds = 9
kerf_top = "2.1"
through = true
dross = "none"
"""

ONE_PLATE = """
name = "one"
units = "mm"
layout = "quick"
current_a = {current}
stock = {{ metal = "steel", thickness = "8" }}
[[parts]]
name = "pad"
shape = "rectangle"
width = "100"
height = "80"
[[plates]]
name = "A"
width = "600"
height = "300"
"""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LAGLINE_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("LAGLINE_BOOK", raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path / "home"


def typed(line: str, status: int = 0) -> str:
    """Type a line; return what was printed, errors too."""
    done = CliRunner().invoke(app, shlex.split(line), catch_exceptions=False)
    assert done.exit_code == status, done.output
    return done.output


def answered(line: str, status: int = 0) -> dict:
    done = CliRunner().invoke(app, [*shlex.split(line), "--json"], catch_exceptions=False)
    assert done.exit_code == status, done.output
    return json.loads(done.stdout)


def test_help_names_every_verb():
    said = typed("coupon --help")
    changing = ("add", "set-aside", "stands", "take-back", "remove", "put-back")
    for verb in ("plan", "list", "show", *changing, "learned", "drift"):
        assert f" {verb} " in said


def test_entered_listed_shown(home: Path):
    assert "no coupons yet" in typed("coupon list")
    assert not home.exists()
    assert "kept as c-2026-03-02-01" in typed(ADD)
    assert "c-2026-03-02-01  65 A, steel 0.375 in (9.53 mm) at 65 A, 2 cuts" in typed("coupon list")
    said = typed("coupon show c-2026-03-02-01")
    assert "cut 1 kerf top: 0.085 in (2.16 mm)" in said
    assert "cut 2 dross: none" in said
    assert "cut 2 left face leans 4.6 deg" in said
    shown = answered("coupon show c-2026-03-02-01")
    assert shown["cuts"][0]["kerf_top_mm"] == pytest.approx(0.085 * 25.4)
    assert shown["acts"][0]["what"] == "entered"
    assert [c["id"] for c in answered("coupon list")["coupons"]] == ["c-2026-03-02-01"]


def test_a_file_is_entered_and_corrected(home: Path, tmp_path: Path):
    (tmp_path / "coupon.toml").write_text(FILE)
    kept = answered("coupon add coupon.toml")
    assert kept["id"] == "c-2026-03-03-01"
    assert kept["findings"] == []
    text = typed(f"coupon show {kept['id']} --toml")
    assert tomllib.loads(text)["cuts"][0]["kerf_top_mm"] == 2.1
    (tmp_path / "right.toml").write_text(text.replace("kerf_top_mm = 2.1", "kerf_top_mm = 1.9"))
    right = answered(f"coupon add right.toml --replaces {kept['id']}")
    assert right["cuts"][0]["kerf_top_mm"] == 1.9
    assert "replaced by" in typed("coupon list --all")
    assert kept["id"] not in typed("coupon list")
    assert "coupon-gone" in str(answered(f"coupon add right.toml --replaces {kept['id']}", 2))


def test_the_same_twice_is_kept_and_asked(home: Path):
    typed(ADD)
    again = answered(ADD)
    assert [f["code"] for f in again["findings"]] == ["coupon-same"]
    assert again["id"] == "c-2026-03-02-02"
    assert len(answered("coupon list")["coupons"]) == 2


def test_set_aside_taken_back_removed_put_back(home: Path):
    typed(ADD)
    one = "c-2026-03-02-01"
    assert "cut 2 kerf top" in typed(f'coupon set-aside {one} "cut 2 kerf top" --why misread')
    assert "(set aside)" in typed(f"coupon show {one}")
    assert "(misread)" in typed(f"coupon show {one}")
    assert answered(f'coupon take-back {one} "cuts[1].kerf_top_mm"') == {"id": one, "set_aside": [], "stands": []}
    typed(f"coupon remove {one}")
    assert "no coupons yet" in typed("coupon list")
    assert "removed" in typed("coupon list --all")
    typed(f"coupon put-back {one}")
    assert one in typed("coupon list")


def test_an_odd_reading_is_said_to_stand_and_taken_back(home: Path):
    one = "c-2026-03-02-01"
    wide = ADD.replace("kerf top=0.085", "kerf top=0.14")
    typed(wide)
    assert "kerf at the top 3.56 mm does not fit the rest" in typed("coupon learned")
    apart = answered("coupon learned")["learned"]
    assert "right as it stands: cut 1 kerf top" in typed(f'coupon stands {one} "cut 1 kerf top" --why "two feelers"')
    assert "(right as it stands)" in typed(f"coupon show {one}")
    assert "stands cut 1 kerf top (two feelers)" in typed(f"coupon show {one}")
    assert "1 said to stand" in typed("coupon list")
    assert answered(f"coupon show {one}")["stands"] == ["cuts[0].kerf_top_mm"]
    counted = answered("coupon learned")
    (note,) = counted["findings"]
    assert (note["code"], note["severity"]) == ("coupon-stands", "note")
    assert note["where"] == f"coupon {one}, cut 1 kerf top"
    assert "counted, as you said that it stands: " in note["message"]
    kerf = [x[0]["figures_90_percent"]["kerf_mm"]["now"]["value"] for x in (apart, counted["learned"])]
    assert f"kerf {kerf[1]:.2f} mm, without it {kerf[0]:.2f} mm" in note["message"]
    # the later word holds
    assert answered(f'coupon set-aside {one} "cut 1 kerf top"')["stands"] == []
    assert answered("coupon learned")["findings"] == []
    assert answered(f'coupon stands {one} "cut 1 kerf top"')["set_aside"] == []
    assert answered("coupon learned") == counted
    assert answered(f'coupon take-back {one} "cut 1 kerf top"')["stands"] == []
    assert answered("coupon learned")["learned"] == apart
    assert "measurement-as-is" in str(answered(f'coupon take-back {one} "cut 1 kerf top"', 2))


def test_of_several_all_or_none(home: Path):
    typed(ADD)
    both = 'c-2026-03-02-01 "cut 2 gap right" "cut 2 gap left"'
    assert "measurement-unknown" in str(answered(f'coupon stands {both} "cut 9 lag"', 2))
    assert answered("coupon show c-2026-03-02-01")["stands"] == []
    assert answered(f"coupon stands {both}")["stands"] == ["cuts[1].gap_left_mm", "cuts[1].gap_right_mm"]
    assert answered(f"coupon take-back {both}")["stands"] == []


def test_a_correction_keeps_what_stands(home: Path, tmp_path: Path):
    typed(ADD)
    typed('coupon stands c-2026-03-02-01 "cut 1 kerf top"')
    typed('coupon stands c-2026-03-02-01 "cut 2 kerf top"')
    text = typed("coupon show c-2026-03-02-01 --toml")
    assert 'thickness = "3/8"' in text  # as the shop writes it
    assert 'lag = "1/16"' in text
    (tmp_path / "right.toml").write_text(text.replace('kerf_top = "0.08"', "kerf_top_mm = 1.9"))
    right = answered("coupon add right.toml --replaces c-2026-03-02-01")
    assert right["cuts"][1]["kerf_top_mm"] == 1.9
    assert right["stands"] == ["cuts[0].kerf_top_mm"]


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("coupon add", "field-missing"),
        ("coupon add none.toml", "file-unreadable"),
        ("coupon add . ", "file-unreadable"),
        ("coupon add coupon.toml --tip 65", "coupon-twice"),
        (ADD + " --cut nonsense", "cut-words"),
        (ADD + " --cut 'seconds=0'", "seconds-not-above-zero"),
        (ADD + " --cut 'kerf top=-1'", "length-negative"),
        (ADD + " --cut 'colour=red'", "field-unknown"),
        (ADD + " --replaces c-1", "coupon-unknown"),
        (ADD + " --kit none.toml", "file-unreadable"),
        ("coupon show c-9", "coupon-unknown"),
        ("coupon set-aside c-9 'cut 1 kerf top'", "coupon-unknown"),
        ("coupon stands c-9 'cut 1 kerf top'", "coupon-unknown"),
        ("coupon take-back c-9 x", "coupon-unknown"),
        ("coupon remove c-9", "coupon-unknown"),
        ("coupon put-back c-9", "coupon-unknown"),
        ("coupon plan --metal mud --thickness 3/8 --current 65", "field-bad"),
        ("coupon plan --metal steel --thickness fat --current 65", "length-bad"),
        ("coupon plan --metal steel --thickness 3/8 --current 400", "no-tip"),
        ("coupon plan --metal steel --thickness 3/8 --current 65 --tip nose", "tip-unknown"),
        ("coupon plan --metal steel --thickness 3/8 --current 65 --units ell", "field-bad"),
    ],
)
def test_bad_input_ends_with_2_and_its_finding(home: Path, line: str, code: str):
    found = answered(line, 2)["findings"]
    assert code in {f["code"] for f in found}
    assert all(f["severity"] == "refused" and f["where"] and f["message"] for f in found)
    assert "Traceback" not in typed(line, 2)


def test_all_that_is_wrong_is_told_at_once(home: Path):
    line = ADD.replace("seconds=16", "seconds=0").replace("kerf top=0.08,", "kerf top=2,").replace("0.40", "0.5")
    found = answered(f"{line} --cut nonsense --also 'colour=red' --replaces c-9", 2)["findings"]
    assert {(f["code"], f["where"]) for f in found} == {
        ("seconds-not-above-zero", "coupon: cut 1: seconds"), ("guide-near-far", "coupon: cut 1: guide_near"),
        ("kerf-over-cup", "coupon: cut 2: kerf_top"), ("cut-words", "--cut 3"), ("field-unknown", "coupon: colour"),
        ("coupon-unknown", "book"),
    }  # fmt: skip


def test_a_damaged_book_is_told_and_kept(home: Path):
    typed(ADD)
    book = home / "book.sqlite"
    book.write_bytes(b"spoiled" * 999)
    for line in ("coupon list", ADD, "coupon learned", "coupon drift"):
        (finding,) = answered(line, 2)["findings"]
        assert finding["code"] == "book-damaged"
        assert finding["where"] == str(book)
    assert book.read_bytes() == b"spoiled" * 999


def test_learned_before_and_after(home: Path):
    assert "nothing learned yet" in typed("coupon learned")
    typed(ADD)
    (row,) = answered("coupon learned")["learned"]
    assert row["coupons"] == ["c-2026-03-02-01"]
    kerf = row["figures_90_percent"]["kerf_mm"]
    width = {k: kerf[k]["high"] - kerf[k]["low"] for k in ("without_coupons", "now")}
    assert width["now"] < 0.6 * width["without_coupons"]
    assert kerf["now"]["basis"] == "your coupon"
    assert kerf["without_coupons"]["basis"] != "your coupon"
    assert "guide_on_kept_part_mm" in row["figures_90_percent"]
    assert "pace_mm_s" in row["figures_90_percent"]
    assert "from c-2026-03-02-01" in typed("coupon learned")


def test_drift_told(home: Path):
    assert "no coupons yet" in typed("coupon drift")
    desk = CouponDesk(home)
    for n in range(1, 9):
        cut = CouponCut(kerf_top_mm=2.0 + 0.12 * n)
        desk.book.add(Coupon("", f"2026-03-{n:02d}", "65 A", "steel", 9.5, 65.0, (cut,), arc_min=10.0 * n))
    said = typed("coupon drift")
    assert "GOING" in said
    assert "tip 65 A is going" in said
    got = answered("coupon drift")
    assert got["tips"][0]["along"] == "arc-min"
    assert {"tip-going", "tip-at-limit"} <= {f["code"] for f in got["findings"]}


def going(desk: CouponDesk, tip: str) -> None:
    for n in range(1, 9):
        cut = CouponCut(kerf_top_mm=2.0 + 0.12 * n)
        desk.book.add(Coupon("", f"2026-03-{n:02d}", tip, "steel", 9.5, 45.0, (cut,), starts=30 * n))


def test_a_tip_that_is_going_is_said_in_the_plan_that_uses_it(home: Path, tmp_path: Path):
    desk = CouponDesk(home)
    going(desk, "45 A")
    _, found = desk.learned_for(KIT)
    assert {"tip-going", "tip-at-limit"} <= {f.code for f in found}

    def told(current: int) -> dict[str, Finding]:
        job = tmp_path / "job.toml"
        job.write_text(ONE_PLATE.format(current=current))
        made = plan_files(job, learn=desk.learned_for)
        return {f.code: f for f in made.findings if f.code in CODES}

    caution = told(45)["tip-going"]
    assert caution.severity is Severity.CAUTION
    assert "tip 45 A is going" in caution.message
    assert "change the tip, or cut a coupon" in caution.allowed
    assert told(65) == {}  # another tip is fitted for that


def test_twins_are_told_where_they_count(home: Path):
    typed(ADD)
    assert answered("coupon learned")["findings"] == []
    twin = answered(f"{ADD} --json".removesuffix(" --json"))
    assert "coupon-same" in {f["code"] for f in twin["findings"]}
    (f,) = (f for f in answered("coupon learned")["findings"] if f["code"] == "coupon-same")
    assert f["where"] == "coupon c-2026-03-02-02"
    assert "c-2026-03-02-01" in f["message"]
    assert "both count" in f["message"]
    typed("coupon remove c-2026-03-02-02")
    assert answered("coupon learned")["findings"] == []


def test_plan_says_what_to_cut_and_writes_the_sheet(home: Path, tmp_path: Path):
    made = answered("coupon plan --metal steel --thickness 3/8 --current 65 --out out")
    assert made["tip"] == "65 A"
    assert len(made["cuts"]) == 3
    assert all(c["seconds"] == pytest.approx(made["length_mm"] / c["pace_mm_s"]) for c in made["cuts"])
    assert (tmp_path / "out" / "coupon.pdf").read_bytes().startswith(b"%PDF")
    said = typed("coupon plan --metal steel --thickness 3/8 --current 40 --units mm")
    assert "tip 45 A" in said
    assert "152.4 mm in" in said


def test_a_process_of_its_own(tmp_path: Path):
    command = [str(Path(sys.executable).with_name("lagline")), *shlex.split(ADD)]
    env = {**os.environ, "LAGLINE_HOME": str(tmp_path / "home")}
    env.pop("LAGLINE_BOOK", None)
    done = subprocess.run(command, capture_output=True, text=True, env=env, cwd=tmp_path, timeout=120)
    assert done.returncode == 0, done.stderr
    done = subprocess.run([*command[:1], "coupon", "show", "c-0", "--json"], capture_output=True, text=True, env=env)
    assert done.returncode == 2
    assert json.loads(done.stdout)["findings"][0]["code"] == "coupon-unknown"
    (tmp_path / "in the way").write_text("")
    env["LAGLINE_HOME"] = str(tmp_path / "in the way")
    done = subprocess.run(command, capture_output=True, text=True, env=env, cwd=tmp_path, timeout=120)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "LAGLINE_HOME" in done.stderr


# ---- the desk ----


def coupon(n: int, **other) -> Coupon:
    cuts = (CouponCut(150.0, 16.0, True, 2.1, dross=Dross.SLOW), CouponCut(150.0, 9.0, True, 1.9, dross=Dross.NONE))
    return replace(Coupon("", f"2026-03-{n:02d}", "65 A", "steel", 9.5, 65.0, cuts), **other)


def test_only_this_benchs_coupons_teach(home: Path):
    desk = CouponDesk(home)
    mine = desk.book.add(coupon(1))
    named = desk.book.add(coupon(2, bench=KIT.name))
    desk.book.add(coupon(3, bench="the other shop"))
    learned, found = desk.learned_for(KIT)
    (belief,) = learned.beliefs
    assert belief.coupons == (mine.id, named.id)
    assert {f.code: f.severity for f in found}["coupons-of-others"] is Severity.NOTE


def test_what_is_set_aside_or_removed_does_not_teach(home: Path):
    desk = CouponDesk(home)
    c = desk.book.add(coupon(1, cuts=(CouponCut(kerf_top_mm=2.6),)))
    with_it = desk.learned_for(KIT)[0]
    assert with_it.of("65 A", "steel") is not None
    desk.set_aside(c.id, "cut 1 kerf top")
    assert desk.learned_for(KIT)[0] == Learned()
    desk.take_back(c.id, "cut 1 kerf top")
    assert desk.learned_for(KIT)[0] == with_it
    desk.remove(c.id)
    assert desk.learned_for(KIT)[0] == Learned()


def test_a_tip_of_another_kit_teaches_nothing_and_is_told(home: Path):
    desk = CouponDesk(home)
    desk.book.add(coupon(1, tip="big one"))
    learned, _ = desk.learned_for(KIT)
    assert learned == Learned()
    desk.book.add(coupon(2))
    _, found = desk.learned_for(KIT)
    assert "coupon-tip-unknown" in {f.code for f in found}


def test_a_book_that_cannot_be_read_is_a_caution_for_planning(home: Path, monkeypatch: pytest.MonkeyPatch):
    home.mkdir()
    (home / "book.sqlite").write_bytes(b"spoiled" * 999)
    learned, (finding,) = learned_for(KIT, home)
    assert learned == Learned()
    assert finding.severity is Severity.CAUTION
    assert "without your coupons" in finding.message
    monkeypatch.setenv("LAGLINE_BOOK", "nonsense")
    learned, (finding,) = learned_for(KIT, home)
    assert (learned, finding.severity) == (Learned(), Severity.CAUTION)
    with pytest.raises(LaglineError):
        CouponDesk(home)


def test_what_was_learned_is_kept_and_read_back(home: Path, monkeypatch: pytest.MonkeyPatch):
    desk = CouponDesk(home)
    desk.book.add(coupon(1))
    first = desk.learned_for(KIT)
    assert learned_from_text(learned_text(first)) == first

    def never(*_: object, **__: object) -> None:
        raise AssertionError("worked out again")

    learned_from.cache_clear()
    monkeypatch.setattr(coupon_fit, "believe", never)
    assert CouponDesk(home).learned_for(KIT) == first
    # another kit or another coupon is another question
    with pytest.raises(AssertionError, match="worked out again"):
        desk.learned_for(replace(KIT, power=replace(KIT.power, rated_current_a=64.0)))
    for kept in (home / "kept").rglob("learned.gz"):
        kept.write_bytes(b"spoiled")
    with pytest.raises(AssertionError, match="worked out again"):
        CouponDesk(home).learned_for(KIT)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"beliefs": [1], "findings": []}', "nan"])
def test_no_other_text_is_taken_for_it(text: str):
    with pytest.raises(ValueError, match=r".*"):
        learned_from_text(text)
