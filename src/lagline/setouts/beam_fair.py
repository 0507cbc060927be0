"""A nick in a cut edge: whether it may be ground out, and how far it is faired."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity, sort_findings
from lagline.records.setout import Area, Dim, Drawing, Number, SetOut, Stroke, exact
from lagline.setouts.ask import Ask, Faults, Field, Given, length, shown_given
from lagline.setouts.beam_common import CUT_EDGE_RULES, of, rules_table
from lagline.trade import structural
from lagline.trade.structural import rule

_FIELDS: tuple[Field, ...] = (
    length("nick", "how deep the notch or gouge is from the edge", least=0.1, most=100),
    length("width", "width of the metal there, from edge to edge", least=5, most=3000),
)


def fair(given: Given) -> SetOut:
    """Return what is ground of a nick in a cut edge."""
    where = "beam fair"
    nick, width, show = given["nick"], given["width"], given.show
    faults = Faults(where)
    faults.unless(
        nick < width / 2, "nick", f"a notch of {show(nick)} in {show(width)} is no nick",
        "less than half the width; the piece is scrap, or the engineer's",
    )  # fmt: skip
    faults.raise_if_any()
    each, loss = structural.fair_length(nick), nick / width
    needed = structural.ground_width(nick)
    shallow = nick <= rule("notch_ground").value + 1e-6
    found = []
    if shallow:
        message = f"{show(nick)} is no deeper than {show(rule('notch_ground').value)}: grind it out and fair it"
        found.append(Finding("nick-grind", Severity.NOTE, where, message, rule("notch_ground").source))
    elif loss <= rule("area_loss").value + 1e-9:
        message = f"{show(nick)} may be ground: {100 * loss:.1f} % of the section, no more than 2"
        found.append(Finding("nick-grind", Severity.NOTE, where, message, rule("area_loss").source))
    else:
        message = f"{show(nick)} takes {100 * loss:.1f} % of {show(width)}: too much to grind out"
        allowed = f"in {show(needed)} or wider it might; else weld it up with the engineer's approval, or recut"
        found.append(Finding("nick-deep", Severity.NO_GO, where, message, f"{allowed}; {rule('area_loss').source}"))
    numbers = (
        of("fair_mm", "grind fair this far on each side", each, "beam.fair-length", main=True),
        of("ground_mm", "the whole ground length, at least", 2 * each, "beam.fair-length"),
        Number("loss_percent", "section lost", exact(100 * loss, "%", "beam.ground-width", "geometry (derived)")),
        of("least_width_mm", "deeper than 3/16 in it may be ground only in metal so wide", needed, "beam.ground-width"),
    )
    deep = 3.0 * nick
    edge = ((-each * 1.3, 0.0), (-each, 0.0), (0.0, -nick), (each, 0.0), (each * 1.3, 0.0))
    picture = Drawing(
        "The edge from the side",
        (Area("metal", ((-each * 1.3, -deep), (each * 1.3, -deep), *reversed(edge))),),
        (Stroke("cut", edge), Stroke("hidden", ((-each, 0.0), (each, 0.0)))),
        (),
        (
            Dim((-each, 0.0), (0.0, 0.0), show(each), each * 0.12),
            Dim((0.0, 0.0), (each, 0.0), show(each), each * 0.12),
            Dim((0.0, -nick), (0.0, 0.0), show(nick), -1.4 * each),
        ),
    )
    return SetOut(
        where,
        f"Nick {show(nick)} deep in {show(width)}",
        shown_given(FAIR, given),
        numbers,
        tables=(rules_table(CUT_EDGE_RULES, given),),
        steps=(
            "Chalk the deepest place, and a line on each side at the distance given.",
            "Grind to the bottom of the nick and fair it straight out to the lines, along the edge, not across it.",
            "Look for a crack at the bottom before it is called done.",
        ),
        picture=picture,
        findings=sort_findings(found),
    )


FAIR = Ask(
    "beam", "fair", "Nick in a cut edge: grind it or not, and how far to fair it.", _FIELDS, fair,
    example=(("nick", "3/16"), ("width", "8")),
)  # fmt: skip

ASKS = (FAIR,)
