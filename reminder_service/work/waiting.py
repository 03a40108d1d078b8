"""Which texts wait for a person after they were worked, and which question a text answers."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from reminder_service.kinds import REPORTS
from reminder_service.records import unread
from reminder_service.records.types import Settlement, Waits
from reminder_service.work.talk import Answer

ANSWER_LIFE = timedelta(days=1)
"""How long after a question a report still answers it (setting)."""


def waits_for(said: Answer) -> Waits | None:
    """Why a text waits for a person; None if it was taken or reports nothing.

    A report that was understood but kept for no plot was asked back: for its plot, its task, or
    another day.

    Parameters
    ----------
    said : what the text came to

    Returns
    -------
    why
    """
    if said.unread:
        return Waits.UNREAD
    asked = _reported(said.ask) or any("plot" not in one for one in _reports(said.understood))
    return Waits.ASKED_BACK if asked else None


def note_waiting(
    c: Connection, inbound_id: int, phone_id: int, said: Answer, now: datetime
) -> None:
    """Let a text wait for a person, or settle the questions that it answers.

    Parameters
    ----------
    c : connection of the write transaction that the text is worked in
    inbound_id, phone_id : the text, and its sender's phone
    said : what it came to
    now : aware UTC instant
    """
    why = waits_for(said)
    if why is not None:
        unread.keep_waiting(c, inbound_id, why)
        return
    told = _reported(said.understood)
    if not told:
        return
    for asked in unread.asked_back_of(c, phone_id, inbound_id, since=now - ANSWER_LIFE):
        kinds = _reported([*asked.read_as.get("ask", ()), *asked.read_as.get("understood", ())])
        if kinds & told:
            unread.settle_text(c, asked.id, Settlement.ANSWERED, None, now)


def _reports(said: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return [one for one in said if one.get("kind") in REPORTS]


def _reported(said: Iterable[Mapping[str, Any]]) -> set[str]:
    return {str(one["kind"]) for one in _reports(said)}
