"""How days, instants, kinds, states and phone numbers are written on the pages. Pure."""

from collections.abc import Callable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from reminder_service.kinds import Kind, NoticeState
from reminder_service.records.tables import SettledBy
from reminder_service.rules.rulebook import Rulebook

KIND_WORDS = {
    Kind.FIRST_RAIN: "first rain",
    Kind.PLANTED: "planted",
    Kind.GERMINATED: "germinated",
    Kind.TASSELLED: "tassels out",
    Kind.HARVESTED: "harvested",
    Kind.RAIN: "rain",
    Kind.DONE: "done",
    Kind.COUNT: "stand count",
    Kind.BORER_COUNT: "borer count",
    Kind.REPLANTED: "replanted",
    Kind.SURVIVED: "maize survived",
    Kind.LOST: "maize lost",
}
"""Each kind of report as the pages say it."""

STATE_WORDS = {
    NoticeState.CLAIMED: "going out",
    NoticeState.IN_DOUBT: "in doubt: may have gone out",
    NoticeState.EXPIRED: "expired unsent",
    NoticeState.WAITING: "waiting to be tried again",
}
"""States whose bare word would not tell a coordinator enough."""


SETTLED_WORDS = {
    SettledBy.RECEIPT: "by the carrier's receipt",
    SettledBy.ASKED: "by asking the carrier",
    SettledBy.SENT_AGAIN: "by giving it to the carrier again",
    SettledBy.POLICY: "by the programme's policy",
    SettledBy.PERSON: "by a person",
}
"""How a text in doubt was settled, as the pages say it."""


def day_words(day: date) -> str:
    """Local day with its weekday and without the year.

    Examples
    --------
    >>> day_words(date(2026, 12, 5))
    'Sat 5 Dec'
    """
    return f"{day:%a} {day.day} {day:%b}"


def day_words_year(day: date) -> str:
    """Local day with weekday and year.

    Examples
    --------
    >>> day_words_year(date(2026, 12, 5))
    'Sat 5 Dec 2026'
    """
    return f"{day_words(day)} {day.year}"


def local_words(at: datetime, zone: str) -> str:
    """Instant as day and clock time of a ward.

    Parameters
    ----------
    at : aware UTC instant
    zone : IANA name of the ward's zone

    Examples
    --------
    >>> from datetime import UTC
    >>> local_words(datetime(2026, 12, 5, 6, 30, tzinfo=UTC), "Africa/Lusaka")
    'Sat 5 Dec, 08:30'
    """
    local = at.astimezone(ZoneInfo(zone))
    return f"{day_words(local.date())}, {local:%H:%M}"


def masked_phone(number: str) -> str:
    """Phone number as it stands where nobody needs to call it: its start and its end.

    Parameters
    ----------
    number : E.164

    Examples
    --------
    >>> masked_phone("+447700900001")
    '+44\N{HORIZONTAL ELLIPSIS}001'
    """
    return f"{number[:3]}\N{HORIZONTAL ELLIPSIS}{number[-3:]}"


def kind_words(kind: Kind | str) -> str:
    """What a kind of report is called on the pages."""
    return KIND_WORDS.get(Kind(kind), Kind(kind).value.replace("-", " "))


def state_words(state: NoticeState | str) -> str:
    """What a notice's state is called on the pages."""
    return STATE_WORDS.get(NoticeState(state), NoticeState(state).value)


def settled_words(by: SettledBy) -> str:
    """How a text in doubt was settled."""
    return SETTLED_WORDS[by]


def titles_of(rulebook: Rulebook) -> Callable[[str, int], str]:
    """Writer of a task's name as the rulebook titles it, with its round if there are several.

    Parameters
    ----------
    rulebook : the programme's rulebook

    Returns
    -------
    function of a task's name and round; round 0 stands for all of them
    """
    titles = {task.name: task.title for task in rulebook.tasks}
    repeated = {
        task.name for task in rulebook.tasks if task.repeat is not None or task.for_each is not None
    }

    def title(name: str, number: int) -> str:
        known = titles.get(name, name.replace("-", " "))
        return f"{known} {number}" if number and name in repeated else known

    return title


def counted(number: int, one: str, many: str) -> str:
    """Count with its noun.

    Examples
    --------
    >>> counted(1, "text", "texts")
    '1 text'
    """
    return f"{number} {one if number == 1 else many}"
