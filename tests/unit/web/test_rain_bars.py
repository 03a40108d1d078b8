"""The picture of a ward's rain."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.onset import FalseStart, Onset
from reminder_service.agronomy.rain_book import DayRain, Flag, Observer, gaps
from reminder_service.agronomy.rain_days import Status
from reminder_service.web.rain_bars import WIDTH, rain_bars

FIRST = date(2026, 10, 1)
NONE = Onset(None, Status.NONE, (), (), None)


def day_of(mm: float, *flags: Flag) -> DayRain:
    return DayRain(mm, Observer.FARMER, (1,), frozenset(flags))


def bars_of(rain, found=NONE, today=date(2026, 12, 6), **given_):
    last = today - timedelta(days=1)
    return rain_bars(FIRST, last, rain, gaps(rain, FIRST, last), found, today, **given_)


def looks(bars) -> list[str]:
    return [bar.look for bar in bars.bars]


def test_a_day_without_rain_has_no_bar_and_an_unknown_one_is_hatched():
    rain = {FIRST + timedelta(days=n): day_of(0.0) for n in range(66) if n != 10}
    bars = bars_of(rain)
    assert looks(bars) == ["unknown"]
    assert bars.bars[0].title == "Sun 11 Oct: unknown"
    assert "1 day is unknown" in bars.description


def test_rain_trace_and_disagreement_are_told_apart():
    rain = {FIRST + timedelta(days=n): day_of(0.0) for n in range(66)}
    rain |= {
        date(2026, 11, 1): day_of(12.0),
        date(2026, 11, 2): day_of(0.0, Flag.TRACE),
        date(2026, 11, 3): day_of(30.0, Flag.DISAGREES),
    }
    bars = bars_of(rain)
    assert looks(bars) == ["rain", "trace", "apart"]
    assert bars.description.startswith("Thu 1 Oct to Sat 5 Dec: 42.0 mm on 2 days")


@pytest.mark.parametrize(
    "status, shape",
    [(Status.CONFIRMED, "onset"), (Status.PROVISIONAL, "provisional")],
    ids=["sure", "not yet sure"],
)
def test_onset_false_starts_and_declared_days_are_marked_with_words(status, shape):
    start = FalseStart(date(2026, 10, 15), date(2026, 10, 18), 9)
    found = Onset(date(2026, 11, 12), status, (start,), (), None)
    bars = bars_of({}, found, declared_on=date(2026, 11, 13), disbelieved=[date(2026, 12, 1)])
    assert [mark.shape for mark in bars.marks] == ["false-start", shape, "declared", "disbelieved"]
    assert "false start Thu 15 Oct, then 9 dry days" in bars.description
    assert f"onset Thu 12 Nov, {status.value}" in bars.description


rainy = st.dictionaries(
    st.dates(FIRST, date(2027, 6, 1)), st.floats(0, 900).map(day_of), max_size=60
)


@given(rainy, st.dates(FIRST, date(2027, 9, 30)), st.dates(FIRST, date(2027, 9, 30)))
def test_every_shape_lies_inside_the_drawing(rain, today, declared_on):
    start = FalseStart(FIRST, FIRST, 9)
    found = Onset(min(today, declared_on), Status.PROVISIONAL, (start,), (), None)
    known = {on: day for on, day in rain.items() if on < today}
    declared = min(declared_on, today)
    bars = bars_of(known, found, today, declared_on=declared)
    for bar in bars.bars:
        assert 0 <= bar.x and bar.x + bar.width <= WIDTH + 1
        assert 0 <= bar.y and bar.y + bar.height <= bars.base + 0.2
    for mark in bars.marks:
        assert 0 <= mark.x <= WIDTH and 0 <= mark.y < bars.base
    assert all(0 <= line.y <= bars.base for line in bars.scale)
