"""An item of the rack as people and programs are told of it: sizes, weight, where it came from, what became of it."""

from __future__ import annotations

from dataclasses import dataclass

from lagline.book.rack import KeptItem, RackCut
from lagline.cards.kept_mark import clear_size
from lagline.cards.plan_json import plain
from lagline.desk.rack_desk import Advised
from lagline.planning.offcuts import kept_rectangle
from lagline.planning.rack_use import described, weight
from lagline.records.length import show_length
from lagline.records.rack import RackItem
from lagline.shapes.region import polygon
from lagline.trade.mass import mass_of_area


@dataclass(frozen=True, slots=True)
class Sizes:
    """How large an item is: across its outermost points, its largest clear rectangle, its true area and mass."""

    width_mm: float
    height_mm: float
    rectangle_mm: tuple[float, float, float, float]
    area_mm2: float
    mass_kg: float


def sizes(item: RackItem) -> Sizes:
    """Return an item's sizes."""
    left, bottom, right, top = item.outline.bounds()
    box = kept_rectangle(polygon(item.outline, 0.05), 0.0)
    area = item.outline.area
    kg = mass_of_area(item.stock.metal, area, item.stock.thickness_mm).value
    return Sizes(right - left, top - bottom, box, area, kg)


def units_of(item: RackItem) -> str:
    """Return the unit an item's sizes are told in: that of its thickness as it was written."""
    return "mm" if "mm" in item.stock.thickness_text else "in"


def size_text(item: RackItem, size: Sizes, units: str | None = None) -> str:
    """Return an item's size in one line: outermost, and what is clear in it where that is less."""
    unit = units or units_of(item)
    outer = f"{show_length(size.width_mm, unit)} x {show_length(size.height_mm, unit)}"
    clear = clear_size(size.rectangle_mm, unit)
    full = size.rectangle_mm[2] * size.rectangle_mm[3] > 0.995 * size.width_mm * size.height_mm
    return outer if full else f"{outer} outermost, {clear} clear"


def state_text(item: RackItem) -> str:
    """Return what became of an item."""
    return item.spent or str(item.state)


def from_text(item: RackItem) -> str:
    """Return where an offcut came from, "" when it was put on by hand."""
    return f"left of {item.from_plate}, {item.from_job}, plan {item.from_plan}" if item.from_plan else ""


def line_of(item: RackItem) -> str:
    """Return an item in one line."""
    size = sizes(item)
    heavy = weight(size.mass_kg, units_of(item))
    told = [
        f"{item.kind}, {described(item.stock)}", size_text(item, size), heavy, item.called,
        item.place, f"worth {item.worth:.2f}" if item.worth is not None else "", from_text(item),
    ]  # fmt: skip
    return f"{item.mark}  {'; '.join(t for t in told if t)}; {state_text(item)}"


def item_dict(item: RackItem) -> dict[str, object]:
    """Return an item for programs; every key carries its unit."""
    size = sizes(item)
    return {
        "mark": item.mark, "kind": item.kind, "state": str(item.state), "metal": item.stock.metal,
        "grade": item.stock.grade, "thickness_mm": item.stock.thickness_mm, "thickness": item.stock.thickness_text,
        "coating": item.stock.coating, "name": item.name, "heat": item.heat, "place": item.place, "date": item.date,
        "worth": item.worth, "note": item.note, "width_mm": round(size.width_mm, 3),
        "height_mm": round(size.height_mm, 3), "rectangle_mm": [round(v, 3) for v in size.rectangle_mm],
        "area_mm2": round(size.area_mm2, 2), "mass_kg": round(size.mass_kg, 3), "outline": plain(item.outline),
        "from_job": item.from_job, "from_plan": item.from_plan, "from_plate": item.from_plate,
        "used_by_job": item.by_job, "used_by_plan": item.by_plan,
    }  # fmt: skip


def kept_dict(kept: KeptItem) -> dict[str, object]:
    """Return an item with what was done to it, for programs."""
    acts = [{"at": a.at, "what": a.what, "plan": a.about, "why": a.why} for a in kept.acts]
    return item_dict(kept.item) | {"acts": acts}


def cut_dict(cut: RackCut) -> dict[str, object]:
    """Return a cutting for programs; ``fresh`` is false when it had been written before."""
    return {
        "job": cut.job, "plan": cut.plan, "number": cut.number, "at": cut.at, "used": list(cut.used),
        "left": list(cut.left), "fresh": cut.fresh,
    }  # fmt: skip


def cut_text(cut: RackCut) -> str:
    """Return a cutting in a sentence."""
    when = cut.at[:10]
    used = f"used {', '.join(cut.used)}" if cut.used else "used no plate of the rack"
    left = f"left {', '.join(cut.left)}" if cut.left else "left nothing worth keeping"
    count = f", time {cut.number}" if cut.number > 1 else ""
    return f"{cut.job}, plan {cut.plan}, was cut on {when}{count}: {used}; {left}"


def advice_dict(advised: Advised) -> dict[str, object]:
    """Return advice for programs."""
    a = advised.advice
    return {
        "job": advised.job.name, "plates": list(a.cut), "left_over": a.left_over,
        "charge": round(a.charge, 2), "currency": advised.kit.bench.currency, "sets_tried": a.tries,
        "items": [{"mark": t.mark, "used": t.used, "why": t.why} for t in advised.told],
    }  # fmt: skip
