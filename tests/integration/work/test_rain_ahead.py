"""What a rain source expects: asked for once a day, kept apart, and no dressing before a storm."""

from datetime import date, timedelta

import pytest
from http_carrier import Received, Reply
from season_cast import Programme, a_programme, local
from test_rain_source import Pull, RainServer, profile_of

from reminder_service.records import farmers, rain_ahead
from reminder_service.records.engine import reading, writing
from reminder_service.work.rewording import SOON, reword_dressings

TODAY = date(2026, 11, 25)
STORM = "Heavy rain may come: dress after it."


@pytest.fixture
def programme(engine) -> Programme:
    made = a_programme(engine, local("2026-11-25", "10:00"))
    with writing(engine) as c:
        farmers.add_ward(c, "Olmara", "Africa/Lusaka")
    return made


def expected(programme: Programme, today: date = TODAY) -> dict[date, float]:
    with reading(programme.services.engine) as c:
        (ward,) = farmers.wards(c)
        return rain_ahead.rain_ahead(c, ward.id, today, today - timedelta(1))


def test_days_ahead_are_kept_apart_from_the_rain_book(programme):
    with RainServer(amounts={"2026-11-26": 41.0}) as server:
        pull = Pull(programme, profile_of(server, days_ahead=3))
        pull()
        assert server.spans[-1] == ("2026-11-25", "2026-11-27")
    assert list(expected(programme).values()) == [1.5, 41.0, 1.5]
    assert max(pull.kept) == date(2026, 11, 24)


def test_they_are_asked_for_once_a_day_and_replaced_the_next(programme):
    with RainServer() as server:
        pull = Pull(programme, profile_of(server, days_ahead=2))
        pull()
        asked = len(server.received)
        pull()
        assert len(server.received) == asked
        programme.clock.now = local("2026-11-26", "10:00")
        server.amounts["2026-11-26"] = 7.0
        pull()
    assert expected(programme, date(2026, 11, 26)) == {
        date(2026, 11, 26): 7.0,
        date(2026, 11, 27): 1.5,
    }


def test_an_old_word_does_not_count(programme):
    with RainServer() as server:
        Pull(programme, profile_of(server, days_ahead=16))()
    assert len(expected(programme, TODAY + timedelta(1))) == 15
    assert expected(programme, TODAY + timedelta(2)) == {}


def test_trouble_ahead_keeps_the_days_behind(programme):
    with RainServer() as server:
        pull = Pull(programme, profile_of(server, days_at_once=60, days_ahead=3))
        server.script = [server.days(_span("2026-11-01", "2026-11-24")), Reply(404)]
        pulled = pull()
    assert pulled.kept == 24 and "404" in pulled.stopped and expected(programme) == {}


def _span(first: str, last: str) -> Received:
    return Received("GET", f"/?start={first}&end={last}", {}, b"")


def test_what_cannot_fall_is_named_and_left_out(programme):
    with RainServer(amounts={"2026-11-26": -4, "2026-11-27": 9000}) as server:
        pulled = Pull(programme, profile_of(server, days_ahead=3))()
    assert expected(programme) == {TODAY: 1.5}
    assert [fault.partition(" mm")[0] for fault in pulled.faults] == ["-4", "9000"]


def test_without_days_ahead_none_are_asked_for(programme):
    with RainServer() as server:
        Pull(programme, profile_of(server))()
        assert server.spans[-1][1] == "2026-11-24"
    assert expected(programme) == {}


@pytest.mark.parametrize(
    ("mm", "held"), [(29.0, False), (30.0, True)], ids=["a usual rain", "a heavy storm"]
)
def test_no_dressing_before_a_heavy_storm(engine, mm, held):
    programme = a_programme(engine, local("2026-12-06", "10:00"))
    programme.plot()
    for said in ("PLANTED 14/11", "GERM 21/11", "DONE THIN"):
        programme.text(said)
    (row,) = programme.rows(task="top-dress-first", stage="opens")
    programme.clock.now = row["send_at"] - SOON / 2
    with writing(engine) as c:
        (ward,) = farmers.wards(c)
        rain_ahead.replace_rain_ahead(c, ward.id, {date(2026, 12, 13): mm}, date(2026, 12, 12))
    reword_dressings(programme.services)
    (row,) = programme.rows(task="top-dress-first", stage="opens")
    assert (STORM in row["body"]) is held
