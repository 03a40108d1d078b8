"""The plain types that the rules engine answers with."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from reminder_service.kinds import Basis, Kind, Stage
from reminder_service.rules.needs import Need
from reminder_service.rules.quiet_days import NONE_QUIET, QuietDays
from reminder_service.rules.reasons import CountedDay


@dataclass(frozen=True, slots=True)
class Estimate:
    """A date nobody reported, with its spread.

    Attributes
    ----------
    fact : which fact
    earliest, on, latest : local days; ``on`` is the likely one
    because : the sentence that says what it was counted from
    question : the rulebook's wording to ask the farmer with; empty if nobody is asked
    importance : of the question, 1 (most) to 9
    """

    fact: Kind
    earliest: date
    on: date
    latest: date
    because: str
    question: str = ""
    importance: int = 3


@dataclass(frozen=True, slots=True)
class Task:
    """One dated piece of work on one plot.

    Attributes
    ----------
    name : the rulebook's task name
    number : round, from 1
    opens, due, closes : local days, ``opens <= due <= closes``
    basis : estimated if the opening or the due day leans on an estimate
    estimated : which of ``opens``, ``due``, ``closes`` lean on an estimate
    because : the sentence that says why it has these days
    importance : 1 (most) to 9
    done_on : local day it was reported done, or None
    counted : what decided its opening; only of a task just derived, and no part of the plan
    waits : whether it waits for replanting, since the stand it is about is lost
    """

    name: str
    number: int
    opens: date
    due: date
    closes: date
    basis: Basis
    estimated: frozenset[str]
    because: str
    importance: int
    done_on: date | None = None
    counted: CountedDay | None = field(default=None, compare=False)
    waits: bool = False


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A task that has no window on this plot, and why.

    Attributes
    ----------
    name, number : the task
    because : what is missing, or which bounds cross
    """

    name: str
    number: int
    because: str


@dataclass(frozen=True, slots=True)
class Plan:
    """All dated tasks of one plot's season.

    Attributes
    ----------
    rulebook : name and version of the rulebook, e.g. ``maize-hand-hoe 1``
    tasks : by due day, then name and number
    estimates : by fact
    left_out : tasks of the rulebook without a window here
    replantings : how often the plot was replanted; the tasks are those of the stand that grows now
    lost_on : local day on which that stand was reported lost; its tasks wait for replanting
    """

    rulebook: str
    tasks: tuple[Task, ...]
    estimates: Mapping[Kind, Estimate]
    left_out: tuple[LeftOut, ...]
    replantings: int = 0
    lost_on: date | None = None


@dataclass(frozen=True, slots=True)
class SendingHours:
    """When texts may go out in one ward.

    Attributes
    ----------
    zone : IANA name of the ward's time zone
    opens_minute, closes_minute : minutes after local midnight, 0 to 1440; texts go out from
        ``opens_minute`` up to but not including ``closes_minute``
    quiet : local days on which no text goes out
    late_minutes : minutes over which texts whose own minute is past are spread, so that the routes
        can carry those of a whole ward; 0 if they carry any number at once
    """

    zone: str
    opens_minute: int
    closes_minute: int
    quiet: QuietDays = NONE_QUIET
    late_minutes: int = 0


@dataclass(frozen=True, slots=True)
class SentNotice:
    """A reminder that has left us, as far as planning must know it.

    Attributes
    ----------
    key : the notice's key
    task, number, stage : what it was about
    opens, due, closes : the task's days when it was sent
    sent_on : local day it went out
    """

    key: str
    task: str
    number: int
    stage: Stage
    opens: date
    due: date
    closes: date
    sent_on: date


@dataclass(frozen=True, slots=True)
class WantedNotice:
    """One reminder that the plan asks for.

    Attributes
    ----------
    key : unique within a season: the same task, number and stage never has two
    task, number, stage : what it is about; a question carries the fact's name as its task
    on : local day on which it goes out
    send_at : aware UTC instant, inside the sending hours
    expires_at : aware UTC instant after which it is useless
    template : the rulebook's wording, with its placeholders still open
    caution : the rulebook's caution wording, or an empty string
    importance : 1 (most) to 9
    about : the task it reminds of; None for a question
    asks : the estimate it asks about; None for a reminder
    need : what one station takes, where the task takes anything
    most_segments : that its text may take
    while_wet : whether it waits while the soil is too dry for weeds
    """

    key: str
    task: str
    number: int
    stage: Stage
    on: date
    send_at: datetime
    expires_at: datetime
    template: str
    caution: str
    importance: int
    about: Task | None = None
    asks: Estimate | None = None
    need: Need | None = None
    most_segments: int = 1
    while_wet: bool = False
