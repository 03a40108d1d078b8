"""The week bars: what they show, in which order, and that they stay inside the drawing."""

from collections import Counter
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from reminder_service.records.route_views import Fate, Tries
from reminder_service.records.tables import Outcome
from reminder_service.web.week_bars import NARROWEST, WIDTH, Look, week_bars

FIRST = date(2026, 11, 30)


def tries(**fates: int) -> Tries:
    counts = Counter({Fate[name]: count for name, count in fates.items() if count})
    return Tries(Counter({Outcome.TAKEN: counts.total()}), counts)


def week(*days: Tries) -> list[tuple[date, Tries]]:
    return [(FIRST + timedelta(days=number), each) for number, each in enumerate(days)]


COUNTS = st.integers(0, 100_000)
DAYS = st.builds(lambda **fates: tries(**fates), **{fate.name: COUNTS for fate in Fate})


def test_nothing_tried_makes_no_picture():
    assert week_bars(week(tries(), tries())) is None
    assert week_bars([]) is None


def test_parts_follow_each_other_from_good_to_bad():
    day = tries(DELIVERED=5, NO_WORD=1, UNDER_WAY=1, TRIED_AGAIN=4, IN_DOUBT=3, REFUSED=2)
    (bar,) = week_bars(week(day)).days
    assert [part.look for part in bar.parts] == list(Look)
    ends = [round(part.x + part.width, 1) for part in bar.parts]
    assert [part.x for part in bar.parts[1:]] == ends[:-1] and bar.end == ends[-1]


def test_a_day_without_texts_has_no_bar_but_its_name():
    full, empty = week_bars(week(tries(DELIVERED=5), tries())).days
    assert empty.parts == () and empty.end == full.parts[0].x
    assert (empty.label, empty.tried) == ("Tue 1 Dec", 0)


def test_bars_are_as_long_as_their_counts_against_the_longest():
    long, short = week_bars(week(tries(DELIVERED=200), tries(DELIVERED=50))).days
    assert round(long.parts[0].width / short.parts[0].width, 1) == 4


def test_one_failure_among_thousands_is_seen():
    (bar,) = week_bars(week(tries(DELIVERED=50_000, UNDELIVERED=1))).days
    assert bar.parts[-1].look is Look.LOST and bar.parts[-1].width == NARROWEST


def test_the_legend_holds_only_what_occurs():
    assert week_bars(week(tries(DELIVERED=1, REFUSED=1))).looks == (
        (Look.ARRIVED, "delivered"),
        (Look.LOST, "undelivered or refused"),
    )


def test_the_same_is_said_in_words():
    bars = week_bars(week(tries(DELIVERED=3, IN_DOUBT=1), tries()))
    assert bars.description == "Mon 30 Nov: 4 tried, 3 delivered, 1 in doubt. Tue 1 Dec: none."
    assert bars.days[0].parts[0].title == "Mon 30 Nov: 3 texts delivered"


@given(st.lists(DAYS, min_size=1, max_size=7))
def test_no_bar_leaves_the_drawing_or_the_count_beside_it(days):
    bars = week_bars(week(*days))
    if bars is None:
        assert not any(day.tried for day in days)
        return
    for bar, day in zip(bars.days, days, strict=True):
        room = 7 * len(f"{day.tried:,}")
        assert bar.end + 5 + room <= WIDTH
        assert bar.y + 13 <= bars.height
        assert all(part.width >= NARROWEST for part in bar.parts)
