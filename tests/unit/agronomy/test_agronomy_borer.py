"""Stalk borer: the days of the literature, and what a count asks for."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.borer import BorerAnswer, borer_answer, borer_days
from reminder_service.agronomy.errors import OutOfRange

GERMINATED = date(2026, 11, 21)
OPENS, TASSELLED = date(2026, 12, 10), date(2027, 1, 22)
ON = date(2026, 12, 20)


def test_laying_and_hatch_are_those_of_the_literature() -> None:
    days = borer_days(GERMINATED)
    after = [(day - GERMINATED).days for day in (*days.laying, *days.hatch)]
    assert after == [21, 35, 28, 46]  # 3 to 5 weeks; and 7 to 11 days of egg after that


def test_the_trades_thirtieth_day_lies_in_the_hatch() -> None:
    first, last = borer_days(GERMINATED).hatch
    assert first <= GERMINATED + timedelta(days=30) <= last


@pytest.mark.parametrize(
    ("damaged", "said", "answer"),
    [
        pytest.param(12, {}, BorerAnswer.ASK_ADVISER, id="above the threshold"),
        pytest.param(6, {}, BorerAnswer.ASK_ADVISER, id="just above"),
        pytest.param(5, {}, BorerAnswer.FEW, id="exactly the threshold"),
        pytest.param(0, {}, BorerAnswer.FEW, id="none"),
        pytest.param(12, {"opens": ON}, BorerAnswer.ASK_ADVISER, id="on the opening day"),
        pytest.param(
            12, {"opens": ON + timedelta(1)}, BorerAnswer.NOT_YET, id="the day before it opens"
        ),
        pytest.param(12, {"tasselled": ON}, BorerAnswer.TOO_LATE, id="tassels out that day"),
        pytest.param(
            12, {"tasselled": ON + timedelta(1)}, BorerAnswer.ASK_ADVISER, id="tassels tomorrow"
        ),
        pytest.param(12, {"in_stem": True}, BorerAnswer.TOO_LATE, id="holes in stems"),
        pytest.param(0, {"other_pest": True}, BorerAnswer.OTHER_PEST, id="another pest"),
    ],
)
def test_a_count_is_answered(damaged: int, said: dict, answer: BorerAnswer) -> None:
    assert borer_answer(damaged, 5, ON, **said) is answer


@given(
    st.integers(0, 5),
    st.dates(date(2026, 11, 1), date(2027, 4, 1)),
    st.booleans(),
    st.booleans(),
)
def test_no_day_alone_leads_to_a_chemical(
    damaged: int, on: date, in_stem: bool, other_pest: bool
) -> None:
    answer = borer_answer(
        damaged, 5, on, opens=OPENS, tasselled=TASSELLED, in_stem=in_stem, other_pest=other_pest
    )
    assert answer is not BorerAnswer.ASK_ADVISER


@given(st.integers(6, 100), st.dates(date(2026, 11, 1), date(2027, 4, 1)))
def test_a_high_count_leads_to_the_adviser_in_the_window_only(damaged: int, on: date) -> None:
    answer = borer_answer(damaged, 5, on, opens=OPENS, tasselled=TASSELLED)
    assert (answer is BorerAnswer.ASK_ADVISER) == (OPENS <= on < TASSELLED)


@pytest.mark.parametrize(("damaged", "threshold"), [(-1, 5), (101, 5), (5, 101)])
def test_refuses(damaged: int, threshold: int) -> None:
    with pytest.raises(OutOfRange, match="plants of 100"):
        borer_answer(damaged, threshold, ON)
