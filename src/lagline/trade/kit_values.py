"""Values taken as they stand from the kit, as figures that say whose they are."""

from __future__ import annotations

from lagline.records.figure import Basis, Figure, Spread
from lagline.trade.register import formula


@formula(
    "kit.value",
    text="as the kit says",
    gives="a value measured or stated by the user, or the built-in default with its spread",
    source="the kit file, or common practice, no source where the kit keeps the default",
)
def kit_figure(spread: Spread, unit: str, field: str, origin: str) -> Figure:
    """A kit value as a figure.

    Parameters: spread, its unit, the field's name in the kit, and the file it came from. A default is shown as
    one, with its spread.
    """
    source = "common practice, no source" if spread.default else f"{origin}, {field}"
    basis = Basis.DEFAULT if spread.default else Basis.KIT
    return Figure(spread.value, spread.low, spread.high, unit, "kit.value", basis, source, (("field", field),))


@formula(
    "kit.drag",
    text="the cup rides on the plate: standoff 0",
    gives="standoff when dragging [mm]",
    source="shielded cup to about 60 A and 1/4 in plate: common practice, no source; limits from the kit file",
)
def drag_standoff() -> Figure:
    """Standoff when the cup is dragged: none to hold. [mm]"""
    return Figure(0.0, 0.0, 0.0, "mm", "kit.drag", Basis.KIT, "the torch's drag limits in the kit file")
