"""Laws that hold whatever farmers text and whenever: run on a real database, time and all."""

import shutil
from collections import Counter
from datetime import date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from season_cast import ZONE, a_programme, local

from reminder_service.records.engine import make_engine

FIRST_DAY = date(2026, 11, 10)
LAST_DAY = FIRST_DAY + timedelta(days=330)

# A whole season takes about a second, so fewer of them are played than of cheaper examples.
whole_seasons = settings(
    max_examples=settings.default.max_examples // 4,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)

days_back = st.integers(0, 12)
texts = st.one_of(
    st.builds(lambda n: f"RAIN {n} DAYS AGO", days_back),
    st.builds(lambda n: f"PLANTED {n} DAYS AGO", days_back),
    st.builds(lambda n: f"GERM {n} DAYS AGO", days_back),
    st.builds(lambda n: f"TASSEL {n} DAYS AGO", days_back),
    st.builds(lambda n: f"HARVESTED {n} DAYS AGO", days_back),
    st.sampled_from(
        ["DONE THIN", "DONE DRESS", "DONE WEED", "COUNT 2 1 0 3", "BORER 20", "NO", "NEXT", "1"]
    ),
    st.sampled_from(["STOP", "START", "hello", ""]),
)
steps = st.lists(st.tuples(st.integers(1, 40), st.integers(6 * 60, 21 * 60), texts), max_size=14)
plots = st.sampled_from(["mineral", "manure-tea", "both"])


@pytest.fixture
def a_database(sqlite_template, tmp_path):
    """Makes as many migrated SQLite databases as asked for."""
    numbers = iter(range(1_000_000))

    def make():
        path = tmp_path / f"law-{next(numbers)}.sqlite3"
        shutil.copyfile(sqlite_template, path)
        return make_engine(f"sqlite:///{path}")

    return make


def play(programme, script) -> list[tuple[datetime, datetime | None]]:
    """Text what the script says; answers the spans in which the phone had stopped."""
    spans, stopped_at = [], None
    day = FIRST_DAY
    for gap, minute, body in script:
        day += timedelta(days=gap)
        programme.at(day, f"{minute // 60:02}:{minute % 60:02}")
        programme.text(body)
        if body == "STOP" and stopped_at is None:
            stopped_at = programme.clock()
        if body == "START" and stopped_at is not None:
            spans.append((stopped_at, programme.clock()))
            stopped_at = None
    programme.at(max(LAST_DAY, day + timedelta(days=120)))
    return spans if stopped_at is None else [*spans, (stopped_at, None)]


@whole_seasons
@given(script=steps, choice=plots)
def test_nothing_leaves_twice_or_outside_window_and_hours_or_after_stop_or_stays_open(
    a_database, script, choice
):
    engine = a_database()
    programme = a_programme(engine, local(FIRST_DAY))
    programme.plot("1", top_dressing=choice)
    stopped = play(programme, script)

    sent = [row for row in programme.rows() if row["sent_at"] is not None]
    reminders = [row for row in sent if row["stage"] != "reply"]
    assert max(Counter(row["key"] for row in sent).values(), default=0) <= 1
    references = Counter(message.reference for _, message in programme.left)
    assert max(references.values(), default=0) <= 1
    for row in reminders:
        left_at = row["sent_at"].astimezone(ZONE)
        assert 8 * 60 <= left_at.hour * 60 + left_at.minute < 18 * 60
        if row["stage"] == "getting-ready":
            assert left_at.date() < row["opens_on"]
        elif row["stage"] == "correction":  # tells the new days at once, also before they begin
            assert left_at.date() <= row["closes_on"]
        elif row["stage"] != "question":
            assert row["opens_on"] <= left_at.date() <= row["closes_on"]
        assert not any(
            start <= row["sent_at"] and (end is None or row["sent_at"] < end)
            for start, end in stopped
        )
    programme.at(LAST_DAY + timedelta(days=1000))
    assert {row["state"] for row in programme.rows()} <= {"handed over", "expired", "withdrawn"}
    engine.dispose()


@whole_seasons
@given(
    facts=st.permutations(
        ["RAIN 12/11", "PLANTED 14/11", "GERM 21/11", "TASSEL 20/1", "HARVESTED 2/4"]
    )
)
def test_the_order_of_reports_does_not_change_the_plan(a_database, facts):
    engine = a_database()
    programme = a_programme(engine, local("2027-04-05"))
    programme.plot("1")
    programme.plot("2")
    for body in facts:
        programme.text(f"{body} PLOT 1")
    for body in sorted(facts):
        programme.text(f"{body} PLOT 2")

    def plan(season_id):
        rows = programme.rows("tasks", season_id=season_id)
        return sorted(
            (
                r["name"],
                r["number"],
                r["opens_on"],
                r["due_on"],
                r["closes_on"],
                r["basis"],
                r["because"],
            )
            for r in rows
        )

    assert plan(1) == plan(2)
    assert plan(1) != []
    engine.dispose()
