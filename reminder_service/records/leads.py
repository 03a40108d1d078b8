"""Lead farmers: which ward they may report for, and what they reported."""

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import Connection, delete, insert, literal, select

from reminder_service.kinds import SeasonId
from reminder_service.records import tables as t
from reminder_service.records.once import insert_once_by


@dataclass(frozen=True, slots=True)
class Lead:
    """One lead farmer of one ward.

    Attributes
    ----------
    language : of the farmer
    zone : IANA name of the ward's time zone
    """

    farmer_id: int
    farmer_name: str
    language: str
    ward_id: int
    ward_name: str
    zone: str


def add_lead(c: Connection, farmer_id: int, ward_id: int) -> None:
    """Let a farmer report for every plot of a ward; once is enough. Index: primary key."""
    insert_once_by(c, t.ward_leads, {"farmer_id": farmer_id, "ward_id": ward_id})


def end_lead(c: Connection, farmer_id: int, ward_id: int) -> None:
    """Let a farmer report for other people's plots no more. Index: primary key."""
    c.execute(
        delete(t.ward_leads).where(
            t.ward_leads.c.farmer_id == farmer_id, t.ward_leads.c.ward_id == ward_id
        )
    )


def is_lead(c: Connection, farmer_id: int, ward_id: int) -> bool:
    """Whether a farmer may report for every plot of a ward. Index: primary key."""
    found = select(t.ward_leads.c.ward_id).where(
        t.ward_leads.c.farmer_id == farmer_id, t.ward_leads.c.ward_id == ward_id
    )
    return c.execute(found).one_or_none() is not None


def leads_on_phone(c: Connection, phone_id: int) -> list[Lead]:
    """Lead farmers that a phone serves, by ward. Index: ix_farmer_phones_phone_id."""
    rows = c.execute(
        select(
            t.farmers.c.id,
            t.farmers.c.name,
            t.farmers.c.language,
            t.wards.c.id,
            t.wards.c.name,
            t.wards.c.zone,
        )
        .select_from(
            t.farmer_phones.join(t.farmers)
            .join(t.ward_leads, t.ward_leads.c.farmer_id == t.farmers.c.id)
            .join(t.wards, t.ward_leads.c.ward_id == t.wards.c.id)
        )
        .where(t.farmer_phones.c.phone_id == phone_id)
        .order_by(t.wards.c.name, t.farmers.c.id)
    )
    return [Lead(*row) for row in rows]


def note_lead_reports(
    c: Connection, inbound_id: int, farmer_id: int, own: Collection[SeasonId]
) -> None:
    """Keep who made the reports of one text on other people's plots. Index: ix_reports_inbound_id.

    Parameters
    ----------
    c : connection of a write transaction
    inbound_id : the text
    farmer_id : the lead farmer who sent it
    own : seasons of the sender's own plots
    """
    others = select(t.reports.c.id, literal(farmer_id)).where(
        t.reports.c.inbound_id == inbound_id, t.reports.c.season_id.not_in(sorted(own))
    )
    c.execute(insert(t.lead_reports).from_select(["report_id", "farmer_id"], others))


def reporter_of(c: Connection, report_id: int) -> int | None:
    """The lead farmer who made a report on somebody else's plot. Index: primary key."""
    found = select(t.lead_reports.c.farmer_id).where(t.lead_reports.c.report_id == report_id)
    return c.execute(found).scalar_one_or_none()
