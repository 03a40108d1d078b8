"""What a coordinator does on the pages, and what then stands in the records."""

import re
from datetime import date

import pytest
from page_cast import NOW, OLMARA, a_notice
from sqlalchemy import func, select, update

from reminder_service.kinds import NoticeState
from reminder_service.records import tables

notices, audit = tables.notices, tables.audit


def state(engine, id_: int) -> str:
    with engine.connect() as c:
        return c.scalar(select(notices.c.state).where(notices.c.id == id_))


def audited(engine) -> list[tuple[str, str]]:
    with engine.connect() as c:
        return [(who, what) for who, what in c.execute(select(audit.c.who, audit.c.what))]


def act(visitor, **form):
    return visitor.send("/queue", "/queue/act", **form)


def test_hold_by_a_rows_own_button_and_undo(cast, coordinator):
    answer = act(coordinator, one="hold:1")
    assert "Held 1 text." in answer.text and "Undo: release it" in answer.text
    assert (state(cast, 1), state(cast, 2)) == ("held", "planned")
    undo = dict(re.findall(r'name="(action|id|back)" value="([^"]*)"', answer.text.split("<h1")[0]))
    assert undo["action"] == "release" and undo["id"] == "1"
    assert "Released 1 text." in act(coordinator, **undo).text
    assert state(cast, 1) == "planned"
    assert audited(cast) == [("tembi", "hold"), ("tembi", "release")]


def test_hold_all_that_were_ticked(cast, coordinator):
    assert "Held 2 texts." in act(coordinator, action="hold", id=["1", "2"]).text
    assert (state(cast, 1), state(cast, 2)) == ("held", "held")


def test_what_moved_on_meanwhile_is_left_and_told(cast, coordinator):
    answer = act(coordinator, action="hold", id=["1", "11"])
    assert "Held 1 text. 1 text was left as it stood" in answer.text
    assert state(cast, 11) == "refused"


def test_nothing_ticked_changes_nothing(cast, coordinator):
    assert "Nothing was ticked" in act(coordinator, action="hold").text
    assert audited(cast) == []


def test_withdrawing_asks_once_more_and_names_how_many(cast, coordinator):
    asked = act(coordinator, action="withdraw", id=["1", "2", "11"])
    assert "Withdraw 2 texts?" in asked.text
    assert "1 of those you chose can no longer be withdrawn" in asked.text
    assert (state(cast, 1), state(cast, 2)) == ("planned", "planned")
    done = coordinator.send("/queue", "/queue/withdraw", id=["1", "2"])
    assert "Withdrew 2 texts." in done.text
    assert (state(cast, 1), state(cast, 2)) == ("withdrawn", "withdrawn")


def test_sending_again_names_words_phone_and_segments_first(cast, coordinator):
    asked = coordinator.see("/queue/11/again")
    assert "Text number 11." in asked and "+447700900001" in asked and "1 segment" in asked
    done = coordinator.send("/queue/11/again", "/queue/11/again")
    assert "Queued once more to Farmer 001." in done.text
    with cast.connect() as c:
        same = select(notices.c.state).where(notices.c.body.contains("number 11."))
        assert sorted(c.scalars(same)) == ["planned", "refused"]


@pytest.mark.parametrize("kept", [NoticeState.PLANNED, NoticeState.CLAIMED])
def test_what_is_still_to_go_cannot_be_sent_again(cast, coordinator, kept):
    with cast.begin() as c:
        claim = {"claim": "x"} if kept is NoticeState.CLAIMED else {}
        c.execute(update(notices).where(notices.c.id == 1).values(state=kept.value, **claim))
    assert "cannot be sent again" in coordinator.see("/queue/1/again")
    answer = coordinator.send("/", "/queue/1/again")
    assert "was not queued again" in answer.text
    with cast.connect() as c:
        assert c.scalar(select(func.count()).select_from(notices)) == 5


def test_a_stopped_phone_is_sent_nothing_again(cast, coordinator):
    with cast.begin() as c:
        c.execute(update(tables.phones).where(tables.phones.c.id == 1).values(stopped_at=NOW))
    assert "was not queued again" in coordinator.send("/", "/queue/11/again").text


def test_one_foreign_row_among_the_ticked_stops_all(cast, coordinator):
    assert act(coordinator, action="hold", id=["1", "3"]).status_code == 404
    assert state(cast, 1) == "planned"


@pytest.mark.parametrize(
    "form",
    [
        {"action": "deliver", "id": "1"},
        {"action": "hold", "id": "one"},
        {"one": "hold:"},
        {"one": "hold:-1"},
    ],
)
def test_a_form_that_makes_no_sense_is_refused(coordinator, form):
    assert act(coordinator, **form).status_code == 400


@pytest.mark.parametrize(
    ("back", "goes_to"),
    [("/queue?state=held", "/queue"), ("/plots/1", "/plots/1"), ("//evil.example", "/queue")],
)
def test_an_action_leads_back_to_where_it_was_asked(coordinator, back, goes_to):
    assert act(coordinator, one="hold:1", back=back).request.path == goes_to


def test_hold_all_reminders_of_a_plot(cast, coordinator):
    with cast.begin() as c:
        a_notice(c, 31, 1, OLMARA)
    answer = coordinator.send("/plots/1", "/plots/1/hold")
    assert "Held 2 texts of this plot." in answer.text
    assert [state(cast, id_) for id_ in (1, 31, 2)] == ["held", "held", "planned"]


def test_a_corrected_report_moves_the_tasks(cast, coordinator):
    form = {"kind": "germinated", "on": "2026-11-24", "task": ""}
    answer = coordinator.send("/plots/1", "/plots/1/report", **form)
    assert answer.status_code == 200
    assert "replaced by a later report" in answer.text
    with cast.connect() as c:
        task = tables.tasks.c
        opens = c.scalar(select(task.opens_on).where(task.season_id == 1, task.name == "thin"))
    assert opens == date(2026, 12, 8)  # 14 days after the corrected day


def test_a_task_is_reported_done(cast, coordinator):
    coordinator.send("/plots/1", "/plots/1/report", kind="germinated", on="2026-11-21", task="")
    form = {"kind": "done", "on": "2026-12-06", "task": "thin:1"}
    coordinator.send("/plots/1", "/plots/1/report", **form)
    with cast.connect() as c:
        task = tables.tasks.c
        done = c.scalar(select(task.done_on).where(task.season_id == 1, task.name == "thin"))
    assert done == date(2026, 12, 6)


@pytest.mark.parametrize(
    "form",
    [
        pytest.param({"kind": "germinated", "on": "2026-12-24"}, id="in the future"),
        pytest.param({"kind": "germinated", "on": "2026-11-01"}, id="before the rain"),
        pytest.param({"kind": "germinated", "on": ""}, id="no day"),
        pytest.param({"kind": "done", "on": "2026-12-06", "task": ""}, id="no task"),
    ],
)
def test_a_report_that_cannot_be_is_refused_with_words(cast, coordinator, form):
    with cast.connect() as c:
        before = c.scalar(select(func.count()).select_from(tables.reports))
    answer = coordinator.send("/plots/1", "/plots/1/report", **form)
    assert answer.status_code == 200 and 'class="said failed"' in answer.text
    with cast.connect() as c:
        assert c.scalar(select(func.count()).select_from(tables.reports)) == before


def test_a_kind_that_is_not_on_the_form_is_refused(coordinator):
    answer = coordinator.send("/plots/1", "/plots/1/report", kind="stop", on="2026-12-06")
    assert answer.status_code == 400


def test_holding_one_plot_leaves_the_others(cast, lead):
    lead.send("/plots/3", "/plots/3/hold")
    assert (state(cast, 3), state(cast, 1)) == ("held", "planned")
