"""Straightedges: how far off the line the guide is clamped, on either side, and what height and lean do to it."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding, Severity
from lagline.records.setout import Area, Dim, Drawing, Number, SetOut, Stroke, Text
from lagline.setouts.ask import Ask, Given, angle, length, maybe_length, shown_given
from lagline.trade import guide
from lagline.trade.kit_values import kit_figure


def _offsets(given: Given) -> tuple[Figure, Figure, tuple[Finding, ...]]:
    """Return kept-side and drop-side distance: the bench's own, or those of the cup and kerf that were typed."""
    assert given.bench is not None
    setting, found = given.bench.setting()
    cup, kerf = given.get("cup_radius"), given.get("kerf")
    if cup is None and kerf is None:
        return setting.offset_kept_mm, setting.offset_drop_mm, found
    r = setting.cup_radius_mm if cup is None else Figure(cup, cup, cup, "mm", "given", Basis.DRAWING, "as typed")
    k = setting.kerf_mm if kerf is None else Figure(kerf, kerf, kerf, "mm", "given", Basis.DRAWING, "as typed")
    return guide.offset_figure("kept", r, k), guide.offset_figure("drop", r, k), found


def _picture(kept_mm: float, drop_mm: float, given: Given) -> Drawing:
    """The plate from above: the line, a guide on either side, and what lies between."""
    w, h = 90.0, 60.0
    return Drawing(
        "Line and guides",
        areas=(
            Area("metal", ((-w, 0), (0, 0), (0, h), (-w, h))),
            Area("waste", ((0, 0), (w, 0), (w, h), (0, h))),
            Area("guide", ((-kept_mm - 25, 0), (-kept_mm, 0), (-kept_mm, h), (-kept_mm - 25, h))),
            Area("guide", ((drop_mm, 0), (drop_mm + 25, 0), (drop_mm + 25, h), (drop_mm, h))),
        ),
        strokes=(Stroke("cut", ((0, 0), (0, h))),),
        texts=(Text((-w + 22, h - 8), "part, kept"), Text((w - 22, h - 8), "drop")),
        dims=(
            Dim((-kept_mm, 8), (0, 8), given.show(kept_mm)),
            Dim((0, 8), (drop_mm, 8), given.show(drop_mm)),
        ),
    )


def straight(given: Given) -> SetOut:
    """Return the set-out of a straight cut along a guide."""
    kept, drop, found = _offsets(given)
    note = kit_figure(given.bench.kit.torch.cup_radius_mm, "mm", "torch cup radius", given.bench.kit.origin)  # type: ignore[union-attr]
    findings = [f for f in found if f.severity is not Severity.NOTE]
    return SetOut(
        "guide straight",
        f"Straight cut through {given.show(given['thickness'])}, along a guide",
        shown_given(STRAIGHT, given),
        (
            Number("offset_kept_mm", "line to guide, guide on the kept part", kept, main=True),
            Number("offset_drop_mm", "line to guide, guide on the drop", drop, main=True),
            Number("cup_radius_mm", "cup radius at guide height", note),
        ),
        steps=("Clamp the guide the distance from the line, both ends measured.",),
        picture=_picture(kept.value, drop.value, given),
        findings=tuple(findings),
    )


STRAIGHT = Ask(
    "guide", "straight", "Straightedge: from the line to the guide, on the kept part and on the drop.",
    (
        length("thickness", "plate thickness"),
        maybe_length("cup_radius", "cup radius at guide height; empty takes the kit's", least=2, most=40),
        maybe_length("kerf", "kerf at the top; empty takes the bench's", least=0.3, most=6),
        maybe_length("guide_height", "height of the guide; empty leaves out what a lean does", most=100),
        angle("tilt", "how far the torch may lean off square", 0.0, most=20),
    ),
    straight, thickness="thickness", example=(("thickness", "3/8"),),
)  # fmt: skip

ASKS = (STRAIGHT,)
