"""Tables of the rain book: what was measured where, gauge keepers, first rains and false starts.

They belong to the same metadata as `reminder_service.records.tables`.
"""

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Date,
    Double,
    ForeignKey,
    Index,
    String,
    Table,
)

from reminder_service.agronomy.rain_book import Observer
from reminder_service.records.tables import metadata
from reminder_service.records.types import Id, Instant

rain_observations = Table(
    "rain_observations",
    metadata,
    Column("id", Id, primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), nullable=False),
    Column("plot_id", Id, ForeignKey("plots.id")),
    Column("day", Date, nullable=False),
    Column("mm", Double, nullable=False),
    Column("trace", Boolean, nullable=False),
    Column("observer", String(12), nullable=False),
    Column("by", String(80), nullable=False),
    Column("kept_at", Instant, nullable=False),
    Column("report_id", Id, ForeignKey("reports.id"), unique=True),
    Column("person_id", Id, ForeignKey("people.id")),
    Column("left_out_at", Instant),
    CheckConstraint(
        f"observer IN ({', '.join(repr(each.value) for each in Observer)})", name="observer"
    ),
    Index("ix_rain_observations_ward_id_day", "ward_id", "day"),
)
"""Rain as it came, in mm; only ever added to, but for ``left_out_at``.

``plot_id`` is None for the ward's own gauge. ``by`` tells observers of one kind apart. A row with a
``report_id`` counts only as long as its report stands.
"""

gauge_keepers = Table(
    "gauge_keepers",
    metadata,
    Column("farmer_id", Id, ForeignKey("farmers.id"), primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), primary_key=True, index=True),
)
"""Farmers who read the rain gauge of a ward: a bare number after rain is millimetres."""

ward_first_rains = Table(
    "ward_first_rains",
    metadata,
    Column("id", Id, primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), nullable=False),
    Column("season_starts_on", Date, nullable=False),
    Column("on", Date),
    Column("declared_at", Instant, nullable=False),
    Column("person_id", Id, ForeignKey("people.id"), nullable=False),
    Index("ix_ward_first_rains_ward_id_season_starts_on", "ward_id", "season_starts_on"),
)
"""First rains declared for whole wards; the last row of a ward's season counts.

One without ``on`` takes the one before back.
"""

replans_due = Table(
    "replans_due",
    metadata,
    Column("season_id", Id, ForeignKey("seasons.id"), primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), nullable=False, index=True),
)
"""Seasons whose plan must be made anew since something of their ward changed."""

false_starts = Table(
    "false_starts",
    metadata,
    Column("id", Id, primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), nullable=False),
    Column("season_starts_on", Date, nullable=False),
    Column("on", Date, nullable=False),
    Column("dry_from", Date, nullable=False),
    Column("dry_until", Date, nullable=False),
    Column("noticed_at", Instant, nullable=False),
    Column("gone_at", Instant),
    CheckConstraint("dry_from <= dry_until", name="run"),
    Index("ix_false_starts_ward_id_season_starts_on", "ward_id", "season_starts_on"),
)
"""False starts of a ward's rains, as the rain book had them last.

``gone_at`` is when later observations denied one; it comes back under its own id, so that nobody is
asked about it twice.
"""

rain_ahead = Table(
    "rain_ahead",
    metadata,
    Column("ward_id", Id, ForeignKey("wards.id"), primary_key=True),
    Column("day", Date, primary_key=True),
    Column("mm", Double, nullable=False),
    Column("told_on", Date, nullable=False),
)
"""Rain that a source expects in a ward, in mm; ``told_on`` is the local day on which it said so.

What it said before is not kept: it is no part of the rain book.
"""
