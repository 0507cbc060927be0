"""The two drawings: a whole plate, and one set-up."""

from __future__ import annotations

from lagline.cards.draw_plate import plate_svg
from lagline.cards.draw_step import step_svg

__all__ = ["plate_svg", "step_svg"]
