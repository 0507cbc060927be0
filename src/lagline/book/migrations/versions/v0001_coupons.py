"""Coupons, their cuts, measurements set aside, removals; nothing in them can be changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

TABLES = ("coupon", "coupon_cut", "coupon_aside", "coupon_mark")


def upgrade() -> None:
    """Make the tables; on SQLite also the triggers that refuse every change and deletion."""
    op.create_table(
        "coupon",
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("id", sa.String(40), nullable=False, unique=True),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("replaces", sa.String(40), sa.ForeignKey("coupon.id"), unique=True),
        sa.Column("written_at", sa.String(40), nullable=False),
        sa.Column("date", sa.String(10), nullable=False),
        sa.Column("tip", sa.Text, nullable=False),
        sa.Column("metal", sa.Text, nullable=False),
        sa.Column("thickness_mm", sa.Float, nullable=False),
        sa.Column("current_a", sa.Float, nullable=False),
        sa.Column("bench", sa.Text, nullable=False),
        sa.Column("starts", sa.Integer),
        *(
            sa.Column(name, sa.Float)
            for name in (
                "arc_min",
                "supply_kpa_g",
                "crater_mm",
                "disc_asked_mm",
                "disc_got_mm",
                "hole_asked_mm",
                "hole_got_mm",
                "gouge_width_mm",
                "gouge_depth_mm",
                "gouge_pace_mm_s",
            )
        ),
        sa.Column("note", sa.Text, nullable=False),
        sa.UniqueConstraint("date", "number", name="coupon_of_day"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "coupon_cut",
        sa.Column("coupon", sa.String(40), sa.ForeignKey("coupon.id"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("length_mm", sa.Float),
        sa.Column("seconds", sa.Float),
        sa.Column("through", sa.Boolean),
        *(
            sa.Column(name, sa.Float)
            for name in (
                "kerf_top_mm",
                "kerf_bottom_mm",
                "guide_near_mm",
                "guide_far_mm",
                "gap_right_mm",
                "gap_left_mm",
                "lag_mm",
            )
        ),
        sa.Column("dross", sa.String(10)),
        sa.Column("dross_height_mm", sa.Float),
    )
    for table, own in (
        (
            "coupon_aside",
            (sa.Column("field", sa.String(60), nullable=False), sa.Column("aside", sa.Boolean, nullable=False)),
        ),
        ("coupon_mark", (sa.Column("removed", sa.Boolean, nullable=False),)),
    ):
        op.create_table(
            table,
            sa.Column("seq", sa.Integer, primary_key=True),
            sa.Column("coupon", sa.String(40), sa.ForeignKey("coupon.id"), nullable=False, index=True),
            *own,
            sa.Column("why", sa.Text, nullable=False),
            sa.Column("written_at", sa.String(40), nullable=False),
            sqlite_autoincrement=True,
        )
    if op.get_bind().dialect.name == "sqlite":
        for table in TABLES:
            for change in ("UPDATE", "DELETE"):
                op.execute(
                    f"CREATE TRIGGER {table}_no_{change.lower()} BEFORE {change} ON {table} "
                    "BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END"
                )
