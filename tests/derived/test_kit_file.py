"""Kit files: what differs from the generic kit, and everything that can be wrong with one."""

from __future__ import annotations

import dataclasses

import pytest

from lagline.data.demo_files import demo_files
from lagline.planning.kit_file import generic_kit, kit_from_text, read_kit
from lagline.records.errors import LaglineError
from lagline.records.figure import Spread


def refusals(text: str) -> dict[str, str]:
    with pytest.raises(LaglineError) as e:
        kit_from_text(text, "kit.toml")
    return {f.where: f.message for f in e.value.findings}


def spreads(record) -> list[Spread]:
    out = []
    for f in dataclasses.fields(record):
        value = getattr(record, f.name)
        if isinstance(value, Spread):
            out.append(value)
        elif dataclasses.is_dataclass(value):
            out += spreads(value)
    return out


def test_an_empty_file_is_the_generic_kit():
    kit, notes = kit_from_text("", "mine.toml")
    assert dataclasses.replace(kit, origin="built in") == generic_kit()
    assert kit.origin == "mine.toml"
    assert notes == ()


def test_every_generic_spread_is_a_marked_default_with_width():
    found = spreads(generic_kit())
    assert len(found) >= 14
    assert all(s.default for s in found)
    assert all(s.low < s.high for s in found)


def test_generic_tips_have_the_usual_kerf():
    # Kerf by current, common practice, no source: 1.0-1.5 mm at 20-30 A, 1.4-1.9 at 40-50, 1.8-2.3 at 60-70,
    # and about 1.5 times the bore.
    bands = {30: (1.0, 1.5), 45: (1.4, 1.9), 65: (1.8, 2.3)}
    tips = generic_kit().torch.tips
    assert {t.max_current_a for t in tips} == set(bands)
    for tip in tips:
        low, high = bands[tip.max_current_a]
        assert low <= 1.5 * tip.bore_mm <= high


def test_generic_duty_is_equal_heating():
    # I^2 t constant: a rule of thumb of the trade
    (low, full), (high, half) = generic_kit().power.duty
    assert (full, half) == (1.0, 0.5)
    assert low == pytest.approx(high * half**0.5, abs=0.5)


def test_what_is_given_is_not_a_default_and_the_rest_stays_one():
    kit, _ = kit_from_text('[torch]\ncup_radius = { value = "1/2", low = "15/32", high = "17/32" }', "k")
    assert kit.torch.cup_radius_mm == Spread(12.7, 11.90625, 13.49375)
    assert kit.torch.standoff_mm == generic_kit().torch.standoff_mm
    assert kit.torch.standoff_mm.default


def test_several_lens_rules_may_be_named():
    kit, _ = kit_from_text('[bench]\nlens_rule = "29 cfr 1910.133; EN 169:2002"', "k")
    assert kit.bench.lens_rule == "29 CFR 1910.133; EN 169:2002"


def test_a_plain_value_has_no_spread():
    kit, _ = kit_from_text('units = "mm"\n[torch]\nstandoff = 2', "k")
    assert kit.torch.standoff_mm == Spread.exact(2.0)


def test_units_of_the_file_do_not_touch_the_generic_values():
    kit, _ = kit_from_text('units = "mm"', "k")
    assert kit.guides == generic_kit().guides


@pytest.mark.parametrize(
    ("field", "given", "got", "want"),
    [
        # NIST SP 811: 1 psi = 6.894757 kPa, 1 cfm = 28.316847 L/min, 1 gal = 3.785412 L, 1 in/min = 25.4/60 mm/s
        ("air.cut_out", "150 psi", lambda k: k.air.cut_out_kpa_g, 1034.2136),
        ("air.cut_out", "10 bar", lambda k: k.air.cut_out_kpa_g, 1000),
        ("air.cut_out", "1 MPa", lambda k: k.air.cut_out_kpa_g, 1000),
        ("air.use", "10 cfm", lambda k: k.air.use_l_min.value, 283.16847),
        ("air.use", "3 L/s", lambda k: k.air.use_l_min.value, 180),
        ("air.delivery", "0.5 m³/min", lambda k: k.air.delivery_l_min, 500),
        ("air.tank", "80 gal", lambda k: k.air.tank_l, 302.83296),
        ("air.tank", "200 L", lambda k: k.air.tank_l, 200),
        ("operator.pace_high", "60 in/min", lambda k: k.operator.pace_high_mm_s, 25.4),
        ("operator.pace_high", "1.2 m/min", lambda k: k.operator.pace_high_mm_s, 20),
    ],
)
def test_quantities_carry_their_unit(field, given, got, want):
    table, key = field.split(".")
    kit, _ = kit_from_text(f'[{table}]\n{key} = "{given}"', "k")
    assert got(kit) == pytest.approx(want, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("[power]\nrated_current_a = nan", "power: rated_current_a"),
        ("[power]\nrated_current_a = -65", "power: rated_current_a"),
        ('[power]\nrated_current_a = "65 A"', "power: rated_current_a"),
        ("[power]\nrated_current_a = 85", "power: duty"),
        ("[power]\nmin_current_a = 90", "power: min_current_a"),
        ("[power]\nduty = []", "power: duty"),
        ("[power]\nduty = [{ current_a = 65, share = 50 }]", "power: duty[1]: share"),
        ('[power]\nduty = [{ current_a = 65, share = "150 %" }]', "power: duty[1]: share"),
        ("[power]\nduty = [{ current_a = 65, share = 0 }]", "power: duty[1]: share"),
        ("[power]\nduty = [{ current_a = 30, share = 0.4 }, { current_a = 60, share = 0.5 }]", "power: duty"),
        ("[power]\nduty = [{ current_a = 90, share = 0.4 }]", "power: duty"),
        ('[power]\nrated_thickness = "thick"', "power: rated_thickness"),
        ("[power]\npierce_share = 50", "power: pierce_share"),
        ("tips = []", "tips"),
        ('[[tips]]\nname = "a"\nbore = "1 mm"', 'tips[1] "a": max_current_a'),
        ('[[tips]]\nname = "a"\nbore = 0\nmax_current_a = 45', 'tips[1] "a": bore'),
        ("[torch]\nstandoff = inf", "torch: standoff"),
        ('[torch]\nsquare_side = "up"', "torch: square_side"),
        ('[torch]\nshielded = "yes"', "torch: shielded"),
        ('[torch]\ncup_radius = { value = "1/2", low = "5/8" }', "torch: cup_radius"),
        ('[torch]\ncup_radius = { low = "3/8", high = "5/8" }', "torch: cup_radius: value"),
        ('[torch]\ncup_radius = { value = "1/2", lo = "3/8" }', "torch: cup_radius: lo"),
        ("[air]\ncut_out = 120", "air: cut_out"),
        ('[air]\ncut_out = "120 cfm"', "air: cut_out"),
        ('[air]\ncut_in = "130 psi"', "air: cut_in"),
        ('[air]\nleast = "140 psi"', "air: least"),
        ('[air]\nuse = "-7 cfm"', "air: use"),
        ('[operator]\npace_low = "50 in/min"', "operator: pace_low"),
        ('[operator]\npace_low = "4000 in/min"', "operator: pace_low"),
        ('[guides]\narm_min = "5"\narm_max = "4"', "guides: arm_max"),
        ('[guides]\nstraightedges = "48"', "guides: straightedges"),
        ('[guides]\nstraightedges = ["48", "two feet"]', "guides: straightedges[2]"),
        ('[bench]\ncurrency = "doubloons of gold"', "bench: currency"),
        ('[bench]\nlens_rule = "looks dark enough"', "bench: lens_rule"),
        ('[bench]\nlens_rule = "29 CFR 1910.133;"', "bench: lens_rule"),
        ("[bench]\nmetal_per_kg = { brass = 9 }", "bench: metal_per_kg: brass"),
        ("[bench]\nmetal_per_kg = { steel = -1 }", "bench: metal_per_kg: steel"),
        ("[bench]\nlabour_per_h = { value = 50, low = 60, high = 70 }", "bench: labour_per_h"),
        ('units = "furlong"', "units"),
        ("power = 85", "power"),
        ("pwoer = { rated_current_a = 85 }", "pwoer"),
    ],
)
def test_faults_are_refused_where_they_are(text, where):
    assert f"kit.toml: {where}" in refusals(text)


def test_all_faults_come_together_and_a_misspelt_field_gets_its_nearest():
    with pytest.raises(LaglineError) as e:
        kit_from_text('[torch]\nshieled = true\nstandoff = -1\n[air]\ntank = 60\n[bench]\nwalk = "far"', "kit.toml")
    assert len(e.value.findings) == 4
    assert any('did you mean "shielded"' in f.allowed for f in e.value.findings)


def test_a_set_that_outruns_its_tips_and_air_is_noted():
    text = """[power]
    rated_current_a = 100
    duty = [{ current_a = 100, share = "40 %" }]
    rated_thickness = "1"
    [air]
    delivery = "5 cfm"
    """
    _, notes = kit_from_text(text, "k")
    assert {n.code for n in notes} == {"tip-too-small", "air-short"}


def test_the_demo_kit_reads_clean_and_pierces_the_demo_plate(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_bytes(demo_files()["kit.toml"])
    kit, notes = read_kit(path)
    assert notes == ()
    # 3/8 in plate, even at the low ends of what the kit says
    assert kit.power.rated_thickness_mm.low * kit.power.pierce_share.low > 9.525
    assert kit.torch.tips[-1].kerf_mm is not None


def test_a_plain_kerf_and_cup_carry_the_error_of_measuring():
    """Plus or minus 0.15 mm by calliper in a rough kerf, 0.25 mm on a cup: common practice, no source."""
    tip = '[[tips]]\nname = "65 A"\nbore = "1.3 mm"\nmax_current_a = 65\nkerf = '
    kit, _ = kit_from_text('[torch]\ncup_radius = "11 mm"\n' + tip + '"2.2 mm"\n', "kit.toml")
    kerf, cup = kit.torch.tips[0].kerf_mm, kit.torch.cup_radius_mm
    assert [kerf.low, kerf.value, kerf.high] == pytest.approx([2.05, 2.2, 2.35])
    assert [cup.low, cup.value, cup.high] == pytest.approx([10.75, 11.0, 11.25])
    told, _ = kit_from_text(tip + '{ value = "2.2 mm", low = "2.1 mm", high = "2.3 mm" }\n', "kit.toml")
    assert told.torch.tips[0].kerf_mm.low == pytest.approx(2.1)


def test_a_negative_flow_is_called_negative():
    for given, say in (("-5 cfm", "is negative"), ("5 apples", "is not an air flow")):
        with pytest.raises(LaglineError) as e:
            kit_from_text(f'[air]\ndelivery = "{given}"\n', "kit.toml")
        assert any(say in f.message for f in e.value.findings)
