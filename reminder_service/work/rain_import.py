"""A file of daily rain goes into the rain book: looked at first, then taken whole or in part."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.agronomy.rain_book import MOST_UNSECONDED_MM, Observer
from reminder_service.records import audit, rain
from reminder_service.records.engine import reading, writing
from reminder_service.records.people import Person
from reminder_service.records.rain import NewObservation
from reminder_service.records.views import Scope, Ward, wards_seen
from reminder_service.work.rain_rows import Row, file_rows
from reminder_service.work.services import Services


class Fate(StrEnum):
    """What becomes of one row of a file."""

    NEW = "new"
    CHANGED = "changed"
    KNOWN = "known"
    UNKNOWN = "unknown"
    FAULTY = "faulty"


@dataclass(frozen=True, slots=True)
class RowFate:
    """One row and what becomes of it.

    Attributes
    ----------
    row : as read
    fate : what becomes of it
    why : a sentence where the fate alone does not tell
    new : what is kept of it; None if nothing is
    """

    row: Row
    fate: Fate
    why: str = ""
    new: NewObservation | None = None


@dataclass(frozen=True, slots=True)
class FilePreview:
    """What a file would come to.

    Attributes
    ----------
    rows : each row and its fate, in the file's order
    counts : rows by fate
    """

    rows: tuple[RowFate, ...]
    counts: Mapping[Fate, int]

    @property
    def has_faults(self) -> bool:
        """Whether any row is faulty."""
        return self.counts.get(Fate.FAULTY, 0) > 0


def preview_file(services: Services, ward: Ward, scope: Scope, text: str, name: str) -> FilePreview:
    """What a file of daily rain would come to; nothing is changed.

    Parameters
    ----------
    services : the services
    ward : of rows that name no ward
    scope : wards the person may see; a row of another is faulty
    text : the file: columns date and mm, perhaps ward and plot, in any order
    name : of the file; a later file of the same name replaces what this one says

    Returns
    -------
    each row's fate

    Raises
    ------
    BadRow
        The file as a whole cannot be read.
    """
    rows = file_rows(text)
    with reading(services.engine) as c:
        return _fates(c, services, ward, scope, rows, name)


def import_file(
    services: Services,
    ward: Ward,
    scope: Scope,
    text: str,
    name: str,
    person: Person,
    *,
    whole: bool,
) -> tuple[FilePreview, int]:
    """Take a file of daily rain into the rain book, in one transaction.

    Parameters
    ----------
    services, ward, scope, text, name : as for `preview_file`
    person : who imports it
    whole : take nothing if any row is faulty

    Returns
    -------
    each row's fate, and how many observations were kept

    Raises
    ------
    BadRow
        The file as a whole cannot be read.
    """
    rows = file_rows(text)
    now = services.clock()
    with writing(services.engine) as c:
        found = _fates(c, services, ward, scope, rows, name, person)
        if whole and found.has_faults:
            return found, 0
        kept = rain.keep_observations(c, [each.new for each in found.rows if each.new], now)
        audit.note(
            c,
            at=now,
            who=person.login,
            what="rain file",
            subject=f"ward {ward.id}",
            after={"file": name, "kept": kept, "faulty": found.counts.get(Fate.FAULTY, 0)},
        )
    return found, kept


def _fates(
    c: Connection,
    services: Services,
    ward: Ward,
    scope: Scope,
    rows: Sequence[Row],
    name: str,
    person: Person | None = None,
) -> FilePreview:
    seen = {each.name.casefold(): each for each in wards_seen(c, scope)}
    wards = {each.id: each for each in seen.values()}
    place = _Places(
        ward,
        seen,
        rain.plots_by_number(c, wards.keys()),
        {
            id_: services.clock().astimezone(ZoneInfo(each.zone)).date()
            for id_, each in wards.items()
        },
        name,
        None if person is None else person.id,
    )
    before = rain.standing_by(c, wards.keys(), Observer.FILE, name)
    fates: list[RowFate] = []
    for row in rows:
        fate = _fate(row, place, before)
        if fate.new is not None:
            key = (fate.new.ward_id, fate.new.plot_id, fate.new.day)
            before[key] = (fate.new.mm, fate.new.trace)
            place.in_file.add(key)
        fates.append(fate)
    return FilePreview(tuple(fates), Counter(each.fate for each in fates))


class _Places:
    """Where rows may belong, and which days the file has named so far."""

    def __init__(
        self,
        ward: Ward,
        wards: Mapping[str, Ward],
        plots: Mapping[tuple[int, str], int],
        today: Mapping[int, date],
        name: str,
        person_id: int | None,
    ) -> None:
        self.ward = ward
        self.wards = wards
        self.plots = plots
        self.today = today
        self.name = name
        self.person_id = person_id
        self.in_file: set[tuple[int, int | None, date]] = set()


def _fate(
    row: Row, places: _Places, before: Mapping[tuple[int, int | None, date], tuple[float, bool]]
) -> RowFate:
    if row.on is None or row.amount is None:
        return RowFate(row, Fate.FAULTY, row.fault)
    ward = places.wards.get(row.ward.casefold()) if row.ward else places.ward
    if ward is None:
        return RowFate(row, Fate.FAULTY, f"no ward of yours is named {row.ward}")
    plot_id = places.plots.get((ward.id, row.plot.upper())) if row.plot else None
    if row.plot and plot_id is None:
        return RowFate(row, Fate.FAULTY, f"{ward.name} has no plot {row.plot}")
    if row.on > places.today[ward.id]:
        return RowFate(row, Fate.FAULTY, "that day is still to come")
    if row.amount.mm is None:
        return RowFate(row, Fate.UNKNOWN, "no amount: the day stays unknown")
    key = (ward.id, plot_id, row.on)
    if key in places.in_file:
        return RowFate(row, Fate.FAULTY, "the file names that day and place twice")
    said = (row.amount.mm, row.amount.trace)
    if before.get(key) == said:
        return RowFate(row, Fate.KNOWN, "kept already")
    new = NewObservation(
        ward.id, plot_id, row.on, *said, Observer.FILE, places.name, person_id=places.person_id
    )
    if key in before:
        return RowFate(row, Fate.CHANGED, f"takes the place of {before[key][0]:g} mm", new)
    return RowFate(row, Fate.NEW, _oddity(row.amount.mm), new)


def _oddity(mm: float) -> str:
    if mm < 0:
        return "flagged, less than nothing cannot be"
    if mm > MOST_UNSECONDED_MM:
        return f"flagged, above {MOST_UNSECONDED_MM:g} mm it needs a second observer to count"
    return ""
