"""Set-outs made on a made-up bench, from what a person would type."""

from __future__ import annotations

from dataclasses import replace

from lagline.planning.kit_file import generic_kit
from lagline.records.coupon import Learned
from lagline.records.job import Stock
from lagline.records.kit import Kit
from lagline.records.setout import SetOut
from lagline.setouts.ask import Ask, read_given
from lagline.setouts.bench import Bench

OWN = generic_kit()


def typed(
    ask: Ask,
    units: str = "in",
    *,
    amps: float | None = None,
    metal: str = "steel",
    kit: Kit | None = None,
    **texts: str,
) -> SetOut:
    """Make a set-out on the built-in 65 A bench; the fields as keywords."""
    given = read_given(ask, texts, units)
    if ask.thickness in given.numbers:
        stock = Stock(metal, "", given[ask.thickness], "")
        given = replace(given, bench=Bench(kit or OWN, Learned(), stock, amps))
    return ask.make(given)
