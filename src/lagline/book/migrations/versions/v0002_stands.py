"""A reading may be said to be right as it stands: one more column beside set aside, so that one order of rows tells
which was said last. The rows there are stay as they are, and the triggers against every change hold for them too."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; of every row written before, nothing was said to stand."""
    op.add_column("coupon_aside", sa.Column("stands", sa.Boolean, nullable=False, server_default=sa.false()))
