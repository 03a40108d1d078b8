"""The page of unread texts: what is offered, one touch, the form, set aside, undo, the walls."""

import json
import re
from datetime import date, timedelta
from html import unescape

import pytest
from page_cast import AUDITOR, NOW, an_inbound, statements, token_in
from sqlalchemy import insert, select, update

from reminder_service.records import tables as t

UNREAD = {"unread": True}
GERM = ("germinated", date(2026, 11, 21))


@pytest.fixture
def waiting(cast):
    """Text 40 waits: sent from the phone of plot P002."""
    with cast.begin() as c:
        an_inbound(c, 40, 2, b"gemnitaed 21 nov", read_as=UNREAD)
    return cast


def buttons(page: str) -> dict[str, str]:
    """Words and value of each reading offered on a page."""
    found = re.findall(r'<button name="meant" value="([^"]*)">([^<]*)</button>', page)
    return {unescape(words): unescape(value) for value, words in found}


def touch(visitor, words: str, text_id: int = 40):
    value = buttons(visitor.see("/unread"))[words]
    return visitor.send("/unread", f"/unread/{text_id}/read", meant=value)


def form(visitor, text_id: int = 40, **fields):
    known = {"kind": "germinated", "on": "2026-11-21", "season": "2"}
    return visitor.send("/unread", f"/unread/{text_id}/read", **(known | fields))


def made(engine, text_id: int = 40) -> list[tuple]:
    """Reports made of a text."""
    r = t.reports.c
    with engine.connect() as c:
        return [
            (row.kind, row.on)
            for row in c.execute(select(t.reports).where(r.inbound_id == text_id).order_by(r.id))
        ]


def share_a_phone(engine) -> None:
    """Let the farmer of Setiwe use the phone of plot P002 too."""
    with engine.begin() as c:
        c.execute(insert(t.farmer_phones).values(farmer_id=3, phone_id=2))


def test_nothing_that_waits_says_so(coordinator):
    assert "Every text that came in could be read, or has been settled" in coordinator.see(
        "/unread"
    )


def test_a_text_stands_as_it_came_with_what_it_may_mean(waiting, coordinator):
    page = coordinator.see("/unread")
    assert "gemnitaed 21 nov" in page and "Farmer 002 (Olmara)" in page
    assert list(buttons(page)) == ["Germinated, Sat 21 Nov, plot P002"]


def test_the_number_is_masked_where_the_farmer_is_known(waiting, lead):
    page = lead.see("/unread")
    assert "+44…002" in page and "+447700900002" not in page


def test_one_touch_takes_the_report_and_says_what_moved(waiting, coordinator):
    answer = touch(coordinator, "Germinated, Sat 21 Nov, plot P002")
    assert "Noted: Germination, Sat 21 Nov 2026. Farmer 002 is told." in answer.text
    assert made(waiting) == [GERM]
    assert "read as germinated, Sat 21 Nov, plot P002" in answer.text
    assert buttons(answer.text) == {}


def test_a_touch_twice_is_one_report(waiting, coordinator):
    value = buttons(coordinator.see("/unread"))["Germinated, Sat 21 Nov, plot P002"]
    for _ in range(2):
        answer = coordinator.send("/unread", "/unread/40/read", meant=value)
    assert "somebody has settled this text meanwhile" in answer.text
    assert made(waiting) == [GERM]


@pytest.mark.parametrize(
    "fields, kept",
    [
        pytest.param({}, GERM, id="a fact"),
        pytest.param({"kind": "rain", "how_much": "12,5"}, ("rain", GERM[1]), id="rain"),
        pytest.param(
            {"kind": "count", "how_much": "2 1,0 3"}, ("count", GERM[1]), id="a stand count"
        ),
        pytest.param(
            {"kind": "borer-count", "how_much": "12"}, ("borer-count", GERM[1]), id="borers"
        ),
        pytest.param(
            {"kind": "done", "task": "thin", "on": "2026-12-05"},
            ("done", date(2026, 12, 5)),
            id="a task",
        ),
    ],
)
def test_the_form_takes(waiting, coordinator, fields, kept):
    assert "Noted: " in form(coordinator, **fields).text
    assert made(waiting) == [kept]


@pytest.mark.parametrize(
    "fields, says",
    [
        pytest.param({"on": ""}, "give the day", id="no day"),
        pytest.param({"on": "2027-01-01"}, "still to come", id="a day to come"),
        pytest.param({"kind": "done"}, "choose the task", id="no task"),
        pytest.param({"kind": "done", "task": "fly"}, "choose the task", id="no such task"),
        pytest.param({"kind": "rain"}, "write the rain in mm", id="no amount"),
        pytest.param({"kind": "rain", "how_much": "nan"}, "write the rain in mm", id="no number"),
        pytest.param({"kind": "rain", "how_much": "900"}, "write the rain in mm", id="too much"),
        pytest.param({"kind": "count", "how_much": "2 x"}, "like 2 1 0 3", id="no counts"),
        pytest.param({"kind": "borer-count", "how_much": "101"}, "of 100 plants", id="above 100"),
        pytest.param({"season": "", "plot": "P009"}, "one plot", id="a plot not theirs"),
        pytest.param({"season": ""}, "give the plot", id="no plot"),
    ],
)
def test_the_form_says_what_is_missing(waiting, coordinator, fields, says):
    answer = form(coordinator, **fields)
    assert says in answer.text and answer.text.count("gemnitaed 21 nov") == 1
    assert made(waiting) == []


def test_the_form_takes_a_plot_number_as_written(waiting, coordinator):
    form(coordinator, season="", plot=" p002 ")
    assert made(waiting) == [GERM]


def test_many_plots_are_written_not_chosen(waiting, coordinator, monkeypatch):
    assert '<select name="season"' in coordinator.see("/unread")
    monkeypatch.setattr("reminder_service.web.unread_pages.LISTED_PLOTS", 0)
    page = coordinator.see("/unread")
    assert '<input name="plot"' in page and '<select name="season"' not in page


@pytest.mark.parametrize(
    "meant",
    [
        "x",
        "{}",
        "[]",
        "[7]",
        json.dumps([{"kind": "help", "on": "2026-11-21", "season": 2}]),
        json.dumps([{"kind": "germinated", "on": None, "season": 2}]),
        json.dumps([{"kind": "rain", "on": "2026-11-21", "season": 2}]),
        json.dumps([{"kind": "germinated", "season": 2, "on": "soon"}]),
        json.dumps([{"kind": "germinated", "on": "2026-11-21"}]),
    ],
    ids=[
        "no JSON",
        "no list",
        "nothing",
        "a number",
        "no report",
        "no day",
        "no amount",
        "a day that is none",
        "no plot",
    ],
)
def test_a_button_that_we_did_not_make_is_refused(waiting, coordinator, meant):
    answer = coordinator.send("/unread", "/unread/40/read", meant=meant)
    assert answer.status_code == 400 and made(waiting) == []


def test_a_kind_that_is_none_is_refused(waiting, coordinator):
    assert form(coordinator, kind="help").status_code == 400


def test_a_text_is_set_aside_and_let_wait_again(waiting, coordinator):
    answer = coordinator.send("/unread", "/unread/40/aside")
    assert "Set aside" in answer.text and "nothing to do" in answer.text
    assert "by tembi" in answer.text and 'formaction="' not in answer.text
    assert 'action="/unread/40/back"' in answer.text
    answer = coordinator.send("/unread", "/unread/40/back")
    assert "the text waits again" in answer.text and 'formaction="' in answer.text


def test_a_report_is_undone_from_the_page(waiting, coordinator):
    touch(coordinator, "Germinated, Sat 21 Nov, plot P002")
    answer = coordinator.send("/unread", "/unread/40/back")
    assert "the text waits again" in answer.text
    assert list(buttons(answer.text)) == ["Germinated, Sat 21 Nov, plot P002"]
    with waiting.connect() as c:
        standing = c.execute(
            select(t.reports.c.on).where(
                t.reports.c.season_id == 2, t.reports.c.inbound_id.is_(None)
            )
        ).scalars()
        assert list(standing) == [None]  # the withdrawal


def test_a_settled_text_can_be_undone_for_a_day(waiting, coordinator, clock):
    coordinator.send("/unread", "/unread/40/aside")
    clock.now += timedelta(hours=23)
    assert "Settled since yesterday" in coordinator.see("/unread")
    clock.now += timedelta(hours=2)
    assert "Settled since yesterday" not in coordinator.see("/unread")


def test_bytes_that_are_no_text_are_shown_safely(cast, coordinator):
    with cast.begin() as c:
        an_inbound(c, 41, 2, b"\xff\xfe<b>germ\x00 21 nov", read_as=UNREAD)
    page = coordinator.see("/unread")
    assert "&lt;b&gt;germ\N{REPLACEMENT CHARACTER} 21 nov" in page
    assert "ff fe 3c 62 3e" in page
    assert list(buttons(page)) == ["Germinated, Sat 21 Nov, plot P002"]


def test_a_long_text_is_folded(cast, coordinator):
    with cast.begin() as c:
        an_inbound(c, 41, 2, b"blah " * 2_000, read_as=UNREAD)
    assert "<summary>Long text, 10000 characters</summary>" in coordinator.see("/unread")


def test_texts_are_leafed_through(cast, coordinator):
    with cast.begin() as c:
        for id_ in range(100, 145):
            an_inbound(c, id_, 1 + id_ % 2, b"mvua?", read_as=UNREAD)
    page, seen = "/unread", []
    while page:
        text = coordinator.see(page)
        seen += re.findall(r"/unread/(\d+)/aside", text)
        onward = re.search(r'href="(/unread\?before=\d+)"', text)
        page = onward[1] if onward else None
    assert [int(id_) for id_ in seen] == list(range(144, 99, -1))


def test_more_texts_take_no_more_statements(cast, coordinator):
    counts = []
    for first in (200, 300):
        with cast.begin() as c:
            for id_ in range(first, first + 9):
                an_inbound(c, id_, 1 + id_ % 2, b"gemnitaed 21 nov", read_as=UNREAD)
        with statements(cast) as seen:
            coordinator.see("/unread")
        counts.append(len(seen))
    assert counts[0] == counts[1] <= 16


def test_a_question_of_ours_is_marked(cast, coordinator):
    with cast.begin() as c:
        an_inbound(c, 41, 2, b"RAIN 12")
        c.execute(insert(t.waiting_texts).values(inbound_id=41, why="asked back"))
    page = coordinator.see("/unread")
    assert "asked back" in page
    assert list(buttons(page)) == [
        "First rain, Thu 12 Nov, plot P002",
        "Rain 12 mm, Sun 6 Dec, plot P002",
    ]


def test_words_that_we_did_not_know_are_listed_once_read(cast, coordinator):
    with cast.begin() as c:
        an_inbound(c, 41, 2, b"kwele 21 nov", read_as=UNREAD)
    assert "Words we did not know" not in coordinator.see("/unread")
    page = form(coordinator, 41).text
    assert "Words we did not know" in page
    row = re.search(r"<th[^>]*>kwele</th>.*?</tr>", page, re.DOTALL)[0]
    assert "English" in row and ">1</td>" in row and "germinated" in row


class TestWalls:
    """A coordinator reaches texts of phones that serve their wards, and plots of their wards."""

    def test_texts_of_other_wards_are_not_shown(self, cast, coordinator, lead):
        with cast.begin() as c:
            an_inbound(c, 41, 3, b"hallo there", read_as=UNREAD)
        assert "hallo there" not in coordinator.see("/unread")
        assert "hallo there" in lead.see("/unread")

    @pytest.mark.parametrize("act", ["read", "aside", "back"])
    def test_texts_of_other_wards_are_out_of_reach(self, cast, waiting, coordinator, act):
        with cast.begin() as c:
            an_inbound(c, 41, 3, b"gemnitaed 21 nov", read_as=UNREAD)
        fields = {"kind": "germinated", "on": "2026-11-21", "season": "3"}
        assert coordinator.send("/unread", f"/unread/41/{act}", **fields).status_code == 404
        assert made(cast, 41) == []

    def test_a_shared_phone_shows_its_texts_but_no_plot_of_the_other_ward(
        self, waiting, coordinator
    ):
        share_a_phone(waiting)
        page = coordinator.see("/unread")
        assert "gemnitaed 21 nov" in page and "serves farmers of other wards" in page
        assert list(buttons(page)) == ["Germinated, Sat 21 Nov, plot P002"]
        assert "P003" not in page and "Farmer 003" not in page and "Setiwe" not in page

    def test_who_sees_all_wards_is_offered_each_plot_by_its_farmer(self, waiting, lead):
        share_a_phone(waiting)
        page = lead.see("/unread")
        assert list(buttons(page)) == [
            "Germinated, Sat 21 Nov, plot P002, Farmer 002",
            "Germinated, Sat 21 Nov, plot P003, Farmer 003",
        ]
        assert "serves farmers of other wards" not in page

    def test_a_plot_of_the_other_ward_cannot_be_reported_for(self, waiting, coordinator):
        share_a_phone(waiting)
        value = json.dumps([{"kind": "germinated", "on": "2026-11-21", "season": 3}])
        token = token_in(coordinator.see("/unread"))
        for fields in (
            {"meant": value},
            {"kind": "germinated", "on": "2026-11-21", "season": "3"},
        ):
            answer = coordinator.client.post(
                "/unread/40/read", data={"csrf_token": token, **fields}
            )
            assert answer.status_code == 404
        assert made(waiting) == []

    def test_a_later_report_for_the_other_wards_plot_is_not_told(self, waiting, coordinator):
        share_a_phone(waiting)
        with waiting.begin() as c:
            an_inbound(c, 50, 2, b"germ 20 nov")
            told = {"kind": "germinated", "on": date(2026, 11, 20), "sent_at": NOW}
            c.execute(insert(t.reports).values(season_id=3, inbound_id=50, **told))
        assert "Reported from this phone since" not in coordinator.see("/unread")

    def test_a_number_on_nobodys_list_is_for_who_sees_all_wards(self, cast, coordinator, lead):
        with cast.begin() as c:
            c.execute(insert(t.phones).values(id=90, number="+447700900090"))
            an_inbound(c, 41, 90, b"gemnitaed 21 nov", read_as=UNREAD)
        assert "gemnitaed" not in coordinator.see("/unread")
        page = lead.see("/unread")
        assert "+447700900090, on nobody's list" in page
        assert buttons(page) == {} and "no report can be taken" in page

    def test_words_of_other_wards_are_not_told(self, cast, coordinator, lead):
        with cast.begin() as c:
            an_inbound(c, 41, 3, b"kwele 21 nov", read_as=UNREAD)
        form(lead, 41, season="3")
        assert "kwele" in lead.see("/unread") and "kwele" not in coordinator.see("/unread")

    def test_an_auditor_reads_and_is_offered_nothing(self, waiting, visit):
        page = visit(AUDITOR).see("/unread")
        assert "gemnitaed 21 nov" in page
        assert buttons(page) == {} and "Another report" not in page and "formaction" not in page


def test_a_farmer_without_an_open_season_has_nothing_to_report_for(waiting, coordinator):
    with waiting.begin() as c:
        c.execute(update(t.seasons).where(t.seasons.c.id == 2).values(closed_at=NOW))
    page = coordinator.see("/unread")
    assert "no plot with an open season" in page and "Another report" not in page
