"""The page of texts: every text as phone screens, and any text tried by hand."""

import html
import re
from dataclasses import replace

import pytest
from page_cast import AUDITOR, Visitor
from scripted_gateway import ScriptedGateway

from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.texts.catalogues import catalogue_languages
from reminder_service.web import text_pages, walls
from reminder_service.work.money import Budget
from reminder_service.work.routes import Route
from reminder_service.work.wordings import wordings

# Nothing here depends on the engine: one is enough, and fast.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

WIDE = "ŵ" + "a" * 99


def screens(page: str) -> list[str]:
    found = re.findall(r'<p class="screen words" lang="\w+">(.*?)</p>', page, re.DOTALL)
    return [html.unescape(each) for each in found]


def tried(visitor: Visitor, body: str, language: str = "en") -> str:
    """What the page says of one text."""
    answer = visitor.client.get("/texts", query_string={"body": body, "language": language})
    assert answer.status_code == 200
    return answer.text.split('<section id="your-text"')[1].split("</section>")[0]


@pytest.fixture
def priced(app):
    """Give the programme three routes of different prices."""
    known = app.extensions[walls.EXTENSION]
    routes = (
        Route(name="near", gateway="scripted", cost_per_segment="0.045"),
        Route(name="far", gateway="scripted", cost_per_segment="0.045"),
        Route(name="tables", gateway="scripted", cost_per_segment="0.1", shift_tables="portuguese"),
    )
    gateways = {route.name: ScriptedGateway() for route in routes}
    money = Budget(currency="ZMW", per_day=10)
    changed = replace(known, routes=routes, gateways=gateways, budget=money)
    app.extensions[walls.EXTENSION] = changed


@pytest.mark.parametrize("language", ["en", *catalogue_languages()])
def test_every_text_of_a_language_is_shown_whole(coordinator, language):
    page = coordinator.see(f"/texts?language={language}")
    shown = "".join(screens(page))
    for text in wordings(shipped_rulebook(), language):
        assert text.body in shown, text.what
        assert text.count.segments <= page.count("<figure>")


def test_each_segment_of_a_text_is_a_screen(coordinator):
    page = tried(coordinator, "a" * 153 + "b" * 153 + "c")
    assert screens(page) == ["a" * 153, "b" * 153, "c"]
    assert "3 segments · 152 letters left · GSM 7-bit" in page and "3 of 3" in page


def test_letters_that_make_a_text_dear_are_named(coordinator):
    page = tried(coordinator, "a\N{NO-BREAK SPACE}ŵŵ")
    assert "Not in the cheap alphabet: U+00A0 ŵ" in page and "UCS-2" in page


def test_routes_of_one_price_stand_together(coordinator, priced):
    page = tried(coordinator, "a" * 161)
    assert "0.09 ZMW by near, far" in page and "0.20 ZMW by tables" in page


def test_a_route_with_tables_is_counted_by_them(coordinator, priced):
    page = tried(coordinator, "ã" * 100)
    assert "0.09 ZMW by near, far" in page and "1 segment, 0.10 ZMW by tables" in page


def test_what_cheaper_letters_save_is_told_in_segments_and_money(coordinator, priced, monkeypatch):
    monkeypatch.setattr("reminder_service.texts.letters.letters_of", lambda language: {"ŵ": "w"})
    page = tried(coordinator, WIDE)
    assert "Cheaper letters for ŵ save 1 segment, 0.045 ZMW by near, 0.045 ZMW by far" in page
    assert screens(page) == ["w" + "a" * 99]


def test_free_routes_cost_nothing_and_the_page_says_why(coordinator):
    page = coordinator.see("/texts")
    assert "No route has a price" in page and " by scripted" not in page


def test_a_typed_text_stays_text(coordinator):
    page = tried(coordinator, "<b>bold</b>\r\nand a line")
    assert screens(page) == ["<b>bold</b>\nand a line"]
    assert "<b>" not in page


def test_an_empty_box_shows_no_text(coordinator):
    assert "your-text" not in coordinator.see("/texts?body=").replace("#your-text", "")


def test_an_unknown_language_is_no_page(coordinator):
    assert coordinator.client.get("/texts?language=xx").status_code == 404


def test_an_auditor_may_look(visit):
    assert "Texts in English" in visit(AUDITOR).see("/texts")


def test_drafts_are_marked(coordinator, monkeypatch):
    monkeypatch.setattr(text_pages, "holds_draft", lambda body, language: "thin by" in body)
    page = coordinator.see("/texts")
    cards = [card for card in page.split("<li>") if "Draft: no speaker has read it yet." in card]
    assert cards and all("thin by" in card for card in cards)


def test_a_text_that_takes_too_much_is_marked(coordinator, monkeypatch):
    monkeypatch.setattr(text_pages, "wordings", lambda rulebook, language: [too_long()])
    assert "Too long: at most 1 segment with the longest values." in coordinator.see("/texts")


def too_long():
    (first, *_) = wordings(shipped_rulebook(), "en")
    return replace(first, count=replace(first.count, segments=first.most + 1))
