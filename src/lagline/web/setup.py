"""One set-up at the bench: its picture, and its numbers to be read at arm's length."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lagline.cards import words
from lagline.desk.job_desk import JobDesk
from lagline.desk.pictures import setup_picture
from lagline.records.errors import refuse
from lagline.records.length import seconds_per_inch
from lagline.records.plan import ArmGuide, Method, Plan, Step, StraightGuide, TemplateGuide
from lagline.web.look import page

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Number:
    """A number on the page: its name, as shown, a second line, and the path to its reason (empty when it has none)."""

    name: str
    shown: str
    also: str = ""
    why: str = ""


def _guide_path(index: int, step: Step) -> str:
    match step.guide:
        case StraightGuide():
            return f"steps.{index}.guide.offset_mm"
        case ArmGuide():
            return f"steps.{index}.guide.arm_mm"
        case TemplateGuide():
            return f"steps.{index}.guide.inset_mm"
    return ""


def big_numbers(plan: Plan, index: int) -> list[Number]:
    """Return what the hands need: guide, pace, current, height, lean."""
    step, units = plan.steps[index], plan.job.units
    setting = plan.setting(step.setting)
    at = f"settings.{plan.settings.index(setting)}"
    out = []
    found = words.key_length(step)
    if found is not None:
        name, mm = found
        here, other = words.guide_length(mm, units)
        out.append(Number(name, here, other, _guide_path(index, step)))
    if isinstance(step.guide, ArmGuide):
        here, other = words.guide_length(step.guide.to_cup_edge_mm.value, units)
        out.append(Number("pivot to near edge of cup", here, other, f"steps.{index}.guide.to_cup_edge_mm"))
    if step.method is Method.DRILL:
        return out
    beat, rate = (words.beat if units == "in" else words.beat_mm)(setting.pace_mm_s)
    unit = "in/min" if units == "in" else "mm/s"
    out.append(Number("pace", beat, f"{rate} {unit}", f"{at}.pace_mm_s"))
    out.append(Number("current", f"{setting.current_a:g} A", f"tip {setting.tip}", f"{at}.current_a"))
    height = words.tip_height(setting, units)
    if setting.drag:
        out.append(Number("tip height", "drag", "cup on the plate", f"{at}.standoff_mm"))
    else:
        text, _, mm = height.removeprefix("standoff ").partition(" (")
        out.append(Number("standoff", text, mm.rstrip(")"), f"{at}.standoff_mm"))
    lean = setting.lead_angle_deg
    out.append(
        Number("lean, torch trailing", f"{lean.value:g}°", f"{lean.low:g} to {lean.high:g}°", f"{at}.lead_angle_deg")
    )
    if setting.bevel_deg:
        out.append(Number("bevel", f"{setting.bevel_deg:g}°", f"true thickness {setting.true_thickness_mm:.1f} mm"))
    return out


def small_numbers(plan: Plan, index: int) -> list[Number]:
    """Return the rest: kerf, faces, tolerance, times, air."""
    step = plan.steps[index]
    setting, units = plan.setting(step.setting), plan.job.units
    at, at_clock = f"settings.{plan.settings.index(setting)}", -1
    out = []
    if step.method is not Method.DRILL:
        out += [
            Number("kerf", *words.guide_length(setting.kerf_mm.value, units), f"{at}.kerf_mm"),
            Number("cup radius", *words.guide_length(setting.cup_radius_mm.value, units), f"{at}.cup_radius_mm"),
            Number("face on the part", f"{setting.bevel_good_deg.value:.1f}°", "off square", f"{at}.bevel_good_deg"),
        ]
    for i, v in enumerate(plan.verdicts):
        if v.number == step.number:
            here, other = words.guide_length(v.tolerance_mm.value, units)
            out.append(Number("size expected within", f"± {here}", f"± {other}", f"verdicts.{i}.tolerance_mm"))
    for i, c in enumerate(plan.timetable.clocks):
        if c.number == step.number:
            at_clock, clock = i, c
    if at_clock >= 0:
        path = f"timetable.clocks.{at_clock}"
        out.append(Number("set up and walk", words.clock(clock.setup_s), "", f"{path}.setup_s"))
        if clock.rest_s >= 1:
            out.append(Number("let the set rest first", words.clock(clock.rest_s), "", f"{path}.rest_s"))
        if clock.air_wait_s >= 1:
            out.append(Number("wait for air first", words.clock(clock.air_wait_s), "", f"{path}.air_wait_s"))
        if step.method is not Method.DRILL:
            out.append(Number("arc on", words.clock(clock.arc_s), "", f"{path}.arc_s"))
            ends = (clock.tank_start_kpa_g, clock.tank_end_kpa_g)
            psi = " to ".join(f"{k / 6.894757:.0f}" for k in ends)
            bar = " to ".join(f"{k / 100:.1f}" for k in ends)
            out.append(Number("air tank", f"{psi} psi", f"{bar} bar", f"{path}.tank_end_kpa_g"))
    if step.drop_kg:
        out.append(Number("what falls", f"{step.drop_kg:.1f} kg", "", f"steps.{index}.drop_kg"))
    return out


@router.get("/jobs/{slug}/setup/{number}")
def setup(request: Request, slug: str, number: int) -> Response:
    desk: JobDesk = request.app.state.desk
    plan = desk.room.known(slug)
    if plan is None:
        return RedirectResponse(f"/jobs/{slug}", 303)
    index = next((i for i, s in enumerate(plan.steps) if s.number == number), -1)
    if index < 0:
        raise refuse("setup-unknown", slug, f"there is no set-up {number}", f"1 to {len(plan.steps)}")
    step = plan.steps[index]
    fingerprint = desk.room.work(slug).fingerprint
    setting = plan.setting(step.setting)
    clock = next((c for c in plan.timetable.clocks if c.number == number), None)
    return page(
        request, "setup/setup.html", slug=slug, plan=plan, step=step, svg=setup_picture(plan, fingerprint, number),
        big=big_numbers(plan, index), small=small_numbers(plan, index), setting=setting, clock=clock,
        verdict=next((v for v in plan.verdicts if v.number == number), None),
        siblings=[s.number for s in plan.steps if step.placed in s.parts],
        before=plan.steps[index - 1].number if index else None,
        after=plan.steps[index + 1].number if index + 1 < len(plan.steps) else None,
        beat_s=seconds_per_inch(setting.pace_mm_s.value) if step.path else 0.0,
        name=words.part_name(plan, step.placed),
    )  # fmt: skip
