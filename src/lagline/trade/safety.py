"""Usual cautions of hot work with the rule each is from. Local codes and the site's permit come first."""

from __future__ import annotations

from lagline.data import table
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.trade.register import Limit, formula

_LOCAL = "local code and the site's permit come first"
DEFAULT_LENS_RULE = "29 CFR 1910.133"
DEFAULT_FIRE_RULE = "29 CFR 1910.252(a)(2)(iii)"


def lens_rules(work: str = "cutting") -> tuple[str, ...]:
    """Names of the lens rules in the table for a kind of work (``cutting``, ``air carbon arc``)."""
    return tuple(dict.fromkeys(r["rule"] for r in table("lens_shades").rows if r["work"] == work))


@formula(
    "safety.lens",
    text="least shade by arc current from the rule's table; of several rules the darkest",
    gives="lens shade [shade]",
    source="table lens_shades",
    limits=(Limit("current_a", 0, 400, "A", "the rules end between 400 and 1000 A"),),
)
def lens_shade(current_a: float, rules: tuple[str, ...] = (DEFAULT_LENS_RULE,), work: str = "cutting") -> Figure | None:
    """Least lens shade at an arc current [A] by the rules named, the darkest of them.

    The spread runs from the lightest to the darkest that any of the rules gives, suggestions included. None
    when no named rule has a row for the current.
    """
    rows = [
        r
        for r in table("lens_shades").rows
        if r["work"] == work and r["rule"] in rules and float(r["from_a"]) <= current_a < float(r["to_a"])
    ]
    if not rows:
        return None
    darkest = max(rows, key=lambda r: float(r["least"]))
    least = [float(r["least"]) for r in rows]
    suggested = [float(r["suggested"]) for r in rows if r["suggested"]]
    return Figure(
        max(least),
        min(least),
        max(least + suggested),
        "shade",
        "safety.lens",
        Basis.STANDARD,
        f"{darkest['rule']} ({darkest['tag']})",
        (("current [A]", f"{current_a:g}"), ("rules", ", ".join(rules))),
    )


def lens_findings(current_a: float, rules: tuple[str, ...] = (DEFAULT_LENS_RULE,)) -> tuple[Finding, ...]:
    """The lens caution, naming the rule used; one more when a named rule is not known or has no row."""
    known = lens_rules()
    out = []
    for rule in rules:
        if rule not in known:
            out.append(
                Finding("lens-rule-unknown", Severity.CAUTION, "lens", f"'{rule}' is not a rule here", "; ".join(known))
            )
        elif lens_shade(current_a, (rule,)) is None:
            out.append(
                Finding("lens-rule-blank", Severity.CAUTION, "lens", f"{rule} has no row for {current_a:g} A", _LOCAL)
            )
    shade = lens_shade(current_a, tuple(r for r in rules if r in known)) or lens_shade(current_a, known)
    widest = lens_shade(current_a, known)
    if shade is None or widest is None:
        return tuple(out)
    out.append(
        Finding(
            "lens",
            Severity.CAUTION,
            "lens",
            f"shade {shade.value:.0f} or darker at {current_a:g} A by {shade.source}"
            + (f", {shade.high:.0f} suggested" if shade.high > shade.value else "")
            + f"; rules differ from {widest.low:.0f} to {widest.high:.0f}",
            "for everyone who sees the arc; " + _LOCAL,
        )
    )
    return tuple(out)


@formula(
    "safety.fire-watch",
    text="minutes by rule from table fire_watch",
    gives="least fire watch after the last arc [min]",
    source="table fire_watch",
)
def fire_watch(rule: str = DEFAULT_FIRE_RULE) -> Figure:
    """Least fire watch after the last arc by a rule of the table. [min] The high end is the strictest rule here."""
    rows = {r["rule"]: r for r in table("fire_watch").rows}
    if rule not in rows:
        raise ValueError(f"fire watch rule must be one of {'; '.join(rows)}, got {rule!r}")
    minutes = float(rows[rule]["watch_min"])
    return Figure(
        minutes,
        minutes,
        max(float(r["watch_min"]) for r in rows.values()),
        "min",
        "safety.fire-watch",
        Basis.STANDARD,
        f"{rule} ({rows[rule]['tag']})",
    )


def fire_finding(rule: str = DEFAULT_FIRE_RULE) -> Finding:
    """The fire watch caution with its rule and edition."""
    watch = fire_watch(rule)
    return Finding(
        "fire-watch",
        Severity.CAUTION,
        "fire",
        f"watch at least {watch.value:.0f} min after the last arc by {watch.source}; NFPA 51B:2019 asks 1 hour and up "
        "to 3 hours of monitoring (from memory); nothing that burns within 35 ft (10.7 m), nor behind a wall or "
        "below an opening",
        "extinguisher to hand; " + _LOCAL,
    )


def fume_findings(metal: str, coating: str = "bare") -> tuple[Finding, ...]:
    """Cautions on what a metal and its coating give off."""
    return tuple(
        Finding(r["code"], Severity.CAUTION, r["name"], r["message"], r["allowed"])
        for r in table("fume").rows
        if (r["kind"], r["name"]) in (("metal", metal), ("coating", coating))
    )


def ventilation_finding() -> Finding:
    """When a shop needs fans by the general rule."""
    return Finding(
        "ventilation",
        Severity.NOTE,
        "air",
        "29 CFR 1910.252(c)(2) asks mechanical ventilation under 10,000 ft3 (284 m3) for each cutter, under a 16 ft "
        "(5 m) ceiling, or in a confined space: 2,000 cfm (57 m3/min) each, or local exhaust at 100 ft/min (0.5 m/s)",
        _LOCAL,
    )


@formula(
    "safety.noise-time",
    text="T = 8/2^((L - 90)/5)",
    gives="permitted time at a noise level [h]",
    source="29 CFR 1910.95 appendix A (derived; its table is rounded)",
    limits=(Limit("level_dba", 80, 115, "dB(A)"),),
)
def permitted_noise_h(level_dba: float) -> float:
    """Permitted hours a day at a level [dB(A)] by 29 CFR 1910.95. [h] Check: 92 dB(A) gives 6.06 h."""
    return float(8 / 2 ** ((level_dba - 90) / 5))


def noise_finding() -> Finding:
    """The noise caution: what the cut sounds like and how long that is allowed bare-eared."""
    return Finding(
        "noise",
        Severity.CAUTION,
        "ears",
        f"hand plasma is 98 to 105 dB(A) (HSE, seen): 29 CFR 1910.95 allows {permitted_noise_h(98):.1f} to "
        f"{permitted_noise_h(105):.0f} h a day, the NIOSH limit 15 min at 100 dB(A)",
        "ear protection for cutting and grinding",
    )


def aluminium_water_finding() -> Finding:
    """Why aluminium is not cut over water."""
    return Finding(
        "aluminium-water",
        Severity.CAUTION,
        "table",
        "aluminium over or under water can trap hydrogen that explodes: common practice, no source",
        "no water below unless the table is designed and vented for it; never with aluminium-lithium",
    )


def shop_air_finding() -> Finding:
    """Air for cleaning is not air for skin."""
    return Finding(
        "air-cleaning",
        Severity.NOTE,
        "air",
        "blowing off: not above 30 psi (207 kPa), never on clothing or skin, 29 CFR 1910.242(b) (from memory)",
        "drain tank and hose before changing tips",
    )


def voltage_finding() -> Finding:
    """Open circuit voltage at the tip."""
    return Finding(
        "tip-voltage",
        Severity.CAUTION,
        "torch",
        "hand sets carry 200 to 400 V dc without an arc: common practice, no source",
        "power off before touching tip or electrode; dry gloves",
    )


def closed_vessel_finding() -> Finding:
    """Drums, tanks and hollow sections: not as they stand."""
    return Finding(
        "closed-vessel",
        Severity.NO_GO,
        "job",
        "a used drum, tank or closed hollow can burst: 29 CFR 1910.252(a)(3) (from memory) asks thorough cleaning, "
        "pipes blanked off and hollow spaces vented before heat",
        "not until cleaned, vented and signed for; purging with inert gas advised; " + _LOCAL,
    )


def hot_work_findings(
    metal: str,
    coating: str,
    current_a: float,
    rules: tuple[str, ...] = (DEFAULT_LENS_RULE,),
    fire_rule: str = DEFAULT_FIRE_RULE,
    closed_vessel: bool = False,
) -> tuple[Finding, ...]:
    """Every usual caution for cutting a metal with a coating at a current [A], gravest first."""
    out = [closed_vessel_finding()] if closed_vessel else []
    out += [*lens_findings(current_a, rules), fire_finding(fire_rule), *fume_findings(metal, coating)]
    if metal == "aluminium":
        out.append(aluminium_water_finding())
    return (*out, noise_finding(), voltage_finding(), ventilation_finding(), shop_air_finding())
