"""Tables of lists that people bring: the job, its rows while it lasts, and who vouched for consent.

They belong to the same metadata as `reminder_service.records.tables`.
"""

from enum import StrEnum

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    String,
    Table,
    Text,
    text,
)

from reminder_service.records.tables import metadata
from reminder_service.records.types import Id, Instant


class Fate(StrEnum):
    """What becomes of one row of a list."""

    NEW_FARMER = "new farmer"
    NEW_PLOT = "new plot"
    CHANGE = "change"
    SAME = "same"
    FAULT = "fault"


WRITTEN = frozenset({Fate.NEW_FARMER, Fate.NEW_PLOT, Fate.CHANGE})
"""Fates of rows that change something."""


class ListState(StrEnum):
    """How far a list has come."""

    COLUMNS = "columns"
    READING = "reading"
    JUDGING = "judging"
    READY = "ready"
    WRITING = "writing"
    PLANNING = "planning"
    DONE = "done"
    STOPPED = "stopped"


AT_WORK = frozenset({ListState.READING, ListState.JUDGING, ListState.WRITING, ListState.PLANNING})
"""States in which a worker goes on with it."""

BEFORE_WRITING = frozenset(
    {ListState.COLUMNS, ListState.READING, ListState.JUDGING, ListState.READY}
)
"""States in which the register knows nothing of it yet."""


def _listed(values: type[StrEnum]) -> str:
    return ", ".join(f"'{value}'" for value in values)


imports = Table(
    "imports",
    metadata,
    Column("id", Id, primary_key=True),
    Column("person_id", Id, ForeignKey("people.id")),
    Column("file_name", String(200), nullable=False),
    Column("form", JSON, nullable=False),
    Column("file", LargeBinary),
    Column("headings", JSON, nullable=False),
    Column("sample", JSON, nullable=False),
    Column("headings_row", Integer, nullable=False),
    Column("columns", JSON, nullable=False),
    Column("ward_id", Id, ForeignKey("wards.id")),
    Column("language", String(8), nullable=False),
    Column("state", String(12), nullable=False),
    Column("whole", Boolean, nullable=False),
    Column("position", Integer, nullable=False),
    Column("total", Integer),
    Column("highest", JSON, nullable=False),
    Column("judged_at", Instant),
    Column("counts", JSON(none_as_null=True)),
    Column("vouched_by", String(80)),
    Column("vouched_words", Text),
    Column("vouched_at", Instant),
    Column("claim", String(36)),
    Column("lease_until", Instant),
    Column("error", Text),
    Column("created_at", Instant, nullable=False),
    Column("changed_at", Instant, nullable=False),
    Column("ended_at", Instant),
    CheckConstraint(f"state IN ({_listed(ListState)})", name="state"),
    Index(
        "ix_imports_at_work",
        "id",
        sqlite_where=text("ended_at IS NULL"),
        postgresql_where=text("ended_at IS NULL"),
    ),
)
"""One list. ``file`` is kept until all its rows are; ``position`` is the row that the present state
has come to; ``whole`` says that all rows go in or none; ``highest`` is the highest plot number of
digits alone that its rows give in each ward."""

import_rows = Table(
    "import_rows",
    metadata,
    Column("import_id", Id, ForeignKey("imports.id"), primary_key=True),
    Column("row", Integer, primary_key=True),
    Column("cells", JSON, nullable=False),
    Column("fate", String(12)),
    Column("says", JSON, nullable=False),
    Column("ward_id", Id),
    Column("farmer_id", Id),
    Column("first_row", Integer),
    Column("plot_id", Id),
    Column("season_id", Id),
    Column("name", String(80)),
    Column("language", String(8)),
    Column("number", String(12)),
    Column("place", Integer),
    Column("stations", Integer),
    Column("stations_per_ha", Integer),
    Column("choices", JSON(none_as_null=True)),
    Column("opens_season", Boolean, nullable=False),
    Column("before", JSON(none_as_null=True)),
    Column("after", JSON(none_as_null=True)),
    CheckConstraint(f"fate IN ({_listed(Fate)})", name="fate"),
    Index("ix_import_rows_import_id_fate_row", "import_id", "fate", "row"),
)
"""Rows of a list as they came, and what becomes of each; kept for as long as they are needed.

The ids name rows of other tables, found or made. They are no foreign keys: these rows are scratch
paper, which must never keep a farmer from being deleted.
"""

import_phones = Table(
    "import_phones",
    metadata,
    Column("import_id", Id, ForeignKey("imports.id"), primary_key=True),
    Column("row", Integer, primary_key=True),
    Column("place", Integer, primary_key=True),
    Column("number", String(16), nullable=False),
)
"""Phones that the rows of a list give to their farmers."""

vouched_consents = Table(
    "vouched_consents",
    metadata,
    Column("farmer_id", Id, ForeignKey("farmers.id"), primary_key=True),
    Column("import_id", Id, ForeignKey("imports.id"), nullable=False, index=True),
)
"""Farmers who came by a list; the list holds who says that they agreed, and in which words."""
