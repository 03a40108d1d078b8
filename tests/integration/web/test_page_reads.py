"""The reads behind the pages, on both engines."""

import re
from datetime import date, timedelta

import pytest
from page_cast import NOW, OLMARA, SETIWE, a_notice, a_plot, a_task, an_inbound, statements
from sqlalchemy import insert, update

from reminder_service.kinds import Kind, NoticeState
from reminder_service.records import queue_views, tables, views
from reminder_service.records.queue_views import Place, Wanted, queue_page
from reminder_service.records.ward_views import ward_lines

TODAY = {"Africa/Lusaka": date(2026, 12, 6), "Africa/Nairobi": date(2026, 12, 6)}


@pytest.fixture
def c(cast):
    with cast.connect() as connection:
        yield connection


def ids(lines) -> list[int]:
    return [line.id for line in lines]


def test_a_ward_at_a_glance(c):
    a_task(c, 1, "weed", date(2026, 11, 20))  # due on the 23rd, closed on the 27th
    a_task(c, 2, "weed", date(2026, 12, 1))  # due on the 4th, still open
    a_task(c, 2, "borer", date(2026, 12, 1), done_on=date(2026, 12, 2))
    a_task(c, 2, "rotate", date(2027, 8, 1))
    olmara, setiwe = ward_lines(c, None, TODAY)
    assert (olmara.plots, olmara.rain_reported, olmara.germination_reported) == (2, 1, 1)
    assert (olmara.open_now, olmara.late, olmara.missed, olmara.not_arrived) == (3, 2, 1, 1)
    assert (setiwe.plots, setiwe.rain_reported, setiwe.open_now, setiwe.not_arrived) == (1, 0, 1, 1)


def test_each_ward_has_its_own_today(c):
    a_task(c, 1, "weed", date(2026, 12, 7))
    a_task(c, 3, "weed", date(2026, 12, 7))
    days = TODAY | {"Africa/Nairobi": date(2026, 12, 7)}
    assert [line.open_now for line in ward_lines(c, None, days)] == [2, 2]


def test_a_report_withdrawn_by_a_later_one_is_not_counted(c):
    first = c.execute(tables.reports.select().where(tables.reports.c.kind == "first-rain")).one()
    c.execute(
        insert(tables.reports).values(
            season_id=1, kind="first-rain", sent_at=NOW, replaces_id=first.id
        )
    )
    assert ward_lines(c, None, TODAY)[0].rain_reported == 0
    assert [r.replaced for r in views.reports_by_season(c, [1])[1]] == [True, False, False]


def test_a_closed_season_is_in_no_count(c):
    c.execute(update(tables.seasons).values(closed_at=NOW))
    assert [line.plots for line in ward_lines(c, None, TODAY)] == [0, 0]


@pytest.mark.parametrize(
    ("scope", "names"),
    [
        pytest.param(None, ["Olmara", "Setiwe"], id="all wards"),
        pytest.param({SETIWE}, ["Setiwe"], id="one ward"),
        pytest.param(set(), [], id="no ward"),
    ],
)
def test_a_scope_bounds_the_wards(c, scope, names):
    assert [line.ward.name for line in ward_lines(c, scope, TODAY)] == names


@pytest.mark.parametrize("rows", [1, 30])
def test_the_overview_takes_five_statements_however_many_plots(cast, rows):
    with cast.begin() as c:
        for id_ in range(100, 100 + rows):
            a_plot(c, id_, OLMARA)
    with cast.connect() as c, statements(cast) as seen:
        ward_lines(c, None, TODAY)
    assert len(seen) == 5


def test_plots_are_leafed_through_by_number(c):
    first = views.plot_lines(c, OLMARA, NOW.date(), "", False, 1)
    second = views.plot_lines(c, OLMARA, NOW.date(), first[0].plot_number, False, 5)
    assert [line.plot_number for line in first + second] == ["P001", "P002"]


def test_only_plots_with_late_tasks(c):
    a_task(c, 2, "weed", date(2026, 11, 20))
    late = views.plot_lines(c, OLMARA, NOW.date(), "", True, 5)
    assert [line.plot_number for line in late] == ["P002"]


def test_a_season_outside_the_scope_is_none(c):
    assert views.season_head(c, 3, {OLMARA}) is None
    assert views.season_head(c, 3, {SETIWE}).farmer_name == "Farmer 003"
    assert views.season_head(c, 99, None) is None


def test_tasks_come_as_the_plan_had_them(c):
    (task,) = views.tasks_by_season(c, [1])[1]
    assert (task.name, task.opens, task.due) == ("thin", date(2026, 12, 5), date(2026, 12, 8))


def test_reports_say_who_entered_them(c):
    c.execute(
        insert(tables.reports).values(
            season_id=2, kind="planted", on=date(2026, 11, 14), sent_at=NOW, person_id=2
        )
    )
    found = views.reports_by_season(c, [1, 2])
    assert [r.by for r in found[1]] == [None, None]
    assert [(r.kind, r.by) for r in found[2]] == [(Kind.PLANTED, "tembi")]


def test_a_percent_sign_in_a_name_is_a_letter(c):
    assert views.phones_named(c, None, "%", 9) == []
    assert [p.farmer_name for p in views.phones_named(c, None, "fARMER 002", 9)] == ["Farmer 002"]


@pytest.mark.parametrize("newest_first", [False, True], ids=["soonest first", "newest first"])
def test_leafing_shows_every_notice_once(c, newest_first):
    for id_ in range(20, 40):  # several at one instant, so that the id must decide
        a_notice(c, id_, 1, OLMARA, send_at=NOW + timedelta(hours=id_ // 4))
    wanted = Wanted(states=(NoticeState.PLANNED, NoticeState.REFUSED), newest_first=newest_first)
    seen, place = [], None
    while lines := queue_page(c, None, wanted, place, 3):
        seen += ids(lines)
        place = Place(lines[-1].send_at, lines[-1].id)
    whole = ids(queue_page(c, None, wanted, None, 100))
    assert seen == whole
    assert sorted(seen) == [1, 2, 3, 11, *range(20, 40)]


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        pytest.param(Wanted(), [11, 13, 1, 2, 3], id="everything"),
        pytest.param(Wanted(states=(NoticeState.IN_DOUBT,)), [13], id="state"),
        pytest.param(Wanted(ward_id=SETIWE), [13, 3], id="ward"),
        pytest.param(Wanted(day=date(2026, 12, 6)), [11, 13, 1, 2, 3], id="day"),
        pytest.param(Wanted(day=date(2026, 12, 7)), [], id="another day"),
        pytest.param(Wanted(task="borer"), [], id="task"),
        pytest.param(Wanted(farmer="farmer 001"), [11, 1], id="farmer's name in any case"),
        pytest.param(Wanted(farmer="+44 7700 900002"), [2], id="phone with spaces"),
        pytest.param(Wanted(farmer="nobody"), [], id="nobody of that name"),
        pytest.param(Wanted(farmer="_"), [], id="a letter that SQL takes for any"),
        pytest.param(Wanted(since=NOW + timedelta(minutes=90)), [2, 3], id="since"),
    ],
)
def test_the_sieve_of_the_queue(c, wanted, found):
    assert ids(queue_page(c, None, wanted, None, 10)) == found


def test_a_name_that_fits_many_finds_all_of_them(c, monkeypatch):
    monkeypatch.setattr(queue_views, "FEW", 1)
    assert ids(queue_page(c, None, Wanted(farmer="farmer"), None, 10)) == [11, 13, 1, 2, 3]
    assert ids(queue_page(c, {SETIWE}, Wanted(farmer="7700900"), None, 10)) == [13, 3]


def test_the_queue_of_another_ward_stays_behind_the_wall(c):
    assert ids(queue_page(c, {OLMARA}, Wanted(), None, 10)) == [11, 1, 2]
    assert ids(queue_views.notices_seen(c, [1, 3], {OLMARA})) == [1]


def test_raw_bytes_are_shown_as_well_as_they_can_be(c):
    an_inbound(c, 20, 1, b"rain\x00\xff")
    assert queue_views.inbound_of_phones(c, [1], 9)[-1].body == "rain\ufffd\ufffd"


def test_replies_are_found_by_the_text_they_answer(c):
    c.execute(
        update(tables.notices).where(tables.notices.c.id == 1).values(inbound_id=1, stage="reply")
    )
    assert ids(queue_views.replies_to(c, [1, 2])) == [1]


@pytest.mark.parametrize("scope", [None, {OLMARA}], ids=["all wards", "one ward"])
@pytest.mark.parametrize("newest_first", [False, True], ids=["soonest first", "newest first"])
def test_leafing_walks_an_index_in_order_of_sending(cast, scope, newest_first):
    wanted = Wanted(states=(NoticeState.PLANNED,), newest_first=newest_first)
    with cast.connect() as c:
        with statements(cast) as seen:
            queue_page(c, scope, wanted, Place(NOW, 5), 41)
        if cast.dialect.name == "postgresql":  # a table of few rows is otherwise read whole
            c.exec_driver_sql("SET enable_seqscan = off")
            c.exec_driver_sql("SET enable_bitmapscan = off")
        explain = "EXPLAIN QUERY PLAN " if cast.dialect.name == "sqlite" else "EXPLAIN "
        (statement, values), *_ = seen
        plan = "\n".join(str(row) for row in c.exec_driver_sql(explain + statement, values))
    assert re.search(r"ix_notices_(state|ward_id)_send_at_id", plan)
