"""Set-outs asked of the built-in bench, read once."""

from __future__ import annotations

from collections.abc import Mapping

from lagline.desk.setout_desk import answer
from lagline.planning.kit_file import generic_kit
from lagline.records.setout import SetOut

KIT = (generic_kit(), ())


def ask(family: str, name: str, texts: Mapping[str, str], units: str = "in") -> SetOut:
    """Return a set-out of the built-in kit, without coupons."""
    return answer(family, name, texts, units=units, kit=KIT)
