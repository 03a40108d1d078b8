"""Letting in who joined by text, and making lead farmers, on the pages."""

import pytest
from page_cast import AUDITOR, NOW, OLMARA, SETIWE, a_plot, an_inbound
from sqlalchemy import insert, select

from reminder_service.records import tables as t

# Nothing here depends on the engine: the use cases are tested on both.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)


@pytest.fixture
def newcomers(cast):
    """Season 40 waits in Olmara, season 41 in Setiwe."""
    with cast.begin() as c:
        for id_, ward_id in ((40, OLMARA), (41, SETIWE)):
            a_plot(c, id_, ward_id, f"Newcomer {id_}")
            an_inbound(c, id_, id_, b"yes")
            c.execute(
                insert(t.consents).values(
                    id=id_,
                    phone_id=id_,
                    given=True,
                    language="en",
                    wording="We keep your name.",
                    inbound_id=id_,
                    at=NOW,
                )
            )
            c.execute(
                insert(t.newcomers).values(
                    farmer_id=id_,
                    phone_id=id_,
                    consent_id=id_,
                    joined_at=NOW,
                    decision="waiting",
                )
            )
    return cast


def decision(engine, farmer_id: int) -> str:
    with engine.connect() as c:
        found = select(t.newcomers.c.decision).where(t.newcomers.c.farmer_id == farmer_id)
        return c.execute(found).scalar_one()


def test_a_ward_lists_who_waits_with_what_was_answered(newcomers, coordinator):
    page = coordinator.see("/wards/1")
    assert "Waiting to join" in page and "Newcomer 40" in page and "+447700900040" in page
    assert "top dressing: mineral" in page and "Newcomer 41" not in page


def test_a_ward_where_nobody_waits_says_nothing_of_it(coordinator):
    assert "Waiting to join" not in coordinator.see("/wards/1")


def test_the_overview_counts_who_waits_in_the_wards_one_may_see(newcomers, coordinator, lead):
    assert "Olmara 1</a>." in coordinator.see("/wards")
    page = lead.see("/wards")
    assert "Olmara 1</a>, " in page and "Setiwe 1</a>." in page


def test_approving_lets_in_and_is_audited(newcomers, coordinator):
    answer = coordinator.send("/wards/1", "/plots/40/approve")
    assert "Newcomer 40 is in" in answer.text and "Waiting to join" not in answer.text
    assert decision(newcomers, 40) == "approved"
    with newcomers.connect() as c:
        noted = c.execute(select(t.audit).where(t.audit.c.subject == "farmer 40")).one()
    assert (noted.who, noted.what) == ("tembi", "let in")


def test_declining_closes_the_season(newcomers, coordinator):
    answer = coordinator.send("/wards/1", "/plots/40/decline")
    assert "not let in" in answer.text
    with newcomers.connect() as c:
        closed = select(t.seasons.c.closed_at).where(t.seasons.c.id == 40)
        assert c.execute(closed).scalar_one() is not None


def test_a_second_decision_changes_nothing(newcomers, coordinator):
    coordinator.send("/wards/1", "/plots/40/approve")
    answer = coordinator.send("/plots/40", "/plots/40/decline")
    assert "somebody has decided this meanwhile" in answer.text
    assert decision(newcomers, 40) == "approved"


def test_whoever_waits_in_another_ward_is_not_found(newcomers, coordinator):
    assert coordinator.send("/wards/1", "/plots/41/approve").status_code == 404
    assert decision(newcomers, 41) == "waiting"


def test_an_auditor_sees_who_waits_and_decides_nothing(newcomers, visit):
    page = visit(AUDITOR).see("/wards/1")
    assert "Newcomer 40" in page and "Approve" not in page


def test_a_farmer_is_made_lead_farmer_and_no_more(coordinator, cast):
    page = coordinator.send("/plots/1", "/plots/1/lead", lead="yes").text
    assert "may now report for every plot of Olmara" in page and "End it" in page
    with cast.connect() as c:
        assert [tuple(row) for row in c.execute(select(t.ward_leads))] == [(1, OLMARA)]
    page = coordinator.send("/plots/1", "/plots/1/lead", lead="no").text
    assert "their own plots only" in page and "Make lead farmer of Olmara" in page
