"""Write docs/formulas.md from the register and docs/pace.md from the pace model and the printed rows."""

from __future__ import annotations

import importlib
import math
import sys
from pathlib import Path

import lagline
from lagline.data import table
from lagline.planning.kit_file import generic_kit
from lagline.trade import kerf, pace
from lagline.trade.metals import METALS, property_of
from lagline.trade.pace_check import Check, Row, aluminium_rows, check, fitted_efficiency, mechanised_rows, rms
from lagline.trade.register import Formula, all_formulas
from lagline.trade.severance import edge_limit

ROOT = Path(__file__).parents[1]
IPM = 25.4 / 60


def load_all() -> tuple[Formula, ...]:
    """Import every module that registers a formula, and return them all by key."""
    package = Path(lagline.__file__).parent
    for file in sorted(package.rglob("*.py")):
        if file.name != "register.py" and "\n@formula(" in file.read_text(encoding="utf-8"):
            importlib.import_module(".".join(("lagline", *file.relative_to(package).with_suffix("").parts)))
    return all_formulas()


def formulas_page() -> str:
    """The formulas page: one entry per registered formula, by topic."""
    out = [
        "# Formulas",
        "",
        "Made from the register by `make docs`: every formula the program uses, what it gives, its range and source.",
        "An input outside a range is reported as a finding, never used in silence.",
        "Units inside are mm, mm/s, s, A, kPa (gauge or absolute said), kg, J.",
    ]
    topic = ""
    for f in load_all():
        head = f.key.partition(".")[0]
        if head != topic:
            topic = head
            out += ["", f"## {topic}"]
        out += ["", f"### {f.key}", "", f"    {f.text}", "", f"Gives: {f.gives}.", "", f"Source: {f.source}."]
        for limit in f.limits:
            why = f" ({limit.why})" if limit.why else ""
            out += ["", f"Range: {limit.name} {limit.low:g} to {limit.high:g} {limit.unit}{why}."]
        out += ["", " ".join(f.doc.split())]
    out += ["", "## Tables", "", "|table|rows|source|notes|", "|-|-|-|-|"]
    for file in sorted((Path(lagline.__file__).parent / "data").glob("*.csv")):
        t = table(file.stem)
        out.append(f"|{t.name}|{len(t.rows)}|{_cell(t.source)}|{_cell('; '.join(t.notes))}|")
    return "\n".join(out) + "\n"


def _cell(text: str) -> str:
    return text.replace("|", "/")


def error_table(checks: tuple[Check, ...]) -> list[str]:
    """Every row with the efficiency it wants and its errors, each when left out of the fit."""
    out = [
        "|row|printed, in/min|model, in/min|efficiency wanted|balance|v ~ P/t|v ~ 1/t|assumed|",
        "|-|-|-|-|-|-|-|-|",
    ]
    for c in checks:
        printed = c.row.pace_mm_s / IPM
        model = printed * math.exp(c.balance)
        out.append(
            f"|{c.row.label}|{printed:.0f}|{model:.0f}|{c.wants:.3f}|{c.balance:+.2f}|{c.power_over_t:+.2f}"
            f"|{c.one_over_t:+.2f}|{c.row.assumed or 'nothing'}|"
        )
    errors = [rms(tuple(getattr(c, k) for c in checks)) for k in ("balance", "power_over_t", "one_over_t")]
    out.append(f"|**rms**||||**{errors[0]:.3f}**|**{errors[1]:.3f}**|**{errors[2]:.3f}**||")
    return out


def _section(title: str, rows: tuple[Row, ...]) -> list[str]:
    text = f"### {title}: {len(rows)} rows, fitted efficiency {fitted_efficiency(rows):.3f}"
    return ["", text, "", *error_table(check(rows))]


def _bench_table() -> list[str]:
    kit = generic_kit()
    amps = kit.power.rated_current_a
    tip = max(kit.torch.tips, key=lambda t: t.max_current_a)
    width = kerf.kerf_of_tip(tip, amps)
    anchor = pace.Anchor(kit.power, kit.power.rated_thickness_mm.value, width.value)
    out = [
        f"The built-in bench at {amps:g} A, rated {kit.power.rated_thickness_mm.value:.4g} mm, "
        f"kerf {width.value:.2f} mm,",
        f"effective share of arc power {pace.efficiency(anchor):.3f}; clean pace in in/min with its spread:",
        "",
        "|t, mm|" + "|".join(METALS) + "|",
        "|-|" + "-|" * len(METALS),
    ]
    for t in (3.175, 6.35, 9.525, 12.7, 15.875, 19.05):
        figures = [pace.pace_figure(kit.power, width.value, m, t, amps, width) for m in METALS]
        out.append(
            f"|{t:g}|"
            + "|".join(f"{f.value / IPM:.0f} ({f.low / IPM:.0f} to {f.high / IPM:.0f})" for f in figures)
            + "|"
        )
    limits = [edge_limit(kit.power, width.value, m, amps, width).value for m in METALS]
    out.append("|thickness at 10 in/min|" + "|".join(f"{x:.1f} mm" for x in limits) + "|")
    _, shares = pace.pace_shares(kit.power, width.value, "aluminium", 9.525, amps, width)
    out += ["", "How one spread is made, aluminium 9.525 mm (factors on the pace, one input moved at a time):", ""]
    out += ["|what is uncertain|slow end|fast end|", "|-|-|-|"]
    out += [f"|{s.name}|{s.low:.2f}|{s.high:.2f}|" for s in shares]
    low, high = pace.combined(1.0, shares)
    out.append(f"|**root sum of squared logarithms**|**{low:.2f}**|**{high:.2f}**|")
    return out


def _properties() -> list[str]:
    out = ["|metal|quantity|value|low|high|unit|source|", "|-|-|-|-|-|-|-|"]
    for metal in METALS:
        for q in ("density", "melt", "hot_conductivity", "hot_capacity", "melt_heat", "share_of_steel", "pace_ratio"):
            p = property_of(metal, q)
            out.append(f"|{metal}|{q}|{p.value:g}|{p.low:g}|{p.high:g}|{p.unit}|{_cell(p.source)}|")
    return out


_BALANCE = """
How fast the torch may travel, for whoever wants to check or better the model. Made by `make docs`; the figures are
computed when it is made.

## The balance

    eta V I s / t = v k rho h + loss(Pe) K (Tm - T0)        Pe = v (k/2) / alpha

v pace, t true thickness (plate over the cosine of the bevel), k kerf, rho h heat to melt the slot, K hot
conductivity, s the metal's efficiency over steel's. `loss` is the exact conduction loss of an isothermal cylinder of
the kerf's width moving through the plate, beyond the slot's own heat (formula heat.cylinder-loss): a Bessel sum to
Pe 15, and beyond it a series fitted to the same sum carried in up to 600 digits. The usual short fit 4 (Pe/2)^0.36 is
kept for comparison: 6 % low at Pe 1, 24 % low at 0.1, and by hand steel is cut at about Pe 0.6 to 3, aluminium at 0.05
to 0.3.

eta is not a constant of nature. It is set so that the set's rated thickness in mild steel goes at 10 in/min at rated
current, which is what a rating means in the trade (common practice, no source). So the voltage only matters by its
change with current. Stainless and aluminium go by their own properties and `share_of_steel`, the ratio of
efficiencies fitted below, but no further from steel than the trade's ratio `pace_ratio`; what the balance alone would
say, and both ends of the ratio, are in the spread.

One number is asked of the user: the rating plate. Two coupons of different thickness would replace eta and tell
whether the balance bends rightly on that set.

## What goes in
"""

_PLAIN_RULE = """
The trade's own estimate v = eta V I/(rho h k t) with eta 0.3 to 0.6 gives 23 to 47 in/min at 65 A on 12.7 mm; it has
no conduction, so it is optimistic near capacity, and the voltage and kerf behind it were not kept.

## Against printed rows

Each row is predicted with one efficiency fitted to all the *other* rows of its table. Errors are ln(model/printed):
+0.10 is 10 % fast. Beside the balance stand two plain rules fitted the same way: v ~ P/t (arc power over thickness)
and v ~ 1/t (power left out). No row is dropped.
"""

_ASSUMED = """
No bore is printed: kerf from the first book's orifices by current, and from the hand torch band below 105 A. Where no
current is printed, 70 A as in the same book's air rows; where no voltage, the conventional load line.

## What this says

- Against v ~ P/t, the rule usually given, the balance is about three times nearer on steel and stainless and nearly
  twice on aluminium in the first book.
- The steel rows are nearly v t = constant whatever the power (the book gives thicker plate more power), so v ~ 1/t
  fits those four rows better still, and aluminium's as well. That rule cannot answer what a bench asks, what another
  current does, and is shown so that nobody thinks the balance was proved on steel.
- In the second book the balance is *worse* than v ~ P/t: far too fast on sheet under 4 mm, and too slow on several of
  the thickest plates. Sheet that thin is probably cut as fast as hand or machine can move rather than as fast as the
  arc could. The hand's own band caps the first in a plan; the spread must carry the second.
- None of these rows is a hand torch on air at 20 to 100 A on steel. No published table for that is known here. The
  model is a shape hung on one number from the rating plate. Until a coupon says otherwise expect a band from low to
  high of about a factor two to three in steel and stainless, and two to ten in aluminium, worst near capacity.
"""


def pace_page() -> str:
    """The engineer's page on the pace model, with every printed row."""
    sections = (
        line for metal in METALS for line in _section(f"{metal}, mechanised, N2 or Ar-H2", mechanised_rows(metal))
    )
    out = [
        "# Pace",
        *_BALANCE.splitlines(),
        "",
        *_properties(),
        "",
        "## What comes out",
        "",
        *_bench_table(),
        *_PLAIN_RULE.splitlines(),
        *sections,
        "",
        f"Source: {table('handbook_pace').source}. Kerf taken as 1.5 orifices, power as printed.",
        *_section("aluminium, second book, manual and mechanised, several gases", aluminium_rows()),
        "",
        f"Source: {table('handbook_aluminium').source}.",
        *_ASSUMED.splitlines(),
    ]
    return "\n".join(out) + "\n"


def write(root: Path = ROOT) -> tuple[Path, ...]:
    """Write both pages and return their paths."""
    pages = ((root / "docs" / "formulas.md", formulas_page()), (root / "docs" / "pace.md", pace_page()))
    for path, text in pages:
        path.write_text(text, encoding="utf-8")
    return tuple(path for path, _ in pages)


if __name__ == "__main__":
    for written in write():
        print(written.relative_to(ROOT), file=sys.stderr)
