"""The coordinator's pages in a real browser, at phone and desktop width, on the demo's scenario."""

import io
import re
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright
from werkzeug.serving import make_server

from gateways.console.gateway import ConsoleGateway
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.work.scenario import SettableClock, load_scenario, play, read_scenario
from reminder_service.work.scenario_rain import let_it_rain
from reminder_service.work.services import make_services

pytestmark = pytest.mark.browser

FIRST_RAIN = date(2026, 11, 12)
NOW = datetime(2026, 12, 12, 7, 0, tzinfo=UTC)
LOGIN, PASSWORD = "coordinator", "invented for this test"
PHONE, DESKTOP = {"width": 360, "height": 740}, {"width": 1280, "height": 800}
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PAGES = [
    "/",
    "/wards",
    "/wards/1",
    "/wards/1/rain",
    "/wards/1/rain/file",
    "/wards/1/inputs",
    "/queue",
    "/queue?state=any",
    "/plots/1",
    "/practice",
    "/unread",
    "/write",
    "/texts",
    "/routes",
    "/register",
    "/figures",
    "/wards/1/weather",
    "/wards/2/rain",
    "/plots/6",
]


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the pages, served from a thread, with thirty days of the scenario played."""
    place = tmp_path_factory.mktemp("pages")
    settings = Settings(database_url=f"sqlite:///{place / 'pages.sqlite3'}", secret_key="s" * 40)
    clock = SettableClock(datetime(2026, 10, 1, 7, 0, tzinfo=UTC))
    services = make_services(settings, clock, {"console": ConsoleGateway(out=io.StringIO())})
    scenario = read_scenario()
    load_scenario(services, scenario, FIRST_RAIN, PASSWORD)
    let_it_rain(services, scenario, FIRST_RAIN, NOW.date() - timedelta(days=1))
    for _ in play(services, clock, scenario, FIRST_RAIN, NOW):
        pass
    server = make_server("127.0.0.1", 0, create_app(services), threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()
    services.engine.dispose()


@pytest.fixture(scope="module")
def browser(chromium: str | None) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=chromium, args=SWITCHES)
        yield launched
        launched.close()


@pytest.fixture(params=[PHONE, DESKTOP], ids=["phone", "desktop"])
def page(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Page]:
    """A page logged in; any complaint of the browser fails the test."""
    context = browser.new_context(viewport=request.param, base_url=address, locale="en-GB")
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("console", lambda message: complaints.append(message.text))
    opened.goto("/login")
    opened.get_by_label("Login").fill(LOGIN)
    opened.get_by_label("Password").fill(PASSWORD)
    opened.get_by_role("button", name="Log in").click()
    expect(opened.get_by_role("heading", name="Today", exact=False).first).to_be_visible()
    yield opened
    context.close()
    assert complaints == []


def test_no_page_scrolls_sideways(page: Page) -> None:
    for path in PAGES:
        page.goto(path)
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= page.viewport_size["width"], path


def test_a_first_load_is_light(page: Page) -> None:
    loaded = """[...performance.getEntriesByType("navigation"),
        ...performance.getEntriesByType("resource")].map(entry => entry.decodedBodySize)"""
    for path in PAGES:
        page.goto(path)
        sizes = page.evaluate(loaded)
        assert len(sizes) >= 2 and sum(sizes) < 100_000, path


def test_a_practice_text_is_answered_and_moves_the_plan(page: Page) -> None:
    page.goto("/practice?name=Nalo")
    page.get_by_role("link", name="Nalo Teme").click()
    page.get_by_label("Text from the farmer").fill("what is next")
    page.get_by_role("button", name="Send as the farmer").click()
    outcome = page.get_by_role("status", name="What came of it")
    expect(outcome).to_contain_text(re.compile(r"Reply: \d segment"))
    expect(page.locator("ol.talk li.came").first).to_contain_text("what is next")


def test_a_text_is_held_and_the_hold_undone(page: Page) -> None:
    page.goto("/queue")
    row = page.get_by_role("row").filter(has=page.get_by_role("button", name="Hold")).first
    row.get_by_role("button", name="Hold").click()
    expect(page.get_by_text("Held 1 text.")).to_be_visible()
    expect(page.get_by_role("button", name="Release").first).to_be_visible()
    page.get_by_role("button", name="Undo: release it").click()
    expect(page.get_by_text("Released 1 text.")).to_be_visible()


def test_ticked_texts_are_withdrawn_only_after_asking(page: Page) -> None:
    page.goto("/queue")
    page.get_by_role("checkbox").nth(0).check()
    page.get_by_role("checkbox").nth(1).check()
    page.locator(".ticked").get_by_role("button", name="Withdraw…").click()
    expect(page.get_by_role("heading", name="Withdraw 2 texts?")).to_be_visible()
    page.get_by_role("link", name="Keep them").click()
    expect(page.get_by_role("heading", name="Outbound queue")).to_be_visible()


def test_the_season_strip_is_a_picture_with_words(page: Page) -> None:
    page.goto("/wards/1")
    page.get_by_role("link", name=re.compile("^Plot 1$")).click()
    strip = page.get_by_role("img", name="Season strip of plot 1")
    expect(strip).to_be_visible()
    assert strip.locator("rect.window").count() >= 8
    expect(strip.locator("desc")).to_contain_text("first rain Thu 12 Nov")
    assert strip.locator("path.today").count() == 1


def test_a_routes_week_is_a_picture_with_words(page: Page) -> None:
    page.goto("/routes")
    picture = page.get_by_role("img", name="Texts tried by route console")
    expect(picture).to_be_visible()
    assert picture.locator("rect.part").count() >= 3
    expect(picture.locator("desc")).to_contain_text("tried,")
    expect(page.get_by_role("heading", name="Budget")).to_be_visible()


def test_a_corrected_date_moves_the_tasks(page: Page) -> None:
    page.goto("/wards/1")
    page.get_by_role("link", name=re.compile("^Plot 4$")).click()
    thinning = page.get_by_role("row").filter(
        has=page.get_by_role("rowheader", name=re.compile("thin", re.IGNORECASE))
    )
    before = thinning.inner_text()
    page.get_by_label("What happened").select_option("germinated")
    day = "2026-11-25" if page.viewport_size == PHONE else "2026-11-27"
    page.get_by_label("On", exact=True).fill(day)
    page.get_by_role("button", name="Enter").click()
    expect(page.locator(".said")).to_be_visible()
    assert thinning.inner_text() != before


def test_the_keyboard_reaches_the_content_first(page: Page) -> None:
    page.goto("/queue")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the content")).to_be_focused()
