"""What a person does with a list: bring it, say what its columns hold, let it in, or stop it."""

from dataclasses import dataclass
from itertools import islice
from pathlib import PurePath

from reminder_service.records import audit, list_rows, lists
from reminder_service.records.engine import writing
from reminder_service.records.list_tables import Fate, ListState
from reminder_service.texts.catalogues import SOURCE_LANGUAGE
from reminder_service.work.lists.columns import (
    HEADINGS_WITHIN,
    Columns,
    check_columns,
    headings_at,
    proposed_columns,
)
from reminder_service.work.lists.errors import NotNow, UnusableFile
from reminder_service.work.lists.files import MOST_COLUMNS, Row, file_form, file_rows
from reminder_service.work.services import Services

SAMPLE_ROWS = 5
"""Rows shown while the columns are chosen (setting)."""

ANEW = (ListState.COLUMNS, ListState.READY)
"""States in which the columns may be chosen."""

NAME_LENGTH = (2, 80)
"""Fewest and most letters of the name of who asked the farmers."""


@dataclass(frozen=True, slots=True)
class Vouched:
    """Who says that the farmers of a list agreed, and in which words.

    Attributes
    ----------
    by : name of whoever asked them
    words : the sentence that was ticked
    """

    by: str
    words: str


def consent_words(programme: str) -> str:
    """The sentence by which somebody vouches for the farmers of a list.

    Parameters
    ----------
    programme : what farmers know it as
    """
    return (
        f"Each new farmer of this list was asked and agreed that {programme} keeps their name, "
        "number, ward, plot and texts for field reminders. Each was told that STOP ends it any "
        "time, and that they may say no."
    )


def take_file(services: Services, data: bytes, file_name: str, person_id: int | None) -> int:
    """Keep a list that somebody brings, with what its columns most likely hold.

    Parameters
    ----------
    services : the services
    data : the file
    file_name : as its person calls it
    person_id : who brings it; None for the command line

    Returns
    -------
    id of the list

    Raises
    ------
    UnusableFile
        It is no list that can be read.
    """
    form = file_form(data)
    first = list(islice(file_rows(data, form), HEADINGS_WITHIN + SAMPLE_ROWS))
    if not first:
        raise UnusableFile("has no row with cells", "choose the file that holds the list")
    at = headings_at([row.cells for row in first])
    headings = first[at].cells[:MOST_COLUMNS]
    width = max(len(row.cells) for row in first[at:])
    headings += ("",) * (width - len(headings))
    values = {
        "person_id": person_id,
        "file_name": PurePath(file_name.replace("\\", "/")).name[-200:] or "list",
        "form": {"kind": form.kind, "encoding": form.encoding, "separator": form.separator},
        "headings": list(headings),
        "sample": [_widened(row, width) for row in first[at + 1 :][:SAMPLE_ROWS]],
        "headings_row": first[at].number,
        "columns": _plain(proposed_columns(headings)),
        "language": SOURCE_LANGUAGE,
    }
    with writing(services.engine) as c:
        return lists.add_list(c, values, data, services.clock())


def _widened(row: Row, width: int) -> list[str]:
    return [*row.cells, *[""] * (width - len(row.cells))]


def _plain(columns: Columns) -> list[str | None]:
    return [None if field is None else field.value for field in columns]


def choose_columns(
    services: Services,
    import_id: int,
    columns: Columns,
    *,
    ward_id: int | None,
    language: str,
) -> None:
    """Say what each column holds; the rows are then read, or judged anew.

    Parameters
    ----------
    services : the services
    import_id : which list
    columns : one field a column, or None
    ward_id : the ward of rows that name none
    language : of new farmers whose row gives none

    Raises
    ------
    WrongColumns
        A needed one is missing, or one is chosen twice.
    NotNow
        The list is past that.
    """
    check_columns(columns, ward_given=ward_id is not None)
    with writing(services.engine) as c:
        job = lists.list_job(c, import_id)
        is_read = job is not None and job.state is ListState.READY
        changed = lists.change_list(
            c,
            import_id,
            ANEW,
            services.clock(),
            columns=_plain(columns),
            ward_id=ward_id,
            language=language,
            state=(ListState.JUDGING if is_read else ListState.READING).value,
            position=0,
            judged_at=None,
        )
    if not changed:
        raise NotNow("the columns of this list are settled")


def let_in(
    services: Services, import_id: int, vouched: Vouched | None, *, whole: bool, who: str
) -> None:
    """Let the rows of a list into the register.

    Parameters
    ----------
    services : the services
    import_id : which list
    vouched : who says that the new farmers agreed; None if the list brings none
    whole : all rows or none; else the faulty ones come back
    who : login, for the audit log

    Raises
    ------
    NotNow
        The list is not ready, has faults that forbid it, or nobody vouches for its new farmers.
    """
    now = services.clock()
    with writing(services.engine) as c:
        found = list_rows.fates(c, import_id)
        if whole and found.get(Fate.FAULT):
            raise NotNow("some rows are faulty, so that not all can go in")
        if found.get(Fate.NEW_FARMER) and vouched is None:
            raise NotNow("nobody says that the new farmers agreed")
        values = {
            "vouched_by": vouched and vouched.by,
            "vouched_words": vouched and vouched.words,
            "vouched_at": now,
            "whole": whole,
            "state": ListState.WRITING.value,
            "position": 0,
        }
        if not lists.change_list(c, import_id, [ListState.READY], now, **values):
            raise NotNow("this list is not ready to go in, or is in already")
        audit.note(
            c,
            at=now,
            who=who,
            what="let list in",
            subject=f"list {import_id}",
            after={"vouched_by": vouched and vouched.by, "all_or_none": whole},
        )


def stop(services: Services, import_id: int, who: str) -> bool:
    """Stop a list; what is written already stays, and the other rows come back as a file.

    Parameters
    ----------
    services : the services
    import_id : which list
    who : login, for the audit log

    Returns
    -------
    False if it has ended, or is past stopping
    """
    now = services.clock()
    why = "not taken: the list was stopped before this row"
    with writing(services.engine) as c:
        stopped = lists.stop_list(c, import_id, now)
        if stopped:
            list_rows.forget_rows(c, import_id, faulty_too=True)
        stopped = stopped or lists.break_off(c, import_id, now, why)
        if stopped:
            audit.note(c, at=now, who=who, what="stop list", subject=f"list {import_id}")
    return stopped
