"""The tables, once, for SQLite and PostgreSQL.

Instants are UTC; days of field work are local dates, the zone stands with the ward.
"""

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    text,
)

from reminder_service.kinds import REPORTS, Basis, NoticeState, Stage
from reminder_service.records.types import Decision, Id, Instant, Settlement, Waits
from reminder_service.records.types import Outcome as Outcome
from reminder_service.records.types import Role as Role
from reminder_service.records.types import SettledBy as SettledBy

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _one_of(column: str, values: list[str], name: str) -> CheckConstraint:
    listed = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f"{column} IN ({listed})", name=name)


def _where(name: str, column: str, condition: str) -> Index:
    return Index(name, column, sqlite_where=text(condition), postgresql_where=text(condition))


wards = Table(
    "wards",
    metadata,
    Column("id", Id, primary_key=True),
    Column("name", String(80), nullable=False, unique=True),
    Column("zone", String(64), nullable=False),
)

farmers = Table(
    "farmers",
    metadata,
    Column("id", Id, primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), nullable=False, index=True),
    Column("name", String(80), nullable=False),
    Column("language", String(8), nullable=False),
    Column("created_at", Instant, nullable=False),
)

phones = Table(
    "phones",
    metadata,
    Column("id", Id, primary_key=True),
    Column("number", String(16), nullable=False, unique=True),
    Column("stopped_at", Instant),
)

farmer_phones = Table(
    "farmer_phones",
    metadata,
    Column("farmer_id", Id, ForeignKey("farmers.id"), primary_key=True),
    Column("phone_id", Id, ForeignKey("phones.id"), primary_key=True, index=True),
)

plots = Table(
    "plots",
    metadata,
    Column("id", Id, primary_key=True),
    Column("farmer_id", Id, ForeignKey("farmers.id"), nullable=False, index=True),
    Column("ward_id", Id, ForeignKey("wards.id"), nullable=False),
    Column("number", String(12), nullable=False),
    Column("stations", Integer, nullable=False),
    Column("stations_per_ha", Integer, nullable=False),
    UniqueConstraint("ward_id", "number"),
    CheckConstraint("stations > 0 AND stations_per_ha > 0", name="stations"),
)
"""``number`` is what a farmer writes in a text; upper case, unique in its ward."""

seasons = Table(
    "seasons",
    metadata,
    Column("id", Id, primary_key=True),
    Column("plot_id", Id, ForeignKey("plots.id"), nullable=False),
    Column("label", String(16), nullable=False),
    Column("starts_on", Date, nullable=False),
    Column("rulebook", String(80), nullable=False),
    Column("choices", JSON, nullable=False),
    Column("planned_at", Instant),
    Column("closed_at", Instant),
    UniqueConstraint("plot_id", "label"),
)
"""``rulebook`` names the version of the last plan; ``planned_at`` is when it was made."""

inbound = Table(
    "inbound",
    metadata,
    Column("id", Id, primary_key=True),
    Column("gateway", String(40), nullable=False),
    Column("message_id", String(200), nullable=False),
    Column("sender", String(200), nullable=False),
    Column("body", LargeBinary, nullable=False),
    Column("sent_at", Instant, nullable=False),
    Column("received_at", Instant, nullable=False),
    Column("phone_id", Id, ForeignKey("phones.id")),
    Column("handled_at", Instant),
    Column("read_as", JSON(none_as_null=True)),
    UniqueConstraint("gateway", "message_id"),
    Index("ix_inbound_phone_id_id", "phone_id", "id"),
    _where("ix_inbound_unhandled", "id", "handled_at IS NULL"),
)
"""Every text as it came, once; ``read_as`` is filled when it has been worked."""

waiting_texts = Table(
    "waiting_texts",
    metadata,
    Column("inbound_id", Id, ForeignKey("inbound.id"), primary_key=True),
    Column("why", String(12), nullable=False),
    Column("settled_at", Instant),
    Column("settled_as", String(12)),
    Column("person_id", Id, ForeignKey("people.id")),
    _one_of("why", list(Waits), "why"),
    _one_of("settled_as", list(Settlement), "settled_as"),
    CheckConstraint("(settled_at IS NULL) = (settled_as IS NULL)", name="settled"),
    _where("ix_waiting_texts_open", "inbound_id", "settled_at IS NULL"),
    _where("ix_waiting_texts_settled_at", "settled_at", "settled_at IS NOT NULL"),
)
"""Texts that wait for a person to say what they mean, and how each was settled."""

reports = Table(
    "reports",
    metadata,
    Column("id", Id, primary_key=True),
    Column("season_id", Id, ForeignKey("seasons.id"), nullable=False, index=True),
    Column("kind", String(16), nullable=False),
    Column("on", Date),
    Column("task", String(40)),
    Column("number", Integer),
    Column("detail", JSON(none_as_null=True)),
    Column("sent_at", Instant, nullable=False),
    Column("inbound_id", Id, ForeignKey("inbound.id"), index=True),
    Column("person_id", Id, ForeignKey("people.id")),
    Column("replaces_id", Id, ForeignKey("reports.id"), unique=True),
    _one_of("kind", [kind.value for kind in REPORTS], "kind"),
    CheckConstraint('"on" IS NOT NULL OR replaces_id IS NOT NULL', name="dated"),
)
"""Append-only. A correction is a new row that ``replaces_id``; without ``on`` it withdraws."""

joinings = Table(
    "joinings",
    metadata,
    Column("phone_id", Id, ForeignKey("phones.id"), primary_key=True),
    Column("step", String(16), nullable=False),
    Column("answers", JSON, nullable=False),
    Column("updated_at", Instant, nullable=False, index=True),
)
"""How far each phone that joins by text has come; forgotten after a few days."""

consents = Table(
    "consents",
    metadata,
    Column("id", Id, primary_key=True),
    Column("phone_id", Id, ForeignKey("phones.id"), nullable=False, index=True),
    Column("given", Boolean, nullable=False),
    Column("language", String(8), nullable=False),
    Column("wording", Text, nullable=False),
    Column("inbound_id", Id, ForeignKey("inbound.id"), nullable=False),
    Column("at", Instant, nullable=False),
)
"""Each answer to the question whether a programme may keep data, with the exact question."""

newcomers = Table(
    "newcomers",
    metadata,
    Column("farmer_id", Id, ForeignKey("farmers.id"), primary_key=True),
    Column("phone_id", Id, ForeignKey("phones.id"), nullable=False),
    Column("consent_id", Id, ForeignKey("consents.id"), nullable=False),
    Column("joined_at", Instant, nullable=False),
    Column("decision", String(10), nullable=False, index=True),
    Column("decided_at", Instant),
    Column("person_id", Id, ForeignKey("people.id")),
    _one_of("decision", [decision.value for decision in Decision], "decision"),
)
"""Farmers who joined by text; one who is not approved gets no reminder."""

ward_leads = Table(
    "ward_leads",
    metadata,
    Column("farmer_id", Id, ForeignKey("farmers.id"), primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), primary_key=True),
)
"""Lead farmers, who may report for every plot of a ward."""

lead_reports = Table(
    "lead_reports",
    metadata,
    Column("report_id", Id, ForeignKey("reports.id"), primary_key=True),
    Column("farmer_id", Id, ForeignKey("farmers.id"), nullable=False),
)
"""Which lead farmer made a report for somebody else's plot."""

tasks = Table(
    "tasks",
    metadata,
    Column("season_id", Id, ForeignKey("seasons.id"), primary_key=True),
    Column("name", String(40), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("opens_on", Date, nullable=False),
    Column("due_on", Date, nullable=False),
    Column("closes_on", Date, nullable=False),
    Column("basis", String(10), nullable=False),
    Column("estimated", JSON, nullable=False),
    Column("because", Text, nullable=False),
    Column("importance", Integer, nullable=False),
    Column("done_on", Date),
    Column("waits", Boolean, nullable=False, server_default=text("false")),
    _one_of("basis", [basis.value for basis in Basis], "basis"),
    CheckConstraint("opens_on <= due_on AND due_on <= closes_on", name="window"),
    _where("ix_tasks_open", "closes_on", "done_on IS NULL"),
)
"""The last plan of each season; written anew by re-planning, in the report's transaction."""

attempts = Table(
    "attempts",
    metadata,
    Column("id", Id, primary_key=True),
    Column("gateway", String(40), nullable=False),
    Column("client_reference", String(64), nullable=False, index=True),
    Column("started_at", Instant, nullable=False),
    Column("ended_at", Instant),
    Column("outcome", String(10)),
    Column("carrier_reference", String(200)),
    Column("reason", Text),
    Column("segments", Integer, nullable=False, server_default="0"),
    Column("cost", Integer, nullable=False, server_default="0"),
    Column("settled_at", Instant),
    Column("settled_by", String(16)),
    Column("asks", Integer, nullable=False, server_default="0"),
    Column("ask_at", Instant),
    _one_of("outcome", [outcome.value for outcome in Outcome], "outcome"),
    Index("ix_attempts_gateway_carrier_reference", "gateway", "carrier_reference"),
    Index("ix_attempts_gateway_started_at", "gateway", "started_at"),
)
"""One try at handing one text over; written before the call, ended after the answer.

``cost`` is in thousandths of the programme's money. ``settled_at`` and ``settled_by`` say when and
how an attempt that ended in doubt was settled. ``asks`` counts how often the carrier was asked what
became of it, ``ask_at`` is when it may be asked again.
"""

spending = Table(
    "spending",
    metadata,
    Column("day", Date, primary_key=True),
    Column("route", String(40), primary_key=True),
    Column("texts", Integer, nullable=False),
    Column("segments", Integer, nullable=False),
    Column("cost", Id, nullable=False),
)
"""What each route was given on each UTC day; ``cost`` is in thousandths of the money."""

notices = Table(
    "notices",
    metadata,
    Column("id", Id, primary_key=True),
    Column("key", String(160), nullable=False, unique=True),
    Column("phone_id", Id, ForeignKey("phones.id"), nullable=False),
    Column("farmer_id", Id, ForeignKey("farmers.id")),
    Column("ward_id", Id, ForeignKey("wards.id")),
    Column("season_id", Id, ForeignKey("seasons.id"), index=True),
    Column("inbound_id", Id, ForeignKey("inbound.id"), index=True),
    Column("task", String(40), nullable=False),
    Column("number", Integer, nullable=False),
    Column("stage", String(16), nullable=False),
    Column("opens_on", Date),
    Column("due_on", Date),
    Column("closes_on", Date),
    Column("body", Text, nullable=False),
    Column("segments", Integer, nullable=False),
    Column("importance", Integer, nullable=False),
    Column("state", String(12), nullable=False),
    Column("reason", Text),
    Column("person_id", Id, ForeignKey("people.id")),
    Column("day", Date, nullable=False),
    Column("send_at", Instant, nullable=False),
    Column("expires_at", Instant, nullable=False),
    Column("tries", Integer, nullable=False, server_default="0"),
    Column("claim", String(36)),
    Column("lease_until", Instant),
    Column("attempt_id", Id, ForeignKey("attempts.id"), index=True),
    Column("created_at", Instant, nullable=False),
    Column("changed_at", Instant, nullable=False),
    Column("sent_at", Instant),
    _one_of("stage", [stage.value for stage in Stage], "stage"),
    _one_of("state", [state.value for state in NoticeState], "state"),
    CheckConstraint("(state = 'claimed') = (claim IS NOT NULL)", name="claim"),
    CheckConstraint("send_at <= expires_at", name="timely"),
    Index("ix_notices_send_at_id", "send_at", "id"),
    Index("ix_notices_state_send_at_id", "state", "send_at", "id"),
    Index("ix_notices_ward_id_send_at_id", "ward_id", "send_at", "id"),
    Index("ix_notices_phone_id_send_at_id", "phone_id", "send_at", "id"),
)
"""The outbound queue.

``day`` is the local day it goes out; ``key`` is never sent twice; ``person_id`` is who held or
withdrew it by hand, which re-planning respects.
"""

receipts = Table(
    "receipts",
    metadata,
    Column("id", Id, primary_key=True),
    Column("gateway", String(40), nullable=False),
    Column("reference", String(200)),
    Column("client_reference", String(64)),
    Column("state", String(16), nullable=False),
    Column("at", Instant, nullable=False),
    Column("reason", Text, nullable=False),
    Column("received_at", Instant, nullable=False),
    Column("attempt_id", Id, ForeignKey("attempts.id"), index=True),
    CheckConstraint("reference IS NOT NULL OR client_reference IS NOT NULL", name="named"),
    _where("ix_receipts_unmatched", "id", "attempt_id IS NULL"),
)
"""Every word of a carrier on a text it took; one without ``attempt_id`` is not matched yet."""

route_health = Table(
    "route_health",
    metadata,
    Column("route", String(40), primary_key=True),
    Column("next_at", Instant, nullable=False),
    Column("day", Date, nullable=False),
    Column("texts_that_day", Integer, nullable=False),
    Column("failures", Integer, nullable=False),
    Column("rests_until", Instant),
    Column("reason", Text),
)
"""What all workers together know of each route: its pace, its day's count, whether it rests."""

people = Table(
    "people",
    metadata,
    Column("id", Id, primary_key=True),
    Column("login", String(80), nullable=False, unique=True),
    Column("name", String(80), nullable=False),
    Column("password_hash", String(200), nullable=False),
    Column("role", String(16), nullable=False),
    Column("session_key", String(64), nullable=False),
    Column("failed_logins", Integer, nullable=False, server_default="0"),
    Column("locked_until", Instant),
    Column("active", Boolean, nullable=False),
    _one_of("role", [role.value for role in Role], "role"),
)
"""Coordinators and others who log in; a new ``session_key`` ends every session of theirs."""

person_wards = Table(
    "person_wards",
    metadata,
    Column("person_id", Id, ForeignKey("people.id"), primary_key=True),
    Column("ward_id", Id, ForeignKey("wards.id"), primary_key=True),
)

audit = Table(
    "audit",
    metadata,
    Column("id", Id, primary_key=True),
    Column("at", Instant, nullable=False),
    Column("who", String(80), nullable=False),
    Column("what", String(40), nullable=False),
    Column("subject", String(80), nullable=False),
    Column("before", JSON(none_as_null=True)),
    Column("after", JSON(none_as_null=True)),
    Index("ix_audit_subject_id", "subject", "id"),
)
"""Who did what to what, with the values before and after; only ever added to."""

ticks = Table(
    "ticks",
    metadata,
    Column("name", String(40), primary_key=True),
    Column("started_at", Instant, nullable=False),
    Column("ended_at", Instant),
    Column("error", Text),
)
"""When each repeating piece of work last ran."""
