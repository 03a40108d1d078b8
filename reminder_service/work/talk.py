"""One inbound text being worked: who sent it, about which plots, and what is answered."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.records import farmers, gauges, joining, leads
from reminder_service.records.farmers import Phone, PlotOnPhone
from reminder_service.records.inbound import InboundRow
from reminder_service.records.joining import Joining
from reminder_service.records.leads import Lead
from reminder_service.rules.rulebook import Rulebook
from reminder_service.settings import Settings
from reminder_service.texts.catalogues import SOURCE_LANGUAGE
from reminder_service.texts.words import shipped_languages
from reminder_service.work.services import Services

JOINING_LIFE = timedelta(days=3)
"""How long somebody who joins may take between two steps (setting)."""

CONTEXT_LIFE = timedelta(days=1)
"""How long a question of ours is open, and a report can be taken back with NO (setting)."""


@dataclass(frozen=True)
class Talk:
    """What is known while one text is worked.

    Attributes
    ----------
    c : connection of the write transaction that everything happens in
    now : aware UTC instant
    today : local day the text was sent, in the ward of the phone's first plot
    phone : the sender's
    row : the text as it was kept
    plots : those that the phone serves
    leads : lead farmers that the phone serves, one entry a ward
    joining : how far the sender has come in joining, if they do
    written_in : language that the text was read in, for a phone that serves nobody
    """

    c: Connection
    rulebook: Rulebook
    settings: Settings
    now: datetime
    today: date
    phone: Phone
    row: InboundRow
    plots: tuple[PlotOnPhone, ...]
    leads: tuple[Lead, ...] = ()
    joining: Joining | None = None
    written_in: str = SOURCE_LANGUAGE

    @property
    def served(self) -> tuple[PlotOnPhone | Lead, ...]:
        """Whoever the phone serves: its plots, and the wards that its lead farmers lead."""
        return (*self.plots, *self.leads)

    @cached_property
    def language(self) -> str:
        """ISO 639-1 code of the language to answer in."""
        joined_in = str(self.joining.answers["language"]) if self.joining else self.written_in
        spoken = self.served[0].language if self.served else joined_in
        return spoken if spoken in shipped_languages() else SOURCE_LANGUAGE

    @cached_property
    def gauge_wards(self) -> frozenset[int]:
        """Wards whose rain gauge somebody on the phone reads."""
        return frozenset(gauges.wards_of_phone(self.c, self.phone.id))

    @cached_property
    def task_words(self) -> dict[str, tuple[str, ...]]:
        """Words by which farmers name each task."""
        return {task.name: tuple(task.words) for task in self.rulebook.tasks}


@dataclass(frozen=True, slots=True)
class Answer:
    """What a text comes to.

    Attributes
    ----------
    reply : the text to send back, or None
    understood : one entry a thing said, as plain values
    changes : one sentence a change to the plan
    ask : choices offered; a later ``1`` or ``2`` picks one
    unread : nobody could read it: it waits on the coordinator's page
    must_reply : goes out whatever the day's count of replies
    farmer_id, ward_id : whom the reply is filed under
    language : of the reply
    """

    reply: str | None
    understood: list[dict[str, object]] = field(default_factory=list)
    changes: list[str] = field(default_factory=list)
    ask: list[dict[str, object]] = field(default_factory=list)
    unread: bool = False
    must_reply: bool = False
    farmer_id: int | None = None
    ward_id: int | None = None
    language: str = SOURCE_LANGUAGE


def begin_talk(c: Connection, services: Services, row: InboundRow, phone: Phone) -> Talk:
    """Gather what working a text needs.

    Parameters
    ----------
    c : connection of a write transaction
    services : rulebook, settings and clock
    row : the kept text
    phone : the sender's

    Returns
    -------
    the talk
    """
    now = services.clock()
    plots = tuple(farmers.open_plots_of_phone(c, phone.id))
    led = tuple(leads.leads_on_phone(c, phone.id))
    zone = ZoneInfo(plots[0].zone if plots else led[0].zone if led else "UTC")
    # A gateway's clock may run ahead of ours; a text is never from the future.
    today = min(row.sent_at, now).astimezone(zone).date()
    going = joining.joining_of(c, phone.id, since=now - JOINING_LIFE)
    known = (services.rulebook, services.settings, now, today, phone, row)
    return Talk(c, *known, plots, led, going)
