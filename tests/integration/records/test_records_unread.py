"""Texts that wait for a person, in the records."""

from datetime import timedelta

import pytest
from records_cast import HOUR, NOW, a_person, a_season, phone_number
from sqlalchemy import insert, select

from reminder_service.kinds import Kind
from reminder_service.records import farmers, inbound, leads, reports, unread
from reminder_service.records import tables as t
from reminder_service.records.types import Settlement, Waits


def kept(c, body: bytes = b"gemr", sender: str = "x", phone_id: int | None = None, at=NOW) -> int:
    """A text that waits."""
    text_id = inbound.keep_inbound(
        c,
        gateway="console",
        message_id=f"{sender}-{c.execute(select(t.inbound.c.id)).scalars().all()}",
        sender=sender,
        body=body,
        sent_at=at,
        received_at=at,
    )[0]
    inbound.note_reading(c, text_id, phone_id, {"unread": True})
    unread.keep_waiting(c, text_id, Waits.UNREAD)
    return text_id


def elsewhere(c, last: int, name: str = "Setiwe"):
    """A farmer of another ward on a phone; the ward's id and the season's."""
    known = {ward.name: ward.id for ward in farmers.wards(c)}
    ward_id = known.get(name) or farmers.add_ward(c, name, "Africa/Nairobi")
    farmer_id = farmers.add_farmer(
        c, ward_id=ward_id, name="Other", language="sw", numbers=[phone_number(last)], at=NOW
    )
    plot_id = farmers.add_plot(
        c, farmer_id=farmer_id, ward_id=ward_id, number="Q1", stations=9, stations_per_ha=9
    )
    season_id = farmers.open_season(
        c, plot_id=plot_id, label="2026/27", starts_on=NOW.date(), rulebook="r", choices={}
    )
    return ward_id, season_id


def ids(texts) -> list[int]:
    return [text.id for text in texts]


def test_a_text_waits_once_and_is_settled_once(c, season):
    text_id = kept(c, phone_id=season.phones[0].id)
    unread.keep_waiting(c, text_id, Waits.ASKED_BACK)
    assert unread.waiting_text(c, text_id, None).why is Waits.UNREAD
    person_id = a_person(c)
    assert unread.settle_text(c, text_id, Settlement.SET_ASIDE, person_id, NOW)
    assert not unread.settle_text(c, text_id, Settlement.REPORTED, person_id, NOW)
    settled = unread.waiting_text(c, text_id, None)
    assert (settled.settled_as, settled.person) == (Settlement.SET_ASIDE, "tembi")
    assert unread.waiting_page(c, None, None, 9) == []
    assert ids(unread.settled_texts(c, None, NOW, 9)) == [text_id]
    assert unread.reopen_text(c, text_id) and not unread.reopen_text(c, text_id)


def test_the_page_goes_on_below_its_last_text(c, season):
    texts = [kept(c, phone_id=season.phones[0].id) for _ in range(5)]
    first = unread.waiting_page(c, None, None, 2)
    rest = unread.waiting_page(c, None, first[-1].id, 9)
    assert ids(first) + ids(rest) == texts[::-1]


def test_a_coordinator_sees_texts_of_phones_that_serve_their_ward(c, season):
    ward_id, _ = elsewhere(c, 1)  # on the phone of the farmer of Olmara
    apart, _ = elsewhere(c, 2, "Birikao")
    shared = kept(c, phone_id=season.phones[0].id)
    nobodys = kept(c, sender="INFO")
    assert ids(unread.waiting_page(c, {season.ward_id}, None, 9)) == [shared]
    assert ids(unread.waiting_page(c, {ward_id}, None, 9)) == [shared]
    assert unread.waiting_page(c, {apart}, None, 9) == []
    assert unread.waiting_text(c, shared, {apart}) is None
    assert ids(unread.waiting_page(c, None, None, 9)) == [nobodys, shared]


def test_plots_of_other_wards_are_not_offered(c, season):
    ward_id, season_id = elsewhere(c, 1)
    phone_id = season.phones[0].id
    users = unread.users_of_phones(c, [phone_id])
    assert {user.ward_name for user in users} == {"Olmara", "Setiwe"}

    def offered(scope):
        return [plot.season_id for plot in unread.plots_of_users(c, users, scope)[phone_id]]

    assert offered({season.ward_id}) == [season.season_id]
    assert offered({ward_id}) == [season_id]
    assert sorted(offered(None)) == sorted([season.season_id, season_id])


def test_a_lead_farmers_phone_may_report_for_the_ward_inside_the_walls(c, season):
    a_season(c, 7)
    leads.add_lead(c, season.farmer_id, season.ward_id)
    users = unread.users_of_phones(c, [season.phones[0].id])
    plots = unread.plots_of_users(c, users, {season.ward_id})
    assert [plot.plot_number for plot in plots[season.phones[0].id]] == ["P1", "P7"]
    assert unread.plots_of_users(c, users, {99}) == {season.phones[0].id: []}


def test_only_what_a_person_settled_waits_again(c, season):
    text_id = kept(c, phone_id=season.phones[0].id)
    unread.settle_text(c, text_id, Settlement.ANSWERED, None, NOW)
    assert not unread.reopen_text(c, text_id)
    assert unread.settled_texts(c, None, NOW, 9) == []


def test_a_text_waits_again_with_its_report(c, season):
    text_id = kept(c, phone_id=season.phones[0].id)
    unread.settle_text(c, text_id, Settlement.REPORTED, a_person(c), NOW)
    report_id = reports.add_report(
        c,
        season_id=season.season_id,
        kind=Kind.PLANTED,
        on=NOW.date(),
        sent_at=NOW,
        inbound_id=text_id,
    )
    assert [made.report.id for made in unread.reports_of_texts(c, [text_id])] == [report_id]
    assert unread.reopen_text_of(c, report_id)
    assert ids(unread.waiting_page(c, None, None, 9)) == [text_id]


def test_a_report_without_a_text_lets_nothing_wait(c, season):
    report_id = reports.add_report(
        c, season_id=season.season_id, kind=Kind.PLANTED, on=NOW.date(), sent_at=NOW
    )
    assert not unread.reopen_text_of(c, report_id)


@pytest.mark.parametrize(
    "age, found", [(1, True), (25, False)], ids=["an hour ago", "longer than a day ago"]
)
def test_questions_are_found_for_a_while(c, season, age, found):
    phone_id = season.phones[0].id
    text_id = inbound.keep_inbound(
        c,
        gateway="console",
        message_id="asked",
        sender="x",
        body=b"RAIN 12",
        sent_at=NOW - age * HOUR,
        received_at=NOW,
    )[0]
    inbound.note_reading(c, text_id, phone_id, {"ask": []})
    unread.keep_waiting(c, text_id, Waits.ASKED_BACK)
    asked = unread.asked_back_of(c, phone_id, text_id + 1, since=NOW - timedelta(days=1))
    assert ids(asked) == ([text_id] if found else [])
    assert unread.asked_back_of(c, phone_id, text_id, since=NOW - timedelta(days=9)) == []


def test_no_takes_back_the_last_report_not_the_one_of_the_last_text(c, season):
    """A person may read an older text later than the farmer wrote the next one."""
    phone_id = season.phones[0].id
    older, newer = kept(c, phone_id=phone_id, at=NOW - 48 * HOUR), kept(c, phone_id=phone_id)
    made = {"season_id": season.season_id, "on": NOW.date()}
    rows = [
        made | {"kind": "planted", "inbound_id": newer, "sent_at": NOW},
        made | {"kind": "germinated", "inbound_id": older, "sent_at": NOW + HOUR},
    ]
    c.execute(insert(t.reports), rows)
    last = reports.last_from_phone(c, phone_id, since=NOW - HOUR)
    assert [report.kind for report in last] == [Kind.GERMINATED]
