"""The register's page: bringing a list, its fates, letting it in, and taking tables out."""

import io

import pytest
from page_cast import AUDITOR, token_in
from sqlalchemy import select

from reminder_service.records import tables as t
from reminder_service.records.list_tables import imports
from reminder_service.web import list_pages
from reminder_service.work.lists import by_hand, steps

pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

HEAD = "Ward;Farmer name;Phone;Plot;Stations\n"
GOOD = HEAD + "Olmara;Nalo Teme;+447700900501;N1;5600\nOlmara;Farmer 001;+447700900001;P001;220\n"
FAULTY = GOOD + "Setiwe;Juma Keto;+447700900502;N2;900\nOlmara;=1+1;x;N3;900\n"
ALL = {f"column-{at}": field for at, field in enumerate(("ward", "farmer", "phone", "plot"))} | {
    "column-4": "stations",
    "language": "en",
}


def brought(visitor, text: str | bytes = GOOD, name: str = "north.csv"):
    data = text.encode() if isinstance(text, str) else text
    token = token_in(visitor.see("/register"))
    form = {"csrf_token": token, "list": (io.BytesIO(data), name)}
    return visitor.client.post("/register", data=form, follow_redirects=True)


def judged(visitor, text: str = GOOD) -> str:
    """Bring a list and settle its columns; answers its address."""
    address = brought(visitor, text).request.path
    visitor.send(address, f"{address}/columns", **ALL)
    return address


def names(cast) -> set[str]:
    with cast.connect() as c:
        return set(c.execute(select(t.farmers.c.name)).scalars())


def test_a_list_is_brought_shown_and_let_in(coordinator, cast):
    answer = brought(coordinator)
    address = answer.request.path
    assert "What do the columns hold?" in answer.text
    assert '<option value="farmer" selected>' in answer.text
    shown = coordinator.send(address, f"{address}/columns", **ALL).text
    assert "Let 1 new farmer in" in shown and "known already, nothing changes" in shown
    assert "Nalo Teme" not in names(cast)
    done = coordinator.send(
        address, f"{address}/in", rows="whole", agreed="yes", asked_by="Tembi Odala"
    ).text
    assert "The list is in." in done and "Tembi Odala asked the farmers" in done
    assert "Nalo Teme" in names(cast)


def test_faulty_rows_are_named_and_come_back_as_a_file(coordinator, cast):
    address = judged(coordinator, FAULTY)
    shown = coordinator.see(f"{address}?show=fault")
    assert "no ward of yours is called &#34;Setiwe&#34;" in shown
    assert "Nalo Teme" not in shown
    coordinator.send(address, f"{address}/in", rows="good", agreed="yes", asked_by="Tembi")
    file = coordinator.client.get(f"{address}/faulty.csv")
    assert file.headers["Content-Disposition"].startswith("attachment;")
    assert file.text.count("\n") == 3 and "'=1+1" in file.text
    assert "Juma Keto" not in names(cast) and "Nalo Teme" in names(cast)


def test_nothing_goes_in_without_the_tick_or_the_name(coordinator, cast):
    address = judged(coordinator)
    for form in ({"asked_by": "Tembi"}, {"agreed": "yes", "asked_by": " "}):
        answer = coordinator.send(address, f"{address}/in", rows="whole", **form)
        assert "Nothing went in: nobody says that the new farmers agreed" in answer.text
    assert "Nalo Teme" not in names(cast)


def test_all_rows_or_none_is_refused_while_one_is_faulty(coordinator, cast):
    address = judged(coordinator, FAULTY)
    form = {"rows": "whole", "agreed": "yes", "asked_by": "Tembi"}
    assert "some rows are faulty" in coordinator.send(address, f"{address}/in", **form).text
    assert "Nalo Teme" not in names(cast)


def test_columns_can_be_chosen_anew(coordinator):
    address = judged(coordinator)
    assert "What do the columns hold?" in coordinator.see(f"{address}?anew=columns")
    shown = coordinator.send(address, f"{address}/columns", **(ALL | {"column-4": ""})).text
    assert "the plot is new: give its stations" in shown


def test_columns_that_say_too_little_are_sent_back(coordinator):
    address = brought(coordinator).request.path
    answer = coordinator.send(address, f"{address}/columns", **(ALL | {"column-1": ""}))
    assert "no column holds the farmer&#39;s name" in answer.text


def test_a_ward_of_somebody_else_cannot_be_chosen(coordinator):
    address = brought(coordinator).request.path
    assert coordinator.send(address, f"{address}/columns", **ALL, ward="2").status_code == 404


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"", "choose the file"), (b"GIF89a\0\x01\x02\x03\0\x80 a picture", "neither CSV nor XLSX")],
    ids=["empty", "a picture"],
)
def test_what_is_no_list_is_sent_back_with_the_reason(coordinator, data, words):
    assert words in brought(coordinator, data).text


def test_a_form_without_a_file_is_sent_back(coordinator):
    assert "choose a file first" in coordinator.send("/register", "/register").text


def test_a_file_may_be_larger_than_other_forms_but_not_too_large(coordinator, monkeypatch):
    rows = "".join(f"Olmara;Farmer {n};;K{n};900\n" for n in range(14_000))
    assert 300_000 < len(rows) < 450_000  # more than any other form may have
    assert brought(coordinator, HEAD + rows).status_code == 200
    monkeypatch.setattr(list_pages, "MOST_BYTES", 300_000)
    assert brought(coordinator, HEAD + rows).status_code == 413


def test_a_stranger_and_an_auditor_cannot_send_a_large_file(app, visit):
    large = {"list": (io.BytesIO(b"x" * 400_000), "a.csv")}
    assert app.test_client().post("/register", data=large).status_code == 413
    large = {"list": (io.BytesIO(b"x" * 400_000), "a.csv")}
    assert visit(AUDITOR).client.post("/register", data=large).status_code == 413


def test_an_auditor_takes_tables_out_with_numbers_shortened_and_sees_no_list(
    coordinator, visit, cast
):
    address = judged(coordinator)
    auditor = visit(AUDITOR)
    assert "Bring a list" not in auditor.see("/register")
    for path in (address, f"{address}/faulty.csv"):
        assert auditor.client.get(path).status_code == 403
    out = auditor.see("/register/out/farmers.csv")
    assert "Farmer 003" in out and "+44\u2026003" in out and "+447700900003" not in out


def test_a_coordinator_takes_out_their_own_wards_with_whole_numbers(coordinator, lead):
    out = coordinator.see("/register/out/farmers.csv")
    assert "'+447700900001" in out and "Farmer 003" not in out
    assert "Farmer 003" in lead.see("/register/out/farmers.csv")


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@pytest.mark.parametrize("table", sorted(list_pages.TABLES))
def test_every_table_comes_as_a_file(coordinator, table, kind):
    answer = coordinator.client.get(f"/register/out/{table}.{kind}")
    assert answer.status_code == 200 and len(answer.data) > 40
    assert answer.headers["Content-Type"] == list_pages.KINDS[kind]
    assert f'filename="{table}-2026-12-06.{kind}"' in answer.headers["Content-Disposition"]


def test_an_empty_list_can_be_filled_in(coordinator):
    assert "Ward,Farmer name,Phones" in coordinator.see("/register.csv")


def test_one_coordinators_list_is_not_anothers(coordinator, lead, cast):
    own = judged(coordinator)
    assert lead.see(own)
    theirs = judged(lead)
    assert coordinator.client.get(theirs).status_code == 404
    assert theirs not in coordinator.see("/register") and own in lead.see("/register")


def test_progress_is_shown_without_script_and_can_be_stopped(coordinator, cast, monkeypatch):
    monkeypatch.setattr(list_pages, "PIECES_AT_ONCE", 0)
    address = judged(coordinator)
    answer = coordinator.client.get(address)
    assert answer.headers["Refresh"] == "3"
    assert "0 rows read so far" in answer.text
    stopped = coordinator.send(address, f"{address}/stop").text
    assert "was stopped, nothing went in" in stopped
    with cast.connect() as c:
        assert c.execute(select(imports.c.file)).scalar_one() is None


def test_a_list_goes_on_without_its_person(coordinator, app, monkeypatch, cast):
    monkeypatch.setattr(list_pages, "PIECES_AT_ONCE", 0)
    address = judged(coordinator)
    steps.work_lists(app.extensions["reminder_service"])
    form = {"rows": "whole", "agreed": "yes", "asked_by": "Tembi"}
    assert "All 2 rows go in together" in coordinator.send(address, f"{address}/in", **form).text
    steps.work_lists(app.extensions["reminder_service"])
    assert "The list is in." in coordinator.see(address)


def test_what_a_file_says_is_text_on_the_page(coordinator):
    address = judged(coordinator, HEAD + "Olmara;<script>x</script>;;N1;900\n")
    shown = coordinator.see(address)
    assert "<script>x" not in shown and "&lt;script&gt;x" in shown


def test_the_sentence_that_is_ticked_names_the_programme(coordinator):
    shown = coordinator.see(judged(coordinator))
    assert by_hand.consent_words("Maize programme") in shown


def test_a_page_of_a_long_list_is_light(coordinator):
    rows = "".join(f"Olmara;Farmer number {n};+4477009{n:05d};K{n};900\n" for n in range(300))
    address = judged(coordinator, HEAD + rows)
    first = coordinator.see(address)
    assert len(first.encode()) < 60_000
    assert f"{address}?after=51" in first and "K51" in coordinator.see(f"{address}?after=51")
