"""The definitions of the onset, kept as data."""

from dataclasses import replace
from datetime import date

import pytest

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.onset_criteria import criteria, criterion, usual_search_from
from reminder_service.agronomy.sources import sources

FIGURES = ("wet_mm", "within_days", "reject_dry_days", "look_ahead_days", "search_from")
OWN_CHOICE = {"setting", "memory"}


@pytest.mark.parametrize("name", criteria())
def test_every_figure_of_a_definition_has_a_source_that_resolves(name):
    chosen = criterion(name)
    figures = {figure for figure in FIGURES if getattr(chosen, figure) is not None}
    assert chosen.sources.keys() == figures | {"wet_day_mm"}
    assert set(chosen.sources.values()) <= sources().keys()


def test_at_least_four_definitions_rest_on_a_published_figure():
    published = [n for n, c in criteria().items() if not set(c.sources.values()) <= OWN_CHOICE]
    assert len(published) >= 4


@pytest.mark.parametrize(
    ("name", "figures"),
    [
        ("programme", (20, 3, 8, 30, 1.0)),
        ("zimbabwe-manual", (20, 3, 10, 20, 1.0)),
        ("moorings", (20, 3, 10, 30, 1.0)),
        ("arex", (25, 7, None, None, 1.0)),
        ("met", (40, 15, None, None, 1.0)),
        ("depth", (40, 4, None, None, 1.0)),
    ],
)
def test_definitions_carry_the_printed_figures(name, figures):
    c = criterion(name)
    got = (c.wet_mm, c.within_days, c.reject_dry_days, c.look_ahead_days, c.wet_day_mm)
    assert got == figures


def test_an_unknown_name_is_refused_with_the_known_ones():
    with pytest.raises(OutOfRange, match=r"tuesday.*programme.*sivakumar"):
        criterion("tuesday")


@pytest.mark.parametrize(
    ("name", "day"),
    [("zimbabwe-manual", date(2026, 11, 10)), ("sivakumar", date(2026, 5, 1)), ("arex", None)],
)
def test_the_usual_search_begins_where_the_definition_says(name, day):
    assert usual_search_from(criterion(name), 2026) == day


@pytest.mark.parametrize(
    ("change", "field"),
    [
        pytest.param({"wet_mm": 0}, "wet_mm", id="no rain"),
        pytest.param({"wet_mm": float("nan")}, "wet_mm", id="no number"),
        pytest.param({"within_days": 0}, "within_days", id="no days"),
        pytest.param({"wet_day_mm": 0.0}, "wet_day_mm", id="every day wet"),
        pytest.param({"look_ahead_days": None}, "look_ahead_days", id="a run and no look-ahead"),
        pytest.param({"reject_dry_days": None}, "look_ahead_days", id="a look-ahead and no run"),
        pytest.param({"reject_dry_days": 31}, "reject_dry_days", id="a run too long to fit"),
    ],
)
def test_figures_that_can_test_nothing_are_refused(change, field):
    with pytest.raises(OutOfRange, match=field):
        replace(criterion("programme"), **change)
