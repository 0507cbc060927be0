"""One set-up on the bench card: its picture, three large numbers, eight small ones, and what to do in short lines."""

from __future__ import annotations

from lagline.cards import words
from lagline.cards.card_verdict import failed
from lagline.cards.draw_step import ASPECT, step_svg
from lagline.cards.template_shapes import template_of
from lagline.cards.templates import drawn
from lagline.cards.typeset import page
from lagline.cards.widths import fitted, line_count, text_width
from lagline.records.length import show_length
from lagline.records.plan import Clock, Plan, Setting, Start, Step, Verdict

MM_PT = 72 / 25.4
MARGIN_MM, GUTTER_MM, HEAD_FOOT_MM = 11.0, 5.0, 28.0
ABOVE_MM, KEYS_MM, SMALLS_MM = 11.2, 12.8, 14.9  # title, large and small numbers, with the air below them
NOT_DRAWN = "The template could not be drawn: follow the line freehand"
LEAST_PT = 8.0  # nothing on a set-up is smaller
KEY_COLUMNS, SMALL_COLUMNS = (1.2, 1.0, 0.8), (1.55, 0.8, 1.0, 0.8)
COLUMN_GAP_MM = 2.0
CAPITAL, LEADING = 0.73, 0.5  # height of a capital and air between lines, in text sizes


def cell_mm(paper: str) -> tuple[float, float]:
    """Return width and height of a quarter page [mm]."""
    width, height = page(paper)
    return (width - 2 * MARGIN_MM - GUTTER_MM) / 2, (height - HEAD_FOOT_MM - GUTTER_MM) / 2


def setup_data(plan: Plan, step: Step, paper: str) -> dict[str, object]:
    """Return everything of one set-up as texts with their sizes [pt]."""
    wide, tall = cell_mm(paper)
    clock = next((c for c in plan.timetable.clocks if c.number == step.number), None)
    verdict = next((v for v in plan.verdicts if v.number == step.number), None)
    setting, go = plan.setting(step.setting), verdict.go if verdict else True
    count = f"{step.group} of {step.of}" if step.of > 1 else ""
    aside = text_width(count, 8) if go else text_width("NO-GO", 9) + 7
    room = wide * MM_PT - text_width(str(step.number), 18) - aside - 2 * 2.5 * MM_PT
    smalls = _columns(_smalls(plan, step, setting, clock, verdict), wide, SMALL_COLUMNS, 11)
    broken = any(text_width(str(k[1]), LEAST_PT) > _column_pt(wide, SMALL_COLUMNS, i) for i, k in enumerate(smalls))
    over = LEAST_PT * (CAPITAL + LEADING) / MM_PT if broken else 0.0
    lines, size, share = _fit(_lines(plan, step, verdict, paper), wide, tall - over)
    return {
        "number": step.number,
        "title": step.title,
        "title_pt": fitted(step.title, room, 11, LEAST_PT),
        "count": count,
        "go": go,
        "svg": step_svg(plan, step.number, paper=True),
        "share": share,
        "keys": _columns(_keys(plan, step, setting, go), wide, KEY_COLUMNS, 17),
        "smalls": smalls,
        "lines": lines,
        "lines_pt": size,
    }


def _columns(rows: list[list[str]], wide: float, columns: tuple[float, ...], size: float) -> list[list[object]]:
    """Return label, text, its size, and what stands under it."""
    return [
        [r[0], r[1], fitted(r[1], _column_pt(wide, columns, i), size, LEAST_PT), *r[2:]] for i, r in enumerate(rows)
    ]


def _column_pt(wide: float, columns: tuple[float, ...], i: int) -> float:
    """Return the width of the column that item ``i`` stands in [pt]."""
    free = (wide - COLUMN_GAP_MM * (len(columns) - 1)) * MM_PT / sum(columns)
    return free * columns[i % len(columns)]


def _fit(lines: list[str], wide: float, tall: float) -> tuple[list[str], float, float]:
    """Return the lines, their size [pt] and the picture's share of the width: text first shrinks to 8 points, then the
    picture gives way; a set-up that cannot go loses what it would not need."""
    rest = tall - ABOVE_MM - KEYS_MM - SMALLS_MM

    def fits(of: list[str], size: float, share: float) -> bool:
        n = sum(line_count(t, wide * MM_PT, size, bold=t.startswith("NO-GO")) for t in of)
        return (n * (CAPITAL + LEADING) - LEADING) * size <= (rest - share * wide / ASPECT) * MM_PT

    while True:
        for size, share in ((9.5, 1.0), (9.0, 1.0), (8.5, 1.0), (8.0, 1.0), (8.0, 0.94), (8.0, 0.85), (8.0, 0.75)):
            if fits(lines, size, share):
                return lines, size, share
        if len(lines) <= 1 or not lines[0].startswith("NO-GO"):
            return lines, LEAST_PT, 0.7
        lines = lines[:-1]


def _lines(plan: Plan, step: Step, verdict: Verdict | None, paper: str) -> list[str]:
    units = plan.job.units
    template = template_of(plan, step)
    lost = template is not None and template in drawn(plan, paper).lost
    last = f"Work clamp at {words.place(step.clamp, units)}"
    if falls := words.falls(step):
        last += f". {falls}"
    lines = [
        NOT_DRAWN if lost else words.guide_short(step, units, template.name if template else ""),
        words.start_short(step),
        f"Travel {words.direction(step)}; {words.sides_short(step)}",
        last,
    ]
    if said := words.besides(step, units):
        lines.insert(0, said)
    if verdict and not verdict.go:
        lines.insert(0, f"NO-GO: {'; '.join(failed(verdict))}")
    return lines


def _keys(plan: Plan, step: Step, setting: Setting, go: bool) -> list[list[str]]:
    units, key = plan.job.units, words.key_length(step)
    pace = setting.pace_mm_s
    beat, rate = words.beat(pace) if units == "in" else words.beat_mm(pace)
    rate = f"{rate} in/min" if units == "in" else f"{pace.value:.1f} ({pace.low:.0f}-{pace.high:.0f}) mm/s"
    if not go:
        beat, rate = "no-go", "do not cut"
    main, other = words.guide_length(key[1], units) if key else ("freehand", "")
    return [
        [key[0] if key else "to the line", main, other],
        ["beat", beat, rate],
        ["current", f"{setting.current_a:.0f} A", f"tip {setting.tip}"],
    ]


def _smalls(plan: Plan, step: Step, setting: Setting, clock: Clock | None, verdict: Verdict | None) -> list[list[str]]:
    units, lean = plan.job.units, setting.lead_angle_deg
    holds = f"±{show_length(verdict.tolerance_mm.value, units, 32, decimals=1)}" if verdict else "-"
    return [
        [f"{_START_SHORT[step.start]} at", words.place(words.start_point(step), units)],
        ["arc on", words.clock(clock.arc_s) if clock else "-"],
        ["wait before", _before(clock)],
        ["size holds", holds],
        ["height", _height(setting, units)],
        ["lean back", f"{lean.low:.0f}-{lean.high:.0f}°"],
        ["tank", _tank(clock, units) if clock else "-"],
        ["duty used", f"{clock.duty_used:.0%}" if clock else "-"],
    ]


_START_SHORT = {
    Start.EDGE: "edge start",
    Start.PIERCE: "pierce",
    Start.DRILLED: "drilled start",
    Start.KERF: "start",
    Start.NONE: "centre",
}


def _tank(clock: Clock, units: str) -> str:
    unit, per = ("psi", 6.894757) if units == "in" else ("kPa", 1.0)
    return f"{clock.tank_start_kpa_g / per:.0f}-{clock.tank_end_kpa_g / per:.0f} {unit}"


def _before(c: Clock | None) -> str:
    waits = [] if c is None else [
        f"{name} {words.clock(v)}" for name, v in (("rest", c.rest_s), ("air", c.air_wait_s)) if v >= 1
    ]  # fmt: skip
    return ", ".join(waits) or "none"


def _height(setting: Setting, units: str) -> str:
    if setting.drag:
        return "drag"
    s = setting.standoff_mm
    if units == "mm":
        return f"{s.low:.1f}-{s.high:.1f} mm"
    a, b = (show_length(v, "in", 32, mark_over_mm=99).rstrip('"') for v in (s.low, s.high))
    return f'{a}-{b}"' if a != b else f'{a}"'
