"""Gauge blocks: two strips at full scale, one as wide as the guide stands off on the part, one as on the drop."""

from __future__ import annotations

from lagline.records.finding import Finding, Severity
from lagline.records.setout import Area, Column, Drawing, Number, SetOut, Stroke, Table, Text
from lagline.setouts.ask import Ask, Given, length, maybe_length, shown_given
from lagline.setouts.guide import half_width, view
from lagline.setouts.guide_torch import CUP, KERF, ROUNDED, Torch, both, made_for, rounded, torch_of

NARROW_MM = 6.0  # a narrower block cannot be held against a line; common practice, no source


def _strip(word: str, width: float, long: float, y: float, shown: str, label: str) -> Drawing:
    """One strip as a drawing: as wide as the distance, what it is written on and beside it."""
    words = f"{word}  {shown}   {label}"
    size = min(2.6, width * 0.3, long / (0.9 * len(words)))
    ring = ((0.0, y), (long, y), (long, y + width), (0.0, y + width))
    return Drawing(
        word,
        (Area("paper", ring),),
        (Stroke("cut", ring, closed=True),),
        (
            Text((long / 2, y + width / 2), words, 0.0, size),
            Text((long / 2, y + width + 5), "this edge to the line", 0.0, 2.2),
            Text((long / 2, y - 5), "this edge to the guide", 0.0, 2.2),
        ),
    )


def _sheet(t: Torch, given: Given, long: float) -> Drawing:
    label = made_for(t, given)
    short = f"R {both(t.r, given)}  kerf {both(t.k, given)}  tip {t.setting.tip}"
    keep = _strip("KEEP", t.kept.value, long, t.drop.value + 30, both(t.kept.value, given), short)
    drop = _strip("DROP", t.drop.value, long, 0.0, both(t.drop.value, given), short)
    return Drawing(
        "Gauge blocks",
        keep.areas + drop.areas,
        keep.strokes + drop.strokes,
        keep.texts + drop.texts,
        (),
        (f"Gauge blocks for {label}", "Glue on, cut or file the block to the lines; renew it with each tip and cup."),
    )


def _picture(t: Torch, given: Given) -> Drawing:
    """Either block between line and guide, as it is used."""
    a = view(0.0, True, t, given.show(t.kept.value), block="keep block")
    b = view(2 * half_width(t) + 32, False, t, given.show(t.drop.value), block="drop block")
    name = "The blocks between line and guide: keep left, drop right"
    return Drawing(name, (*a[0], *b[0]), (*a[1], *b[1]), (*a[2], *b[2]), (*a[3], *b[3]))


def blocks(given: Given) -> SetOut:
    """Return the two gauge blocks of a torch and a metal."""
    t = torch_of(given, BLOCKS.kind)
    findings = list(t.findings)
    for word, key, width in (("keep", "kept", t.kept.value), ("drop", "drop", t.drop.value)):
        if width < NARROW_MM:
            findings.append(
                Finding(
                    "block-narrow",
                    Severity.CAUTION,
                    f"{BLOCKS.kind}, {key}",
                    f"the {word} block is only {given.show(width)} wide",
                    "make it as a step milled or filed on a wider block (common practice, no source)",
                )
            )
    rows = (("keep", *rounded(t.kept.value)), ("drop", *rounded(t.drop.value)))
    table = Table("rounding", "The blocks, and what rounding costs", (Column("block", "block"), *ROUNDED), rows)
    kept, drop = given.show(t.kept.value), given.show(t.drop.value)
    return SetOut(
        BLOCKS.kind,
        f"Gauge blocks for tip {t.setting.tip} in {given.show(given['thickness'])} {t.setting.stock.metal}",
        shown_given(BLOCKS, given),
        (
            Number("block_keep_mm", "width of the keep block: from the line to a guide on the part", t.kept, main=True),
            Number("block_drop_mm", "width of the drop block: from the line to a guide on the drop", t.drop, main=True),
            Number("cup_radius_mm", "cup radius at guide height", t.cup),
            Number("kerf_mm", "kerf", t.kerf),
        ),
        (table,),
        (
            "Print the sheet at full scale and check its bar with a rule.",
            f"Glue the keep strip on a block and file it to {kept} wide; the drop strip on another, {drop}.",
            "Write cup, kerf and tip on each; they are good for that tip, cup and plate only.",
            "To use one, lay its edge on the line, push the guide up to its other edge, clamp, and do the other end.",
            "Prove them on scrap: nick a scrap along a guide and measure from the guide to either side of the kerf; "
            "what you measure is what the blocks should be.",
        ),
        _picture(t, given),
        (_sheet(t, given, given["block_length"]),),
        tuple(findings),
    )


BLOCKS = Ask(
    "guide", "blocks", "Two gauge blocks at full scale: from the line to the guide, on the part and on the drop.",
    (
        length("thickness", "plate thickness", least=0.5, most=60),
        CUP,
        KERF,
        maybe_length("block_length", "length of the blocks", 152.4, least=80, most=400),
    ),
    blocks, thickness="thickness", example=(("thickness", "3/8"),),
)  # fmt: skip

ASKS = (BLOCKS,)
