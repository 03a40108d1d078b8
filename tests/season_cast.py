"""A small invented programme for tests: one ward, its plots, a console gateway, a set clock."""

import io
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from itertools import count
from zoneinfo import ZoneInfo

from sqlalchemy import Engine, select

from gateways.console.gateway import ConsoleGateway
from gateways.protocol import Gateway, Incoming, Outgoing, Taken
from reminder_service.agronomy.rain_book import Observer
from reminder_service.kinds import PhoneNumber, SeasonId
from reminder_service.records import farmers, rain
from reminder_service.records import tables as t
from reminder_service.records.engine import reading, writing
from reminder_service.records.rain import NewObservation
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.work.dispatch import Dispatched, dispatch_due
from reminder_service.work.receive import Received, receive
from reminder_service.work.replan import replan
from reminder_service.work.scenario import SettableClock, send_up_to
from reminder_service.work.services import Services

ZONE = ZoneInfo("Africa/Lusaka")
AMINA = "+447700900001"
SEASON_STARTS = date(2026, 10, 1)


def local(day: date | str, at: str = "12:00") -> datetime:
    """A local day and time of the ward as an instant."""
    on = date.fromisoformat(day) if isinstance(day, str) else day
    return datetime.combine(on, time.fromisoformat(at), ZONE).astimezone(UTC)


class TimedConsole(ConsoleGateway):
    """A console that notes when each text left."""

    def __init__(self, clock: SettableClock) -> None:
        super().__init__(out=io.StringIO())
        self.left: list[tuple[datetime, Outgoing]] = []
        self._clock = clock

    def send(self, message: Outgoing) -> Taken:
        taken = super().send(message)
        self.left.append((self._clock(), message))
        return taken


@dataclass
class Programme:
    """Services on one database, and shorthand for what tests do with them."""

    services: Services
    clock: SettableClock
    ids: count = field(default_factory=count)

    @property
    def left(self) -> list[tuple[datetime, Outgoing]]:
        return self.services.gateways["console"].left

    def text(self, body: str | bytes, sender: str = AMINA, message_id: str = "") -> Received:
        raw = body.encode() if isinstance(body, str) else body
        message = Incoming(message_id or f"test-{next(self.ids)}", sender, raw, self.clock())
        return receive(self.services, gateway="console", message=message)

    def at(self, day: date | str, clock_time: str = "12:00") -> "Programme":
        """Let time pass up to a local moment; what falls due meanwhile is sent."""
        send_up_to(self.services, self.clock, local(day, clock_time))
        return self

    def dispatch(self) -> Dispatched:
        return dispatch_due(self.services)

    def plot(self, number: str = "1", phone: str = AMINA, name: str = "Amina", **choices: str):
        with writing(self.services.engine) as c:
            known = {ward.name: ward.id for ward in farmers.wards(c)}
            ward_id = known.get("Olmara") or farmers.add_ward(c, "Olmara", str(ZONE))
            farmer_id = farmers.add_farmer(
                c,
                ward_id=ward_id,
                name=name,
                language="en",
                numbers=[PhoneNumber(phone)],
                at=self.clock(),
            )
            plot_id = farmers.add_plot(
                c,
                farmer_id=farmer_id,
                ward_id=ward_id,
                number=number,
                stations=5600,
                stations_per_ha=22_222,
            )
            season_id = farmers.open_season(
                c,
                plot_id=plot_id,
                label="2026/27",
                starts_on=SEASON_STARTS,
                rulebook="maize-hand-hoe 1",
                choices={"top-dressing": "mineral", "maturity": "medium"}
                | {key.replace("_", "-"): value for key, value in choices.items()},
            )
            replan(c, season_id, self.services.rulebook, self.services.settings, self.clock())
        return season_id

    def rows(self, table: str = "notices", **wanted: object) -> list[dict]:
        with reading(self.services.engine) as c:
            found = c.execute(select(t.metadata.tables[table])).mappings()
            return [
                dict(row)
                for row in found
                if all(row[column] == value for column, value in wanted.items())
            ]

    def snapshot(self) -> dict[str, list[tuple]]:
        """Everything that a refused text must not change."""
        with reading(self.services.engine) as c:
            return {
                name: sorted(map(str, c.execute(select(t.metadata.tables[name])).all()))
                for name in ("reports", "tasks", "seasons", "plots", "farmers")
            } | {
                "plan": sorted(
                    map(str, c.execute(select(t.notices).where(t.notices.c.stage != "reply")).all())
                )
            }


def a_programme(
    engine: Engine, now: datetime, gateway: Gateway | None = None, **settings: object
) -> Programme:
    """A programme without plots, at one instant."""
    clock = SettableClock(now)
    chosen = Settings(database_url="sqlite:///unused.sqlite3", secret_key="k" * 40, **settings)
    services = Services(
        engine, chosen, shipped_rulebook(), clock, {"console": gateway or TimedConsole(clock)}
    )
    return Programme(services, clock)


__all__ = ["AMINA", "ZONE", "Programme", "SeasonId", "TimedConsole", "a_programme", "local"]


def rain_falls(programme: Programme, mm: dict[date, float]) -> None:
    """Amounts of a gauge keeper of the ward."""
    with writing(programme.services.engine) as c:
        (ward,) = farmers.wards(c)
        new = [
            NewObservation(ward.id, None, on, amount, False, Observer.KEEPER, "phone 9")
            for on, amount in mm.items()
        ]
        rain.keep_observations(c, new, programme.clock())
