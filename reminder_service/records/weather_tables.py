"""Tables of what evapotranspiration rests on: where a ward lies, its soil, daily temperatures.

They belong to the same metadata as `reminder_service.records.tables`.
"""

from sqlalchemy import CheckConstraint, Column, Date, Double, ForeignKey, String, Table

from reminder_service.agronomy.soils import SOILS
from reminder_service.records.tables import metadata
from reminder_service.records.types import Id, Instant

ward_places = Table(
    "ward_places",
    metadata,
    Column("ward_id", Id, ForeignKey("wards.id"), primary_key=True),
    Column("latitude_deg", Double),
    Column("soil", String(8)),
    CheckConstraint(f"soil IN ({', '.join(repr(name) for name in SOILS)})", name="soil"),
)
"""Where a ward lies, in degrees, south below zero, and the soil of plots that name none."""

temperatures = Table(
    "temperatures",
    metadata,
    Column("ward_id", Id, ForeignKey("wards.id"), primary_key=True),
    Column("day", Date, primary_key=True),
    Column("tmin_c", Double, nullable=False),
    Column("tmax_c", Double, nullable=False),
    Column("by", String(80), nullable=False),
    Column("kept_at", Instant, nullable=False),
    CheckConstraint("tmin_c <= tmax_c", name="order"),
)
"""Lowest and highest temperature of a day, in °C; ``by`` names the file or source that said so
last."""
