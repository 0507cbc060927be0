"""The rack: plates and offcuts, what became of each, and every job that was cut; nothing in them can be changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

TABLES = ("rack_cut", "rack_item", "rack_act")


def upgrade() -> None:
    """Make the tables; on SQLite also the triggers that refuse every change and deletion."""
    op.create_table(
        "rack_cut",
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("plan", sa.String(20), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("job", sa.Text, nullable=False),
        sa.Column("written_at", sa.String(40), nullable=False),
        sa.UniqueConstraint("plan", "number", name="rack_cut_once"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "rack_item",
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("mark", sa.String(20), nullable=False, unique=True),
        sa.Column("number", sa.Integer, nullable=False, unique=True),
        sa.Column("written_at", sa.String(40), nullable=False),
        sa.Column("date", sa.String(10), nullable=False),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("metal", sa.Text, nullable=False),
        sa.Column("grade", sa.Text, nullable=False),
        sa.Column("thickness_mm", sa.Float, nullable=False),
        *(
            sa.Column(name, sa.Text, nullable=False)
            for name in ("thickness_text", "coating", "outline", "name", "heat", "place")
        ),
        sa.Column("worth", sa.Float),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("from_job", sa.Text, nullable=False),
        sa.Column("from_plan", sa.String(20), nullable=False),
        sa.Column("from_plate", sa.Text, nullable=False),
        sa.Column("cut", sa.Integer, sa.ForeignKey("rack_cut.seq")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "rack_act",
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("item", sa.String(20), sa.ForeignKey("rack_item.mark"), nullable=False, index=True),
        sa.Column("what", sa.String(20), nullable=False),
        sa.Column("cut", sa.Integer, sa.ForeignKey("rack_cut.seq")),
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
