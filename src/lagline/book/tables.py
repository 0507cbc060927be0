"""Tables of the shop book. Only added to: a correction, what is said of a measurement (set aside, or right as it
stands) and a removal are rows of their own.

What lies on the rack is kept the same way: what becomes of an item, and each job that was cut, are rows of their own.
Columns of ``coupon`` and ``coupon_cut`` bear the names of the records' fields, units included.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    false,
)

HEAD = "0003"
metadata = MetaData()

coupon = Table(
    "coupon",
    metadata,
    Column("seq", Integer, primary_key=True),
    Column("id", String(40), nullable=False, unique=True),
    Column("number", Integer, nullable=False),  # of its day
    Column("replaces", String(40), ForeignKey("coupon.id"), unique=True),  # a coupon is corrected once, then its heir
    Column("written_at", String(40), nullable=False),  # ISO 8601, UTC
    Column("date", String(10), nullable=False),
    Column("tip", Text, nullable=False),
    Column("metal", Text, nullable=False),
    Column("thickness_mm", Float, nullable=False),
    Column("current_a", Float, nullable=False),
    Column("bench", Text, nullable=False),
    Column("starts", Integer),
    Column("arc_min", Float),
    Column("supply_kpa_g", Float),
    Column("crater_mm", Float),
    Column("disc_asked_mm", Float),
    Column("disc_got_mm", Float),
    Column("hole_asked_mm", Float),
    Column("hole_got_mm", Float),
    Column("gouge_width_mm", Float),
    Column("gouge_depth_mm", Float),
    Column("gouge_pace_mm_s", Float),
    Column("note", Text, nullable=False),
    UniqueConstraint("date", "number", name="coupon_of_day"),
    sqlite_autoincrement=True,
)

coupon_cut = Table(
    "coupon_cut",
    metadata,
    Column("coupon", String(40), ForeignKey("coupon.id"), primary_key=True),
    Column("number", Integer, primary_key=True),  # the first cut is 1
    Column("length_mm", Float),
    Column("seconds", Float),
    Column("through", Boolean),
    Column("kerf_top_mm", Float),
    Column("kerf_bottom_mm", Float),
    Column("guide_near_mm", Float),
    Column("guide_far_mm", Float),
    Column("gap_right_mm", Float),
    Column("gap_left_mm", Float),
    Column("lag_mm", Float),
    Column("dross", String(10)),
    Column("dross_height_mm", Float),
)

coupon_aside = Table(
    "coupon_aside",
    metadata,
    Column("seq", Integer, primary_key=True),
    Column("coupon", String(40), ForeignKey("coupon.id"), nullable=False, index=True),
    Column("field", String(60), nullable=False),
    # the last row of a field holds: set aside, or right as it stands, or neither when that was taken back
    Column("aside", Boolean, nullable=False),
    Column("stands", Boolean, nullable=False, server_default=false()),
    Column("why", Text, nullable=False),
    Column("written_at", String(40), nullable=False),
    sqlite_autoincrement=True,
)

coupon_mark = Table(
    "coupon_mark",
    metadata,
    Column("seq", Integer, primary_key=True),
    Column("coupon", String(40), ForeignKey("coupon.id"), nullable=False, index=True),
    Column("removed", Boolean, nullable=False),  # the last row holds
    Column("why", Text, nullable=False),
    Column("written_at", String(40), nullable=False),
    sqlite_autoincrement=True,
)

ONLY_ADDED_TO = ("coupon", "coupon_cut", "coupon_aside", "coupon_mark")

rack_cut = Table(
    "rack_cut",
    metadata,
    Column("seq", Integer, primary_key=True),
    Column("plan", String(20), nullable=False),  # the plan's mark
    Column("number", Integer, nullable=False),  # how often this plan was cut, the first time 1
    Column("job", Text, nullable=False),
    Column("written_at", String(40), nullable=False),  # ISO 8601, UTC
    UniqueConstraint("plan", "number", name="rack_cut_once"),
    sqlite_autoincrement=True,
)

rack_item = Table(
    "rack_item",
    metadata,
    Column("seq", Integer, primary_key=True),
    Column("mark", String(20), nullable=False, unique=True),
    Column("number", Integer, nullable=False, unique=True),
    Column("written_at", String(40), nullable=False),
    Column("date", String(10), nullable=False),
    Column("kind", String(10), nullable=False),
    Column("metal", Text, nullable=False),
    Column("grade", Text, nullable=False),
    Column("thickness_mm", Float, nullable=False),
    Column("thickness_text", Text, nullable=False),
    Column("coating", Text, nullable=False),
    Column("outline", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("heat", Text, nullable=False),
    Column("place", Text, nullable=False),
    Column("worth", Float),
    Column("note", Text, nullable=False),
    Column("from_job", Text, nullable=False),
    Column("from_plan", String(20), nullable=False),
    Column("from_plate", Text, nullable=False),
    Column("cut", Integer, ForeignKey("rack_cut.seq")),  # the cutting that left it
    sqlite_autoincrement=True,
)

rack_act = Table(
    "rack_act",
    metadata,
    Column("seq", Integer, primary_key=True),
    Column("item", String(20), ForeignKey("rack_item.mark"), nullable=False, index=True),
    Column("what", String(20), nullable=False),  # used, scrapped or put back; the last row holds
    Column("cut", Integer, ForeignKey("rack_cut.seq")),  # the cutting that used it
    Column("why", Text, nullable=False),
    Column("written_at", String(40), nullable=False),
    sqlite_autoincrement=True,
)

RACK_ONLY_ADDED_TO = ("rack_cut", "rack_item", "rack_act")
