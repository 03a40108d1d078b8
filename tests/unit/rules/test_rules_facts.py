"""What a season's reports add up to."""

from datetime import date, timedelta

import pytest
from rules_cast import utc

from reminder_service.kinds import Kind
from reminder_service.rules.facts import PlotFacts, Report, plot_facts, standing_reports

SENT_AT = utc(2026, 11, 25, 9)
ON = date(2026, 11, 21)


def report(
    ref: str, on: date | None = ON, kind: Kind = Kind.GERMINATED, hours: int = 0, **more: object
) -> Report:
    return Report(ref, kind, on, SENT_AT + timedelta(hours=hours), **more)  # type: ignore[arg-type]


def test_report_gives_its_fact() -> None:
    assert plot_facts([report("a")], {"tool": "hoe"}) == PlotFacts(
        {Kind.GERMINATED: ON}, {}, {"tool": "hoe"}, {}
    )


def test_report_sent_last_counts() -> None:
    reports = [report("b", date(2026, 11, 22), hours=1), report("a")]
    assert plot_facts(reports, {}).dates[Kind.GERMINATED] == date(2026, 11, 22)


def test_of_two_sent_at_once_the_later_name_counts() -> None:
    reports = [report("b", date(2026, 11, 22)), report("a")]
    assert plot_facts(reports, {}).dates[Kind.GERMINATED] == date(2026, 11, 22)


def test_correction_replaces_what_it_corrects() -> None:
    reports = [report("a", hours=5), report("b", date(2026, 11, 20), replaces="a")]
    assert [each.ref for each in standing_reports(reports)] == ["b"]


def test_withdrawal_leaves_nothing() -> None:
    reports = [report("a"), report("b", None, replaces="a", hours=1)]
    assert plot_facts(reports, {}).dates == {}


def test_withdrawal_of_a_correction_does_not_bring_the_first_back() -> None:
    reports = [
        report("a"),
        report("b", date(2026, 11, 20), replaces="a"),
        report("c", None, replaces="b"),
    ]
    assert plot_facts(reports, {}).dates == {}


@pytest.mark.parametrize(("number", "key"), [(None, ("thin", 1)), (2, ("thin", 2))])
def test_done_belongs_to_its_round(number: int | None, key: tuple[str, int]) -> None:
    done = report("a", kind=Kind.DONE, task="thin", number=number)
    assert plot_facts([done], {}).done == {key: ON}


def test_rain_amount_is_no_dated_fact() -> None:
    assert plot_facts([report("a", kind=Kind.RAIN)], {}) == PlotFacts({}, {}, {}, {})


@pytest.mark.parametrize("kind", [Kind.COUNT, Kind.BORER_COUNT])
def test_last_day_counted_is_kept(kind: Kind) -> None:
    reports = [report("a", date(2026, 12, 3), kind=kind), report("b", ON, kind=kind, hours=1)]
    assert plot_facts(reports, {}).counted == {kind: date(2026, 12, 3)}


LOST = report("lost", date(2026, 11, 24), Kind.LOST)


@pytest.mark.parametrize(
    ("later", "lost_on"),
    [
        ([], date(2026, 11, 24)),
        ([report("x", date(2026, 11, 20), Kind.GERMINATED, 1)], date(2026, 11, 24)),
        ([report("x", date(2026, 11, 30), Kind.GERMINATED, 1)], None),
        ([report("x", date(2026, 11, 30), Kind.COUNT, 1)], None),
        ([report("x", date(2026, 11, 30), Kind.DONE, 1, task="weed")], date(2026, 11, 24)),
        ([report("x", date(2026, 11, 24), Kind.SURVIVED, 1)], None),
        ([report("x", date(2026, 11, 22), Kind.REPLANTED, 1)], None),
        ([report("x", date(2026, 11, 22), Kind.REPLANTED, -1)], date(2026, 11, 24)),
        ([report("x", None, Kind.LOST, 1, replaces="lost")], None),
    ],
    ids=[
        "nothing more",
        "germination before it",
        "germination after it",
        "a count after it",
        "work after it",
        "survived after all",
        "replanted, told later",
        "replanted before it",
        "taken back",
    ],
)
def test_a_stand_is_lost_until_a_later_word_says_otherwise(
    later: list[Report], lost_on: date | None
) -> None:
    assert plot_facts([*later, LOST], {}).lost_on == lost_on
