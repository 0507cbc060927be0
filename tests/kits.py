"""A made-up bench for tests: a 65 A set rated 3/4 in, two tips, usual guides."""

from __future__ import annotations

from dataclasses import replace

from lagline.records.figure import Spread
from lagline.records.kit import Air, Bench, Guides, Kit, Operator, PowerSet, Tip, Torch

IPM = 25.4 / 60


def generic_kit(**power: object) -> Kit:
    """The bench; keywords replace fields of its power set."""
    default_power = PowerSet(
        name="65 A set",
        rated_current_a=65.0,
        min_current_a=20.0,
        load_voltage_v=0.0,
        duty=((65.0, 0.4), (50.0, 0.6), (40.0, 1.0)),
        supply_v=240.0,
        rated_thickness_mm=Spread(19.05, 17.5, 20.5),
        pierce_share=Spread(0.5, 0.4, 0.75, default=True),
    )
    return Kit(
        name="test bench",
        origin="built in",
        power=replace(default_power, **power),  # type: ignore[arg-type]
        torch=Torch(
            shielded=True,
            cup_radius_mm=Spread(11.0, 10.5, 11.5),
            standoff_mm=Spread(2.0, 1.5, 3.0, default=True),
            lead_angle_deg=Spread(7.0, 5.0, 15.0, default=True),
            drag_max_current_a=60.0,
            drag_max_thickness_mm=6.35,
            square_side="right",
            tips=(Tip("45 A", 1.1, 45.0), Tip("65 A", 1.3, 65.0)),
        ),
        guides=Guides((300.0, 600.0, 1200.0), 40.0, 6.0, "drop", "clamp", 150.0, 45.0, 500.0, True, 600.0, 25.0),
        air=Air(170.0, 227.0, 620.0, 860.0, 480.0, Spread(160.0, 140.0, 190.0, default=True), 1.0, 15.0),
        operator=Operator(700.0, 15 * IPM, 40 * IPM, "right"),
        bench=Bench(
            straight_setup_s=Spread(180.0, 120.0, 300.0, default=True),
            arm_setup_s=Spread(180.0, 120.0, 300.0, default=True),
            template_setup_s=Spread(240.0, 120.0, 300.0, default=True),
            drill_s=Spread(60.0, 30.0, 120.0, default=True),
            start_s=Spread(3.0, 2.0, 5.0, default=True),
            pierce_s=Spread(8.0, 5.0, 15.0, default=True),
            walk_mm_s=500.0,
            currency="USD",
            labour_per_h=Spread(60.0, 45.0, 90.0, default=True),
            metal_per_kg=(("steel", 2.0), ("stainless", 6.0), ("aluminium", 7.0)),
            tip_set_cost=12.0,
            starts_per_tip_set=Spread(300.0, 150.0, 600.0, default=True),
            energy_per_kwh=0.2,
            lens_rule="29 CFR 1910.133",
            cup_gap_mm=6.0,
        ),
    )
