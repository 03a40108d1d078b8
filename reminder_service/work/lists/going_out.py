"""Files that people take out: whole tables, the faulty rows of a list, and an empty list."""

from collections.abc import Callable, Iterator

from reminder_service.records import audit, list_rows
from reminder_service.records.engine import reading, writing
from reminder_service.records.list_tables import Fate
from reminder_service.records.lists import ListJob
from reminder_service.records.taking_out import TABLES, Cell, Line
from reminder_service.records.views import Scope
from reminder_service.work.lists.sheets import WRITERS, csv_pieces
from reminder_service.work.services import Services

LINES_AT_ONCE = 2_000
"""Rows that are read in one short transaction (setting)."""

WRONG = "What is wrong"
"""Heading of the column that is put before the faulty rows' own."""

EMPTY_LIST = (
    "Ward",
    "Farmer name",
    "Phones",
    "Language",
    "Plot number",
    "Stations",
    "Hectares",
    "Spacing",
    "Top-dressing",
    "Maturity",
    "Soil",
)
"""Headings of a list that can be brought in."""

Shown = Callable[[str], str]


def table_file(
    services: Services, table: str, kind: str, scope: Scope, who: str, shown: Shown
) -> Iterator[bytes]:
    """A whole table as a file, piece by piece; that it was taken out stands on the audit log.

    Parameters
    ----------
    services : the services
    table : name in ``TABLES``
    kind : ``csv`` or ``xlsx``
    scope : wards that its person may see
    who : login
    shown : a phone number as this person may see it

    Returns
    -------
    pieces of the file
    """
    with writing(services.engine) as c:
        audit.note(
            c,
            at=services.clock(),
            who=who,
            what="take out",
            subject=f"table {table}",
            after={"kind": kind, "wards": None if scope is None else sorted(scope)},
        )
    return WRITERS[kind](TABLES[table].headings, table_rows(services, table, scope, shown))


def table_rows(
    services: Services, table: str, scope: Scope, shown: Shown
) -> Iterator[tuple[Cell, ...]]:
    """Every row of a table inside some wards, read page by page.

    Parameters
    ----------
    services : the services
    table : name in ``TABLES``
    scope : wards that its person may see
    shown : a phone number as this person may see it

    Yields
    ------
    the cells of a row
    """
    takeable, after = TABLES[table], None
    while True:
        with reading(services.engine) as c:
            lines = takeable.page(c, scope, after, LINES_AT_ONCE)
        for line in lines:
            yield _with_phones(line, takeable.phones_at, shown)
        if len(lines) < LINES_AT_ONCE:
            return
        after = lines[-1].key


def _with_phones(line: Line, at: int | None, shown: Shown) -> tuple[Cell, ...]:
    if at is None:
        return line.cells
    return (*line.cells[:at], "; ".join(map(shown, line.phones)), *line.cells[at + 1 :])


def faulty_file(services: Services, job: ListJob, kind: str) -> Iterator[bytes]:
    """The rows of a list that were not taken, as they came, with what is wrong before them.

    Parameters
    ----------
    services : the services
    job : the list
    kind : ``csv`` or ``xlsx``
    """
    return WRITERS[kind]((WRONG, *job.headings), _faulty_rows(services, job.id, len(job.headings)))


def _faulty_rows(services: Services, import_id: int, width: int) -> Iterator[tuple[Cell, ...]]:
    after = 0
    while True:
        with reading(services.engine) as c:
            rows = list_rows.rows_after(c, import_id, after, LINES_AT_ONCE, Fate.FAULT)
        for row in rows:
            missing = width - len(row.cells)
            yield (f"row {row.row}: {'; '.join(row.says)}", *row.cells, *[""] * missing)
        if len(rows) < LINES_AT_ONCE:
            return
        after = rows[-1].row


def empty_list() -> bytes:
    """A CSV file with nothing but the headings of a list."""
    return b"".join(csv_pieces(EMPTY_LIST, ()))
