"""The season strip's geometry."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.kinds import Basis, Kind, NoticeState
from reminder_service.rules.plan import Task
from reminder_service.web.strip import (
    SMALL,
    WIDE,
    Look,
    Strip,
    packed_lanes,
    season_span,
    season_strip,
    task_look,
)

TODAY = date(2026, 12, 6)


def a_task(name="thin", number=1, opens=date(2026, 12, 5), days=7, due=3, **fields):
    known = {"basis": Basis.REPORTED, "estimated": frozenset(), "done_on": None} | fields
    return Task(
        name=name,
        number=number,
        opens=opens,
        due=opens + timedelta(days=due),
        closes=opens + timedelta(days=days),
        because="21 days after germination",
        importance=2,
        **known,
    )


def strip_of(tasks=(), facts=(), notices=(), **given) -> Strip:
    return season_strip(
        tasks, facts, notices, TODAY, lambda name, number: f"{name} {number}", **given
    )


days = st.dates(date(2026, 10, 1), date(2027, 6, 30))
tasks = st.lists(
    st.builds(
        a_task,
        name=st.sampled_from(["thin", "weed", "top-dress-first", "keep-clean"]),
        number=st.integers(1, 4),
        opens=days,
        days=st.integers(3, 90),
        done_on=st.none() | days,
    ),
    max_size=20,
)
facts = st.lists(st.tuples(st.sampled_from([Kind.FIRST_RAIN, Kind.GERMINATED]), days), max_size=5)
notices = st.lists(st.tuples(st.sampled_from(NoticeState), days), max_size=40)


@given(tasks, facts, notices, st.sampled_from([WIDE, SMALL]))
def test_every_shape_lies_inside_the_drawing(tasks, facts, notices, frame):
    strip = season_strip(tasks, facts, notices, TODAY, lambda name, number: name, frame)
    for bar in strip.bars:
        assert 0 <= bar.x and bar.x + bar.width <= strip.width + 2
        assert bar.x <= bar.due_x <= bar.x + bar.width
        assert 0 <= bar.y and bar.y + bar.height <= strip.height
    for mark in (*strip.facts, *strip.notices):
        assert 0 <= mark.x <= strip.width and 0 <= mark.y <= strip.height


@given(st.lists(st.tuples(st.integers(0, 90), st.integers(1, 20))))
def test_extents_in_one_lane_keep_their_gap(pairs):
    extents = [(left, left + width) for left, width in sorted(pairs)]
    lanes = packed_lanes(extents, gap=2)
    for lane in set(lanes):
        inside = [extent for extent, own in zip(extents, lanes, strict=True) if own == lane]
        for before, after in pairwise(inside):
            assert before[1] + 2 <= after[0]


@given(tasks)
def test_words_beside_bars_never_leave_the_drawing(tasks):
    for bar in strip_of(tasks).bars:
        width = len(bar.label.text) * WIDE.letter
        left = bar.label.x - (width if bar.label.anchor == "end" else 0)
        assert 0 <= left and left + width <= WIDE.width


def test_a_bar_runs_from_the_opening_to_the_end_of_the_closing_day():
    strip = strip_of([a_task()])
    first, last = season_span([a_task()], [], TODAY)
    per_day = WIDE.width / (last - first).days
    bar = strip.bars[0]
    assert bar.x == pytest.approx(4 * per_day, abs=0.1)
    assert bar.width == pytest.approx(8 * per_day, abs=0.2)
    assert bar.due_x == pytest.approx(7 * per_day, abs=0.1)


@pytest.mark.parametrize(
    ("fields", "look"),
    [
        pytest.param({}, Look.REPORTED, id="reported"),
        pytest.param({"basis": Basis.ESTIMATED}, Look.ESTIMATED, id="estimated"),
        pytest.param({"done_on": TODAY}, Look.DONE, id="done"),
        pytest.param({"opens": date(2026, 11, 1)}, Look.MISSED, id="closed and not done"),
        pytest.param(
            {"opens": date(2026, 11, 1), "done_on": date(2026, 11, 4)},
            Look.DONE,
            id="done before it closed",
        ),
        pytest.param({"opens": date(2026, 11, 29)}, Look.REPORTED, id="its last day is today"),
    ],
)
def test_look_of_a_window(fields, look):
    assert task_look(a_task(**fields), TODAY) is look


def test_months_stand_at_their_first_day():
    strip = strip_of([a_task(opens=date(2026, 12, 20), days=30)])
    assert [month.text for month in strip.months] == ["Jan 2027"]


def test_today_outside_the_span_has_no_line():
    span = (date(2027, 1, 1), date(2027, 2, 1))
    assert strip_of([], span=span).today_x is None


def test_two_strips_of_one_span_have_the_same_line_of_time():
    span = (date(2026, 11, 1), date(2027, 5, 1))
    one = strip_of([a_task()], span=span, frame=SMALL)
    other = strip_of([a_task(name="weed", days=60)], span=span, frame=SMALL)
    assert one.bars[0].x == other.bars[0].x


def test_small_strips_carry_no_words():
    strip = strip_of([a_task()], [(Kind.FIRST_RAIN, date(2026, 11, 12))], frame=SMALL)
    assert strip.bars[0].label is None and strip.facts[0].label is None


def test_description_says_it_all_in_words():
    strip = strip_of([a_task(done_on=TODAY)], [(Kind.GERMINATED, date(2026, 11, 21))])
    assert strip.description == (
        "Reported: germinated Sat 21 Nov. Tasks: thin 1 opens Sat 5 Dec, due Tue 8 Dec, "
        "closes Sat 12 Dec; done Sun 6 Dec."
    )


def test_an_empty_season_says_so():
    assert strip_of().description == "Nothing reported yet. No task has a date yet."


def test_notices_of_one_day_stand_over_each_other():
    day = date(2026, 12, 5)
    strip = strip_of(notices=[(NoticeState.DELIVERED, day), (NoticeState.PLANNED, day)])
    assert [mark.shape for mark in strip.notices] == ["delivered", "planned"]
    assert strip.notices[0].y < strip.notices[1].y


def test_a_lone_last_window_long_after_the_others_is_told_not_drawn():
    later = a_task(name="rotate", opens=date(2027, 9, 1))
    strip = strip_of([a_task(), later])
    assert [bar.title.split(":")[0] for bar in strip.bars] == ["thin 1"]
    assert strip.later == ("rotate 1 opens Wed 1 Sep, due Sat 4 Sep, closes Wed 8 Sep",)
    assert season_span([a_task(), later], [], TODAY) == season_span([a_task()], [], TODAY)


def test_a_last_window_that_takes_little_room_is_drawn():
    season = [a_task(days=240), a_task(name="weed", opens=date(2027, 9, 10))]
    assert len(strip_of(season).bars) == 2


def test_a_single_window_is_drawn_however_late():
    assert len(strip_of([a_task(opens=date(2027, 9, 1))]).bars) == 1
