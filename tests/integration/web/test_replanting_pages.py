"""After a false start on the pages: who was asked, what they said, a replanted plot's history."""

from datetime import UTC, date, datetime

import pytest
from page_cast import NOW, OLMARA, SETIWE, a_notice, a_plot
from sqlalchemy import insert, select

from reminder_service.records import tables as t
from reminder_service.records.rain_tables import false_starts

# Nothing here depends on the engine: the use cases are tested on both.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

RAIN, PLOT = "/wards/1/rain", "/plots/71"
ASKED_AT = datetime(2026, 11, 22, 8, 0, tzinfo=UTC)
ALIVE, SILENT, WAITING, ELSEWHERE = 71, 72, 73, 74


def told(c, season_id: int, kind: str, on: date, **fields) -> None:
    known = {"season_id": season_id, "kind": kind, "on": on, "sent_at": NOW}
    c.execute(insert(t.reports).values(known | fields))


@pytest.fixture
def asked(cast):
    """Four plots asked about one false start: one replanted, one silent, one not sent yet."""
    with cast.begin() as c:
        start = {
            "season_starts_on": date(2026, 10, 1),
            "on": date(2026, 11, 10),
            "dry_from": date(2026, 11, 12),
            "dry_until": date(2026, 11, 20),
            "noticed_at": ASKED_AT,
        }
        c.execute(insert(false_starts).values(id=1, ward_id=OLMARA, **start))
        c.execute(insert(false_starts).values(id=2, ward_id=SETIWE, **start))
        for nth, id_ in enumerate((ALIVE, SILENT, WAITING, ELSEWHERE), 900):
            ward_id = SETIWE if id_ == ELSEWHERE else OLMARA
            waits = id_ == WAITING
            a_plot(c, id_, ward_id)
            a_notice(
                c, nth, id_, ward_id, "planned" if waits else "delivered",
                key=f"{id_}/false-start/1/question", task="false-start", stage="question",
                number=2 if id_ == ELSEWHERE else 1, opens_on=None, due_on=None, closes_on=None,
                send_at=ASKED_AT, sent_at=None if waits else ASKED_AT,
            )  # fmt: skip
        told(c, ALIVE, "planted", date(2026, 11, 11))
        told(c, ALIVE, "replanted", date(2026, 12, 2))
    return cast


def section(page: str) -> str:
    return page.partition("Did the stand survive?")[2].partition("</table>")[0]


def test_the_rain_book_lists_plots_asked_answered_and_silent(asked, coordinator):
    found = section(coordinator.see(RAIN))
    assert "1 plot has answered, 2 not" in found
    rows = [row for row in found.split("<tr")[2:]]
    assert ["P071" in rows[0], "replanted, Wed 2 Dec" in rows[0]] == [True, True]
    assert "P072" in rows[1] and "silent" in rows[1]
    assert "P073" in rows[2] and "not asked yet" in rows[2] and "silent" not in rows[2]
    assert "P074" not in found


def test_a_ward_where_nobody_was_asked_has_no_such_list(cast, coordinator):
    assert "Did the stand survive?" not in coordinator.see(RAIN)


def test_the_plot_keeps_the_history_of_the_first_stand(asked, coordinator):
    page = coordinator.see(PLOT)
    listed = page.partition("<h2>Reports</h2>")[2].partition("</ul>")[0]
    first, second = listed.split("<li")[1:3]
    assert "planted, Wed 11 Nov 2026" in first and "of the stand before replanting" in first
    assert "replanted, Wed 2 Dec 2026" in second and "no longer counted" not in second


def test_the_strip_marks_the_replanting(asked, coordinator):
    page = coordinator.see(PLOT)
    assert "replanted reported for Wed 2 Dec" in page and "replanted 2 Dec</text>" in page


def test_a_coordinator_enters_a_replanting_told_by_voice(asked, coordinator):
    path = f"/plots/{SILENT}"
    page = coordinator.send(path, f"{path}/report", kind="replanted", on="2026-12-01").text
    assert "Noted: Replanting" in page
    with asked.connect() as c:
        kept = select(t.reports.c.kind).where(t.reports.c.season_id == SILENT)
        assert list(c.execute(kept).scalars()) == ["replanted"]
    assert "2 plots have answered, 1 not" in section(coordinator.see(RAIN))
