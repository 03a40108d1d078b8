"""One cast for the pages: two wards, three people, a few plots with tasks, texts and notices."""

from collections.abc import Callable
from datetime import date

import pytest
from flask import Flask
from page_cast import (
    AUDITOR,
    COORDINATOR,
    LEAD,
    NOW,
    OLMARA,
    PASSWORD,
    SETIWE,
    SetClock,
    Visitor,
    a_notice,
    a_person,
    a_plot,
    a_task,
    an_inbound,
)
from scripted_gateway import ScriptedGateway
from sqlalchemy import Engine, insert

from reminder_service.records import tables as t
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.work.services import Services


@pytest.fixture
def cast(engine: Engine) -> Engine:
    """Plots 1 and 2 lie in Olmara, 3 in Setiwe; the coordinator has Olmara alone."""
    with engine.begin() as c:
        c.execute(
            insert(t.wards),
            [
                {"id": OLMARA, "name": "Olmara", "zone": "Africa/Lusaka"},
                {"id": SETIWE, "name": "Setiwe", "zone": "Africa/Nairobi"},
            ],
        )
        roles = [(LEAD, t.Role.PROGRAMME_LEAD), (COORDINATOR, t.Role.COORDINATOR)]
        roles.append((AUDITOR, t.Role.AUDITOR))
        c.execute(insert(t.people), [a_person(i, *who) for i, who in enumerate(roles, start=1)])
        c.execute(insert(t.person_wards).values(person_id=2, ward_id=OLMARA))
        for id_, ward_id in ((1, OLMARA), (2, OLMARA), (3, SETIWE)):
            a_plot(c, id_, ward_id)
            a_notice(c, id_, id_, ward_id)
            a_task(c, id_, "thin", date(2026, 12, 5))
            an_inbound(c, id_, id_, b"germinated 21 nov")
        a_notice(c, 11, 1, OLMARA, "refused", reason="not a mobile number", send_at=NOW)
        a_notice(c, 13, 3, SETIWE, "in doubt", send_at=NOW)
        said = {"season_id": 1, "sent_at": NOW, "inbound_id": 1}
        c.execute(
            insert(t.reports),
            [
                said | {"kind": "first-rain", "on": date(2026, 11, 12)},
                said | {"kind": "germinated", "on": date(2026, 11, 21)},
            ],
        )
        # The rows above chose their own ids; PostgreSQL's counters must follow them.
        if engine.dialect.name == "postgresql":
            for table in t.metadata.sorted_tables:
                if "id" in table.c:
                    c.exec_driver_sql(
                        f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), 1000)"
                    )
    return engine


@pytest.fixture
def clock() -> SetClock:
    return SetClock()


@pytest.fixture
def app(cast: Engine, clock: SetClock) -> Flask:
    """The pages over the cast, with a gateway that takes everything."""
    settings = Settings(
        secret_key="s" * 40, gateway="scripted", database_url="sqlite:///unused.sqlite3"
    )
    services = Services(cast, settings, shipped_rulebook(), clock, {"scripted": ScriptedGateway()})
    return create_app(services)


@pytest.fixture
def visit(app: Flask) -> Callable[[str], Visitor]:
    """Log somebody in and answer their browser."""

    def log_in(login: str) -> Visitor:
        visitor = Visitor(app.test_client())
        answer = visitor.send("/login", "/login", login=login, password=PASSWORD)
        assert answer.status_code == 200 and answer.request.path == "/"
        return visitor

    return log_in


@pytest.fixture
def coordinator(visit) -> Visitor:
    return visit(COORDINATOR)


@pytest.fixture
def lead(visit) -> Visitor:
    return visit(LEAD)
