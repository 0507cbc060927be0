"""Blanks set out on a plate and cut on paper, for the laws about cuts: no layout stage needed."""

from __future__ import annotations

from dataclasses import replace

import shapely

from lagline.planning.cuts import make_cuts
from lagline.planning.kit_file import generic_kit
from lagline.planning.proof import Left, what_is_left
from lagline.planning.steps import make_steps
from lagline.records.figure import Basis, Figure
from lagline.records.finding import Finding
from lagline.records.geometry import Line, Loop, Move, Outline
from lagline.records.job import Plate, Stock
from lagline.records.kit import Kit
from lagline.records.plan import Blank, Cut, Layout, Placed, Setting, Step
from lagline.trade.guide import offset_figure


def figure(value: float, unit: str = "mm", spread: float = 0.2) -> Figure:
    return Figure(value, value * (1 - spread), value * (1 + spread), unit, "test.plain", Basis.DEFAULT, "test")


def plain_setting(
    stock: Stock, kerf: float = 1.7, cup: float = 11.0, pierce: bool = True, min_hole: float = 19.0
) -> Setting:
    t = stock.thickness_mm
    return Setting(
        id="test",
        stock=stock,
        bevel_deg=0.0,
        true_thickness_mm=t,
        current_a=55.0,
        tip="test",
        drag=True,
        standoff_mm=figure(2.0),
        lead_angle_deg=figure(7.0, "deg"),
        kerf_mm=figure(kerf),
        cup_radius_mm=figure(cup),
        offset_kept_mm=offset_figure("kept", figure(cup), figure(kerf)),
        offset_drop_mm=offset_figure("drop", figure(cup), figure(kerf)),
        pace_mm_s=figure(10.0, "mm/s"),
        bevel_good_deg=figure(2.0, "deg"),
        bevel_bad_deg=figure(5.0, "deg"),
        edge_ok=True,
        pierce_ok=pierce,
        weakest="",
        min_hole_mm=figure(min_hole),
        lead_in_mm=max(t, 6.35),
        crater_radius_mm=0.6 * t,
    )


def shelf(blanks: tuple[Blank, ...], gap: float, margin: float) -> tuple[Plate, Layout]:
    """One of each blank in rows, lower left first, on a plate cut to hold them."""
    placed: list[Placed] = []
    x, y, row, width = margin, margin, 0.0, 1500.0
    for i, b in enumerate(blanks):
        left, bottom, right, top = b.cut.bounds()
        w, h = right - left, top - bottom
        if x + w > width:
            x, y, row = margin, y + row + gap, 0.0
        placed.append(Placed(i, 1, 0, Move(x - left, y - bottom)))
        x, row = x + w + gap, max(row, h)
    top = y + row + margin
    outline = box(width + 600, top)
    return Plate("A", "plate", outline, blanks[0].part.stock, margin), Layout(tuple(placed), (), gap, "shelf")


def box(w: float, h: float) -> Outline:
    pts = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
    lines = tuple(Line(a, b) for a, b in zip(pts, pts[1:] + pts[:1], strict=True))
    return Outline(Loop(lines, ("bottom", "right", "top", "left")))


def cut_on_paper(
    blanks: tuple[Blank, ...],
    kit: Kit | None = None,
    setting: Setting | None = None,
    gap: float | None = None,
    margin: float = 15.0,
    entry: int = 0,
) -> tuple[tuple[Cut, ...], tuple[Step, ...], tuple[Left, ...], tuple[Finding, ...], Plate, Layout]:
    kit = kit or generic_kit()
    setting = setting or plain_setting(blanks[0].part.stock)
    plate, layout = shelf(blanks, gap if gap is not None else 2 * setting.kerf_mm.value + 8, margin)
    cuts, findings = make_cuts(blanks, (plate,), layout, (setting,), kit)
    order = tuple((i, entry % len(c.entries)) for i, c in enumerate(cuts))
    steps, loose = make_steps(cuts, order, blanks, (plate,), layout, (setting,), kit)
    findings = (*findings, *loose)
    left = what_is_left((plate,), blanks, layout, steps, (setting,))
    return cuts, steps, left, findings, plate, layout


def turned(kit: Kit, side: str) -> Kit:
    return replace(kit, torch=replace(kit.torch, square_side=side))


def part_polygon(blank: Blank, layout: Layout, index: int) -> shapely.Polygon:
    from lagline.shapes.region import polygon

    return polygon(layout.placed[index].move.outline(blank.cut))
