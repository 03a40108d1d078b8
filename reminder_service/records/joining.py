"""Farmers who join by text: how far they have come, their consent, and who lets them in."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, update

from reminder_service.kinds import SeasonId
from reminder_service.records import tables as t
from reminder_service.records.once import insert_once_by
from reminder_service.records.types import Decision
from reminder_service.records.views import Scope, in_scope


@dataclass(frozen=True, slots=True)
class Joining:
    """How far one phone has come.

    Attributes
    ----------
    step : the step whose question was asked last
    answers : what was answered so far, as plain values
    """

    step: str
    answers: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Newcomer:
    """One farmer who joined by text.

    Attributes
    ----------
    joined_at : aware UTC instant
    """

    farmer_id: int
    phone_id: int
    decision: Decision
    joined_at: datetime


@dataclass(frozen=True, slots=True)
class Waiting:
    """One plot whose farmer waits to be let in.

    Attributes
    ----------
    joined_at : aware UTC instant
    """

    season_id: SeasonId
    farmer_name: str
    phone_number: str
    plot_number: str
    stations: int
    choices: Mapping[str, str]
    joined_at: datetime


def joining_of(c: Connection, phone_id: int, since: datetime) -> Joining | None:
    """How far a phone has come; None if it does not join. Index: primary key.

    Parameters
    ----------
    c : connection
    phone_id : which phone
    since : aware UTC instant; what was last answered before is forgotten
    """
    found = select(t.joinings.c.step, t.joinings.c.answers).where(
        t.joinings.c.phone_id == phone_id, t.joinings.c.updated_at >= since
    )
    row = c.execute(found).one_or_none()
    return None if row is None else Joining(row.step, dict(row.answers))


def keep_joining(c: Connection, phone_id: int, joining: Joining, at: datetime) -> None:
    """Keep how far a phone has come. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    phone_id : which phone
    joining : its step and answers, which replace those kept
    at : aware UTC instant
    """
    values = {"step": joining.step, "answers": joining.answers, "updated_at": at}
    insert_once_by(c, t.joinings, {"phone_id": phone_id, **values})
    c.execute(update(t.joinings).where(t.joinings.c.phone_id == phone_id).values(values))


def forget_joining(c: Connection, phone_id: int) -> None:
    """Forget how far a phone has come. Index: primary key."""
    c.execute(delete(t.joinings).where(t.joinings.c.phone_id == phone_id))


def forget_joinings(c: Connection, before: datetime) -> None:
    """Forget every phone that has not gone on since an instant. Index: ix_joinings_updated_at."""
    c.execute(delete(t.joinings).where(t.joinings.c.updated_at < before))


def add_consent(
    c: Connection,
    *,
    phone_id: int,
    given: bool,
    language: str,
    wording: str,
    inbound_id: int,
    at: datetime,
) -> int:
    """Keep one answer to the question of consent, and answer its id.

    Parameters
    ----------
    c : connection of a write transaction
    phone_id : who answered
    given : whether the answer was yes
    language : ISO 639-1 code of the question
    wording : the question, word for word
    inbound_id : the text that answered it
    at : aware UTC instant at which it was sent
    """
    values = {
        "phone_id": phone_id,
        "given": given,
        "language": language,
        "wording": wording,
        "inbound_id": inbound_id,
        "at": at,
    }
    id_: int = c.execute(insert(t.consents).values(values).returning(t.consents.c.id)).scalar_one()
    return id_


def add_newcomer(
    c: Connection,
    *,
    farmer_id: int,
    phone_id: int,
    consent_id: int,
    decision: Decision,
    at: datetime,
) -> None:
    """Note that a farmer joined by text.

    Parameters
    ----------
    c : connection of a write transaction
    farmer_id, phone_id, consent_id : who, by which phone, on which consent
    decision : approved at once, or waiting
    at : aware UTC instant
    """
    decided_at = None if decision is Decision.WAITING else at
    c.execute(
        insert(t.newcomers).values(
            farmer_id=farmer_id,
            phone_id=phone_id,
            consent_id=consent_id,
            joined_at=at,
            decision=decision.value,
            decided_at=decided_at,
        )
    )


def newcomer(c: Connection, farmer_id: int) -> Newcomer | None:
    """A farmer who joined by text; None for one who was registered. Index: primary key."""
    row = c.execute(
        select(*(t.newcomers.c[name] for name in Newcomer.__slots__)).where(
            t.newcomers.c.farmer_id == farmer_id
        )
    ).one_or_none()
    return None if row is None else Newcomer(row[0], row[1], Decision(row[2]), row[3])


def decide(
    c: Connection, farmer_id: int, decision: Decision, person_id: int | None, at: datetime
) -> bool:
    """Let a farmer in who waits, or not; False if that was decided already. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    farmer_id : who waits
    decision : approved or declined
    person_id : who decides; None for the farmer
    at : aware UTC instant
    """
    undecided = (
        update(t.newcomers)
        .where(
            t.newcomers.c.farmer_id == farmer_id,
            t.newcomers.c.decision == Decision.WAITING.value,
        )
        .values(decision=decision.value, decided_at=at, person_id=person_id)
    )
    return c.execute(undecided).rowcount == 1


def waiting_in(c: Connection, ward_id: int, limit: int) -> list[Waiting]:
    """Who waits to be let in in a ward, the longest waiting first. Index: ix_newcomers_decision."""
    rows = c.execute(
        select(
            t.seasons.c.id,
            t.farmers.c.name,
            t.phones.c.number,
            t.plots.c.number,
            t.plots.c.stations,
            t.seasons.c.choices,
            t.newcomers.c.joined_at,
        )
        .select_from(
            t.newcomers.join(t.farmers, t.newcomers.c.farmer_id == t.farmers.c.id)
            .join(t.phones, t.newcomers.c.phone_id == t.phones.c.id)
            .join(t.plots, t.plots.c.farmer_id == t.farmers.c.id)
            .join(t.seasons, t.seasons.c.plot_id == t.plots.c.id)
        )
        .where(
            t.newcomers.c.decision == Decision.WAITING.value,
            t.plots.c.ward_id == ward_id,
            t.seasons.c.closed_at.is_(None),
        )
        .order_by(t.newcomers.c.joined_at, t.seasons.c.id)
        .limit(limit)
    )
    return [Waiting(SeasonId(row[0]), *row[1:]) for row in rows]


def waiting_by_ward(c: Connection, scope: Scope) -> dict[int, int]:
    """How many wait to be let in in each ward of a scope. Index: ix_newcomers_decision."""
    rows = c.execute(
        select(t.farmers.c.ward_id, func.count())
        .select_from(t.newcomers.join(t.farmers))
        .where(
            t.newcomers.c.decision == Decision.WAITING.value,
            *in_scope(t.farmers.c.ward_id, scope),
        )
        .group_by(t.farmers.c.ward_id)
    )
    return {ward_id: count for ward_id, count in rows}


def change_farmer(c: Connection, farmer_id: int, *, name: str, ward_id: int, language: str) -> None:
    """Write a farmer's name, ward and language anew. Index: primary key."""
    values = {"name": name, "ward_id": ward_id, "language": language}
    c.execute(update(t.farmers).where(t.farmers.c.id == farmer_id).values(values))


def change_plot(c: Connection, plot_id: int, *, stations: int, stations_per_ha: int) -> None:
    """Write a plot's size and spacing anew. Index: primary key."""
    values = {"stations": stations, "stations_per_ha": stations_per_ha}
    c.execute(update(t.plots).where(t.plots.c.id == plot_id).values(values))


def change_choices(c: Connection, season_id: SeasonId, choices: Mapping[str, str]) -> None:
    """Write a season's choices anew. Index: primary key."""
    c.execute(update(t.seasons).where(t.seasons.c.id == season_id).values(choices=dict(choices)))


def close_season(c: Connection, season_id: SeasonId, at: datetime) -> None:
    """Close a season: nothing is reported for it or sent about it any more. Index: primary key."""
    c.execute(update(t.seasons).where(t.seasons.c.id == season_id).values(closed_at=at))


def next_plot_number(c: Connection, ward_id: int) -> str:
    """The number after the highest in a ward. Index: uq_plots_ward_id_number.

    Two who ask at once get the same one; the plot's unique key decides, and the other asks again.
    """
    numbers = c.execute(select(t.plots.c.number).where(t.plots.c.ward_id == ward_id)).scalars()
    taken = [int(number) for number in numbers if number.isascii() and number.isdecimal()]
    return str(max(taken, default=0) + 1)
