"""What the programme holds about one person: handed out, or erased but for the counts."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from reminder_service.errors import ReminderError
from reminder_service.kinds import PhoneNumber
from reminder_service.records import audit, persons, traces
from reminder_service.records.engine import writing
from reminder_service.records.errors import NotFound
from reminder_service.records.persons import ERASED, Person
from reminder_service.records.snapshot import Value
from reminder_service.records.tables import metadata
from reminder_service.texts.wording import called
from reminder_service.work.services import Services


class SharedPhone(ReminderError):
    """A phone serves several farmers, and it was not said which one is meant.

    Attributes
    ----------
    farmer_ids : of those it serves
    """

    def __init__(self, farmer_ids: Sequence[int]) -> None:
        told = ", ".join(map(str, farmer_ids))
        super().__init__(f"this phone serves the farmers {told}: give --farmer and one of them")
        self.farmer_ids = tuple(farmer_ids)


class NotWorkedYet(ReminderError):
    """A text from a shared phone still waits to be worked, and may be another farmer's report.

    Attributes
    ----------
    count : of such texts
    """

    def __init__(self, count: int) -> None:
        super().__init__(
            f"{count} texts from a phone that others use too are not worked yet: try again once "
            "they are (reminder-service doctor tells)"
        )
        self.count = count


@dataclass(frozen=True, slots=True)
class Erased:
    """What an erasing did.

    Attributes
    ----------
    farmer_ids, phone_ids : the rows that stand for the person, now without name and number
    notices, texts : rows that were kept, emptied
    withdrawn : notices that will not go out any more
    wiped : other rows that named the person
    """

    farmer_ids: tuple[int, ...]
    phone_ids: tuple[int, ...]
    notices: int
    texts: int
    withdrawn: int
    wiped: int


def person_data(
    services: Services, number: PhoneNumber, who: str, farmer_id: int | None = None
) -> dict[str, list[dict[str, Value]]]:
    """Every row about whoever has a number, by table; that it was handed out is noted.

    Parameters
    ----------
    services : database and clock
    number : E.164
    who : login, or the name of what asks
    farmer_id : which farmer, if the phone serves several

    Raises
    ------
    NotFound
        No phone has that number, or it does not serve that farmer.
    SharedPhone
        It serves several and none was named.
    """
    with writing(services.engine) as c:
        person = _person(c, number, farmer_id)
        found = persons.rows_about(c, person)
        rows = sum(map(len, found.values()))
        _note(c, services, person, who, "hand out data", {"rows": rows})
    return found


def erase_person(
    services: Services, number: PhoneNumber, who: str, farmer_id: int | None = None
) -> Erased:
    """Erase whoever has a number: name, number and texts go, in one transaction; counts stay.

    Parameters
    ----------
    services : database and clock
    number : E.164
    who : login, or the name of what asks
    farmer_id : which farmer, if the phone serves several; the others and the phone stay

    Raises
    ------
    NotFound
        No phone has that number, or it does not serve that farmer.
    SharedPhone
        It serves several and none was named.
    NotWorkedYet
        A text from a phone that others use too waits to be worked.
    """
    with writing(services.engine) as c:
        person = _person(c, number, farmer_id)
        waiting = persons.unworked_of_shared(c, person)
        if waiting:
            raise NotWorkedYet(waiting)
        withdrawn = persons.empty_rows(c, person, services.clock())
        wiped = _wipe_traces(c, person)
        counts = {"notices": len(person.notice_ids), "texts": len(person.inbound_ids)}
        _note(c, services, person, who, "erase", counts | {"withdrawn": withdrawn, "wiped": wiped})
    return Erased(
        person.farmer_ids,
        person.phone_ids,
        len(person.notice_ids),
        len(person.inbound_ids),
        withdrawn,
        wiped,
    )


def _person(c: Connection, number: PhoneNumber, farmer_id: int | None) -> Person:
    served = persons.farmers_of(c, number)
    if farmer_id is None:
        if len(served) > 1:
            raise SharedPhone(list(served))
        chosen = list(served)
    elif farmer_id in served:
        chosen = [farmer_id]
    else:
        raise NotFound("farmer of that phone", farmer_id)
    return persons.person_of(c, number, chosen)


def _wipe_traces(c: Connection, person: Person) -> int:
    """Names are wiped where a row is linked to the person, numbers wherever they stand."""
    names = {shown for name in person.names for shown in (name, called(name), name.split()[0])}
    everything = traces.wiper(sorted(names), person.numbers, ERASED, at_home=True)
    wiped = 0
    for table in metadata.sorted_tables:
        linked = person.links(table)
        if linked is not None:
            wiped += traces.wipe_linked(c, table, linked, everything)
    return wiped + traces.wipe_elsewhere(
        c, person.numbers, traces.wiper([], person.numbers, ERASED)
    )


def _note(
    c: Connection, services: Services, person: Person, who: str, what: str, after: dict[str, int]
) -> None:
    """One line on the audit log for each farmer, or for the phone of nobody."""
    subjects = [f"farmer {id_}" for id_ in person.farmer_ids]
    subjects = subjects or [f"phone {id_}" for id_ in person.phone_ids]
    for subject in subjects:
        audit.note(c, at=services.clock(), who=who, what=what, subject=subject, after=after)
