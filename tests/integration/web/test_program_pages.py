"""The lead makes and ends keys and calls; nobody else does."""

import re

import pytest
from interface_cast import Program
from page_cast import AUDITOR, COORDINATOR
from sqlalchemy import select

from reminder_service.records import tables as t
from reminder_service.records.open_tables import hooks, program_keys

pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

KEY = {"name": "Stock office", "scope": ["plots:read", "rain:write"], "ward": "1", "days": "90"}


def test_an_empty_page_says_what_to_do_first(lead):
    page = lead.see("/programs")
    assert "No program has a key yet" in page and "No program is told anything yet" in page


def test_a_key_made_on_the_page_is_shown_once_and_opens_what_was_ticked(app, lead):
    made = lead.send("/programs", "/programs/keys", **KEY)
    key = re.search(r"<code>(field_[\w-]{43})</code>", made.text)[1]
    assert made.headers["Cache-Control"] == "no-store"
    assert key not in lead.see("/programs") and "plots:read, rain:write" in lead.see("/programs")
    program = Program(app.test_client(), key)
    assert {each["ward_id"] for each in program.every("/plots", 50)} == {1}
    assert program.get("/farmers").status_code == 403


@pytest.mark.parametrize("left_out", ["name", "scope", "ward"])
def test_a_form_that_is_not_filled_in_makes_no_key(lead, cast, left_out):
    form = {name: value for name, value in KEY.items() if name != left_out}
    assert "No key was made" in lead.send("/programs", "/programs/keys", **form).text
    with cast.connect() as c:
        assert c.execute(select(program_keys)).all() == []


def test_who_is_told_is_set_up_and_ended_on_the_page(lead, cast):
    form = {"url": "https://stock.example/told", "event": "report.kept", "all_wards": "yes"}
    made = lead.send("/programs", "/programs/told", **form)
    secret = re.search(r"<code>(whsec_[\w+/=]+)</code>", made.text)[1]
    with cast.connect() as c:
        row = c.execute(select(hooks)).one()
        lines = c.execute(select(t.audit.c.what).where(t.audit.c.subject == f"hook {row.id}"))
        assert lines.scalars().all() == ["make hook"]
    assert secret not in str(row)
    lead.send("/programs", "/programs/told/end", id=str(row.id))
    assert "ended by ruva" in lead.see("/programs")


def test_an_address_without_encryption_is_refused(lead):
    form = {"url": "http://stock.example/told", "event": "report.kept", "all_wards": "yes"}
    assert "allowed is https://" in lead.send("/programs", "/programs/told", **form).text


@pytest.mark.parametrize("login", [COORDINATOR, AUDITOR])
def test_nobody_else_sees_the_page(visit, login):
    visitor = visit(login)
    assert visitor.client.get("/programs").status_code == 403
    assert "/programs" not in visitor.see("/")
