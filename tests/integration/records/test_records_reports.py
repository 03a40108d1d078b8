"""Reports: added only, corrected by later ones, taken back by whoever sent them."""

from datetime import date, timedelta

import pytest
from records_cast import NOW
from sqlalchemy import select
from sqlalchemy.exc import IntegrityError

from reminder_service.kinds import Kind
from reminder_service.records import inbound, reports
from reminder_service.records import tables as t
from reminder_service.records.errors import AlreadyThere
from reminder_service.rules.facts import plot_facts

RAIN_ON = date(2026, 11, 12)


def report(c, season, kind=Kind.FIRST_RAIN, on=RAIN_ON, **fields) -> int:
    known = {"season_id": season.season_id, "kind": kind, "on": on, "sent_at": NOW}
    return reports.add_report(c, **known | fields)


def a_text(c, season, message_id: str = "m1", sent_at=NOW) -> int:
    inbound_id, _ = inbound.keep_inbound(
        c,
        gateway="console",
        message_id=message_id,
        sender=season.phones[0].number,
        body=b"rain",
        sent_at=sent_at,
        received_at=sent_at,
    )
    inbound.note_reading(c, inbound_id, season.phones[0].id, {})
    return inbound_id


def last(c, season, since=NOW):
    return [(kept.id, kept.kind) for kept in reports.last_from_phone(c, season.phones[0].id, since)]


def test_a_report_comes_back_as_it_was_made(c, season):
    id_ = report(c, season, Kind.DONE, date(2026, 12, 5), task="weed", number=2)
    kept = reports.reports_of_season(c, season.season_id)
    assert [(r.ref, r.kind, r.on, r.sent_at) for r in kept] == [
        (str(id_), Kind.DONE, date(2026, 12, 5), NOW)
    ]
    assert (kept[0].task, kept[0].number, kept[0].replaces) == ("weed", 2, None)


def test_detail_is_kept_and_its_absence_is_no_value(c, season):
    report(c, season, Kind.COUNT, RAIN_ON, detail={"counts": [1, 3, 2]})
    report(c, season)
    kept = select(t.reports.c.detail).order_by(t.reports.c.id)
    assert c.execute(kept).scalars().all() == [{"counts": [1, 3, 2]}, None]
    missing = select(t.reports.c.id).where(t.reports.c.detail.is_(None))
    assert len(c.execute(missing).all()) == 1


def test_a_correction_stands_in_place_of_what_it_replaces(c, season):
    first = report(c, season)
    report(c, season, on=date(2026, 11, 14), replaces_id=first)
    kept = reports.reports_of_season(c, season.season_id)
    assert len(kept) == 2
    assert plot_facts(kept, {}).dates == {Kind.FIRST_RAIN: date(2026, 11, 14)}


def test_a_report_is_corrected_only_once(c, season):
    first = report(c, season)
    report(c, season, replaces_id=first)
    with pytest.raises(AlreadyThere, match="correction of report"):
        report(c, season, replaces_id=first)


def test_a_report_without_a_day_must_withdraw_another(engine, c, season):
    with pytest.raises(IntegrityError), c.begin_nested():
        report(c, season, on=None)


def test_the_last_text_that_reported_is_the_one_to_take_back(c, season):
    report(c, season, inbound_id=a_text(c, season, "m1"))
    later = a_text(c, season, "m2")
    wanted = [
        (report(c, season, kind, inbound_id=later), kind)
        for kind in (Kind.PLANTED, Kind.GERMINATED)
    ]
    a_text(c, season, "a question")
    assert last(c, season) == wanted


@pytest.mark.parametrize("way", ["withdrawn", "corrected"])
def test_a_report_replaced_is_not_taken_back_again(c, season, way):
    first = report(c, season, inbound_id=a_text(c, season, "m1"))
    on = None if way == "withdrawn" else date(2026, 11, 14)
    report(c, season, on=on, replaces_id=first)
    assert last(c, season) == []


def test_an_old_text_is_not_taken_back(c, season):
    report(c, season, inbound_id=a_text(c, season))
    assert last(c, season, since=NOW + timedelta(seconds=1)) == []


def test_a_persons_report_is_not_the_phones_to_take_back(c, season):
    report(c, season)
    assert last(c, season) == []
