"""The few words that every room shares: kinds of report, stages, states, ids."""

from enum import StrEnum
from typing import NewType

PhoneNumber = NewType("PhoneNumber", str)
"""An E.164 number with its plus sign, at most 15 digits, e.g. ``+447700900001``."""

SeasonId = NewType("SeasonId", int)
"""One season of one plot in the records."""


class Kind(StrEnum):
    """What one part of an inbound text says or asks."""

    FIRST_RAIN = "first-rain"
    RAIN = "rain"
    PLANTED = "planted"
    GERMINATED = "germinated"
    TASSELLED = "tasselled"
    HARVESTED = "harvested"
    DONE = "done"
    COUNT = "count"
    BORER_COUNT = "borer-count"
    REPLANTED = "replanted"
    SURVIVED = "survived"
    LOST = "lost"
    NEXT = "next"
    WHY = "why"
    PLOT = "plot"
    JOIN = "join"
    LANGUAGE = "language"
    NO = "no"
    YES = "yes"
    CHOICE = "choice"
    HELP = "help"
    STOP = "stop"
    START = "start"


DATED_FACTS = (
    Kind.FIRST_RAIN,
    Kind.PLANTED,
    Kind.GERMINATED,
    Kind.TASSELLED,
    Kind.HARVESTED,
)
"""The facts of a plot's season that tasks are counted from, in the order they happen."""

OF_THE_STAND = (Kind.REPLANTED, Kind.SURVIVED, Kind.LOST)
"""What became of a stand after dry days: planted anew, still alive, dead and not yet replanted."""

REPORTS = (*DATED_FACTS, Kind.RAIN, Kind.DONE, Kind.COUNT, Kind.BORER_COUNT, *OF_THE_STAND)
"""The kinds that are kept as reports; all others are questions or commands."""


class Basis(StrEnum):
    """Whether a date rests on what somebody reported or on an estimate."""

    REPORTED = "reported"
    ESTIMATED = "estimated"


class Stage(StrEnum):
    """Why a notice goes out."""

    GETTING_READY = "getting-ready"
    OPENS = "opens"
    NUDGE = "nudge"
    LAST_CALL = "last-call"
    CORRECTION = "correction"
    QUESTION = "question"
    REPLY = "reply"


class NoticeState(StrEnum):
    """Where a notice stands in the outbound queue."""

    PLANNED = "planned"
    HELD = "held"
    CLAIMED = "claimed"
    HANDED_OVER = "handed over"
    WAITING = "waiting"
    DELIVERED = "delivered"
    UNDELIVERED = "undelivered"
    REFUSED = "refused"
    IN_DOUBT = "in doubt"
    EXPIRED = "expired"
    WITHDRAWN = "withdrawn"


MOVABLE = frozenset({NoticeState.PLANNED, NoticeState.HELD, NoticeState.WAITING})
"""States in which nothing has left us yet, so a new plan may move, reword or withdraw."""

FINAL = frozenset(
    {
        NoticeState.HANDED_OVER,
        NoticeState.DELIVERED,
        NoticeState.UNDELIVERED,
        NoticeState.REFUSED,
        NoticeState.IN_DOUBT,
        NoticeState.EXPIRED,
        NoticeState.WITHDRAWN,
    }
)
"""States that the queue itself never leaves; a receipt or a person may still settle some."""
