"""A write transaction for each test of the records, on both engines."""

from collections.abc import Iterator

import pytest
from records_cast import a_season
from sqlalchemy import Connection, Engine

from reminder_service.records import farmers
from reminder_service.records.engine import writing
from reminder_service.records.farmers import SeasonForPlanning


@pytest.fixture
def c(engine: Engine) -> Iterator[Connection]:
    """A transaction that is written at the end of the test."""
    with writing(engine) as connection:
        yield connection


@pytest.fixture
def season(c: Connection) -> SeasonForPlanning:
    """An open season of one plot with one phone."""
    return farmers.season(c, a_season(c))
