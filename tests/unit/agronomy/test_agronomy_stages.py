"""Days to tasselling and maturity against their sources."""

from collections.abc import Callable

import pytest

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.stages import (
    TASSEL_SHARE,
    days_tassel_to_maturity,
    days_to_maturity,
    days_to_tasselling,
)


@pytest.mark.parametrize(
    ("maturity", "tassel", "after", "total"),
    [("short", 65, 67, 132), ("medium", 69, 71, 140), ("long", 74, 76, 150)],
)
def test_days_of_a_class(maturity: str, tassel: int, after: int, total: int) -> None:
    assert days_to_tasselling(maturity) == tassel
    assert days_tassel_to_maturity(maturity) == after
    assert days_to_maturity(maturity) == total


def test_share_gives_back_the_tasselling_day_of_its_source() -> None:
    assert TASSEL_SHARE == pytest.approx(0.491, abs=0.0005)
    assert 112 * TASSEL_SHARE == pytest.approx(55)


def test_flowering_agrees_with_a_second_crop_calendar() -> None:
    # The maize file of a crop water model: flowering on day 66 of 132, a few days after tassels.
    assert 0 <= 66 - days_to_tasselling("short") <= 4


@pytest.mark.parametrize(
    "days",
    [days_to_maturity, days_to_tasselling, days_tassel_to_maturity],
    ids=lambda f: f.__name__,
)
def test_refuses_an_unknown_class(days: Callable[[str], int]) -> None:
    with pytest.raises(OutOfRange, match="one of short, medium, long"):
        days("early")
