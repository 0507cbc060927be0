"""What to do with a wrap, in order, in shop words."""

from __future__ import annotations

from lagline.setouts.ask import Given
from lagline.setouts.pipe_cut import Cut
from lagline.shapes.pipe_joint import Plane


def side_words(cut: Cut) -> str:
    """Return which side of travel the part is kept on."""
    if cut.kit is not None:
        return f"on the torch's square side, {cut.kit.torch.square_side} of travel"
    return "on the torch's square side (right of travel with most torches)"


def wrap_steps(cut: Cut, given: Given, top: str, sheet: str = "the wrap") -> tuple[str, ...]:
    """Return the steps from the printed wrap to the cut; ``top`` says where mark 1 goes on the work."""
    case = cut.case
    n, start = len(case.places), cut.longest + 1
    steps = [
        f"Square the pipe's end; scribe the base line right round, {given.show(cut.end)} from it. Draw the top line "
        f"along the pipe: {top}. Keep the pipe's own seam off mark 1 and off the tightest part of the line.",
        f"Print {sheet} at full size and lay a rule on the check length; wrap it print outwards, base line on base "
        "line, mark 1 on the top line, and close the flap: mark 1 must meet itself, else the sheet is out of scale.",
        f"Punch the line at all {n} marks, and between them where it bends fast; take the sheet off and draw the line "
        "through. The waste is towards the square end: keep half of each punch mark.",
    ]
    nearest = f" by mark {start}, where the line comes nearest to it" if cut.cutback > 0.01 else ""
    if cut.trim > 0:
        steps.append(
            f"Start on the waste at the square end{nearest}: strike on the edge, run in to the line and go round with "
            f"the kept pipe {side_words(cut)}; turn the pipe, not yourself."
        )
    else:
        steps.append(f"Start at mark {start}, where the line runs out at the square end, and go round in two halves.")
    steps.append(_torch(cut))
    if cut.setting is not None:
        steps.append(_pace(cut, given))
    steps.append(
        "Prop the waste so that it does not hang on the last of the cut; finish over the start of the line. Knock off "
        "dross inside and out, try the fit, mark what is high and grind it."
    )
    steps.append(weld_step(cut))
    return tuple(steps)


def _torch(cut: Cut) -> str:
    if cut.case.torch == "radial":
        return "Torch radial: point it at the pipe's middle all the way, square to the wall; only the pipe turns."
    most = max(abs(float(b)) for b in cut.at.bevel_deg)
    flat = isinstance(cut.case.joint, Plane)
    where = "in the plane of the cut" if flat else "so that the cut lies in the header's face"
    return (
        f"Torch fixed: hold it {where} all the way, pointed at the pipe's middle; it leans along the pipe by the bevel "
        f"in the table, up to {most:.0f} deg: with a minus it points towards the kept pipe, with a plus to the end."
    )


def _pace(cut: Cut, given: Given) -> str:
    s, light = cut.setting, cut.lightest
    assert s is not None
    assert light is not None
    tip = f"{s.current_a:g} A, tip {s.tip}"
    thick = given.show(float(cut.line.thickness.max()))
    if cut.line.thickness.max() - cut.line.thickness.min() < 0.05:
        return f"{tip}. The metal under the arc is {thick} all round: one pace."
    thickest = int(cut.at.thickness.argmax()) + 1
    slow = s.pace_mm_s.value / light.pace_mm_s.value
    return (
        f"{tip}. Slow down towards mark {thickest}: there the arc goes through {thick}, "
        f"{'at the same pace' if slow > 0.995 else f'at {slow:.0%} of the quickest pace'}."
    )


def weld_step(cut: Cut) -> str:
    """Return what the cut leaves for the weld."""
    angles = cut.line.joint_angle_deg * (2 if cut.case.twin else 1)
    low, high = float(angles.min()), float(angles.max())
    spread = f"{low:.0f} deg all round" if high - low < 0.5 else f"from {low:.0f} to {high:.0f} deg"
    opened = float(cut.line.gap_outside.max())
    groove = "the square cut already opens a groove outside where the table says so; " if opened > 0.8 else ""
    return (
        f"For the weld: the outside angle runs {spread}; {groove}bevel, root gap and land come from your weld "
        "procedure. Grind the cut bright first: air leaves a nitrided skin."
    )
