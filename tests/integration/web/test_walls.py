"""Who may see and change what, for every address there is."""

import io

import pytest
from page_cast import AUDITOR, COORDINATOR, token_in
from pypdf import PdfReader
from sqlalchemy import select

from reminder_service.records import tables

# Nothing here depends on the engine: one is enough, and fast.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

OPEN = {
    "carrier.call",
    "login.page",
    "login.enter",
    "login.code",
    "login.enter_code",
    "health",
    "ready",
    "metrics.page",
    "static",
}
"""Endpoints that need no login."""

KEYED = {"interface", "feeds"}
"""Blueprints whose every address asks for a key: see the tests of the interface and of feeds."""

ELSEWHERE = {"ward_id": 2, "season_id": 3, "notice_id": 3, "text_id": 3}
"""Rows of Setiwe, which is not the coordinator's ward."""

OF_NO_WARD = {
    "login.leave",
    "routes.test",
    "lists.bring",
    "practice.new_number",
    "programs.make_key",
    "programs.end_key",
    "programs.make_hook",
    "programs.end_hook",
    "factor.begin",
    "factor.confirm",
    "factor.end",
}
"""Endpoints that touch no ward's rows."""

IN_THE_FORM = {"queue.act", "queue.withdraw", "practice.send"}
"""Endpoints that name their rows in the form."""


def addresses(app, method: str, **ids):
    """Every endpoint of a method with an address, its numbers filled in."""
    with app.test_request_context():
        for rule in app.url_map.iter_rules():
            if rule.endpoint.partition(".")[0] in KEYED:
                continue
            if method in rule.methods and rule.endpoint not in OPEN:
                given = {"import_id": 3, "broadcast_id": 3, **ids}
                wanted = {name: given.get(name, "scripted") for name in rule.arguments}
                yield rule.endpoint, app.url_for(rule.endpoint, **wanted)


def words_of(answer) -> str:
    """What an answer says, printed sheets too."""
    if answer.mimetype != "application/pdf":
        return answer.text
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.data)).pages)


def states(engine) -> dict[int, str]:
    with engine.connect() as c:
        return {id_: state for id_, state in c.execute(select(tables.notices.c["id", "state"]))}


def test_every_page_asks_a_stranger_to_log_in(app):
    client = app.test_client()
    seen = 0
    for endpoint, address in addresses(app, "GET", ward_id=1, season_id=1, notice_id=1, text_id=1):
        answer = client.get(address)
        assert answer.status_code == 302, endpoint
        assert answer.location.startswith("/login?next="), endpoint
        seen += 1
    assert seen >= 7


def test_every_form_of_a_stranger_is_refused(app):
    client = app.test_client()
    token = token_in(client.get("/login").text)
    for endpoint, address in addresses(app, "POST", ward_id=1, season_id=1, notice_id=1, text_id=1):
        answer = client.post(address, data={"csrf_token": token})
        assert answer.status_code == 302 and "/login" in answer.location, endpoint


def test_every_form_without_its_token_is_refused(app, coordinator, cast):
    before = states(cast)
    for endpoint, address in addresses(app, "POST", ward_id=1, season_id=1, notice_id=1, text_id=1):
        answer = coordinator.client.post(address, data={"id": "1", "action": "hold"})
        assert answer.status_code == 400, endpoint
        assert "This form has grown too old" in answer.text, endpoint
    assert states(cast) == before


def test_a_coordinator_finds_nothing_of_another_ward(app, coordinator):
    for endpoint, address in addresses(app, "GET", **ELSEWHERE):
        answer = coordinator.client.get(address)
        if address.rstrip("/").count("/") > 1:
            assert answer.status_code == 404, endpoint
        text = words_of(answer)
        assert "Setiwe" not in text and "Farmer 003" not in text, endpoint


def test_a_coordinator_changes_nothing_of_another_ward(app, coordinator, cast):
    before = states(cast)
    token = token_in(coordinator.see("/"))
    for endpoint, address in addresses(app, "POST", **ELSEWHERE):
        if endpoint in OF_NO_WARD:
            continue
        form = {"id": ["1", "3"], "action": "hold", "phone": "3", "body": "rain"}
        form |= {"kind": "germinated", "on": "2026-11-21", "ward": "2", "token": "t"}
        answer = coordinator.client.post(address, data={"csrf_token": token, **form})
        assert answer.status_code == 404, endpoint
    assert states(cast) == before


@pytest.mark.parametrize("address", ["/queue?ward=2", "/practice?phone=3", "/practice?name=003"])
def test_asking_in_the_address_opens_no_wall(coordinator, address):
    answer = coordinator.client.get(address)
    assert "Farmer 003" not in answer.text and "+447700900003" not in answer.text


def test_an_auditor_reads_everything(app, visit):
    auditor = visit(AUDITOR)
    assert "Setiwe" in auditor.see("/")
    assert "Farmer 003" in auditor.see("/plots/3")
    assert "Farmer 003" in auditor.see("/practice?phone=3")


def test_an_auditor_changes_nothing(app, visit, cast):
    auditor = visit(AUDITOR)
    before = states(cast)
    token = token_in(auditor.see("/"))
    for endpoint, address in addresses(
        app, "POST", ward_id=1, season_id=1, notice_id=11, text_id=1
    ):
        if endpoint in OF_NO_WARD:
            continue
        form = {"csrf_token": token, "id": "1", "action": "hold", "phone": "1", "body": "rain"}
        answer = auditor.client.post(address, data=form)
        assert answer.status_code == 403, endpoint
        assert "not change it" in answer.text, endpoint
    assert states(cast) == before


def test_an_auditor_is_not_asked_whether_to_send_again(visit):
    assert visit(AUDITOR).client.get("/queue/11/again").status_code == 403


@pytest.mark.parametrize("page", ["/queue", "/queue?state=any", "/plots/1", "/practice?phone=1"])
def test_an_auditor_is_offered_nothing_to_change(visit, page):
    text = visit(AUDITOR).see(page)
    assert text.count('method="post"') - text.count('action="/queue/act"') == 1  # log out
    assert "<button name=" not in text and "Send again" not in text


def test_a_coordinator_without_wards_is_told_what_to_do(visit, cast):
    with cast.begin() as c:
        c.execute(tables.person_wards.delete())
    assert "Ask your programme lead" in visit(COORDINATOR).see("/")
