"""The statements of lists that run every few seconds, or row by row, walk an index."""

import pytest
from records_cast import NOW, statements

from reminder_service.records import list_rows, lists
from reminder_service.records.engine import writing
from reminder_service.records.list_tables import Fate

ROWS = 3_000


@pytest.fixture
def long_list(engine):
    """Many lists that have ended, and one of many rows that goes on."""
    values = {"file_name": "a.csv", "form": {}, "headings": [], "sample": [], "headings_row": 1}
    values |= {"columns": [], "language": "en"}
    with writing(engine) as c:
        for _ in range(200):
            ended = lists.add_list(c, values, b"", NOW)
            lists.stop_list(c, ended, NOW)
        at_work = lists.add_list(c, values, b"", NOW)
        list_rows.keep_rows(c, at_work, [(row, ["x"]) for row in range(2, ROWS)])
        c.exec_driver_sql("ANALYZE")
    return at_work


def plan_of(engine, work) -> str:
    with engine.connect() as c:
        with statements(engine) as seen:
            work(c)
        statement, values = seen[-1]  # the first may begin the transaction
        explain = "EXPLAIN QUERY PLAN " if engine.dialect.name == "sqlite" else "EXPLAIN "
        return str(c.exec_driver_sql(explain + statement, values).all())


@pytest.mark.parametrize(
    ("work", "index"),
    [
        (lambda c, _: lists.next_at_work(c, NOW), "ix_imports_at_work"),
        (lambda c, id_: list_rows.rows_after(c, id_, 1_000, 50), "import_rows"),
        (
            lambda c, id_: list_rows.rows_after(c, id_, 1_000, 50, Fate.FAULT),
            "ix_import_rows_import_id_fate_row",
        ),
    ],
    ids=["next list", "next rows", "next faulty rows"],
)
def test_an_index_is_walked(engine, long_list, work, index):
    plan = plan_of(engine, lambda c: work(c, long_list))
    assert index in plan
    assert "Seq Scan" not in plan and "SCAN import_rows" not in plan
