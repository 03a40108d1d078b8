"""The words of a notice: filled in, cautioned, and short enough."""

from datetime import UTC, date, datetime

import pytest

from reminder_service.kinds import Basis, Stage
from reminder_service.records.farmers import Phone, SeasonForPlanning
from reminder_service.rules.plan import Task, WantedNotice
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.work.rendering import new_notice

MAIZE = shipped_rulebook()
DAY = date(2026, 11, 25)
NOW = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
SEASON = SeasonForPlanning(
    season_id=7,
    plot_id=1,
    plot_number="ABC123",
    farmer_id=1,
    farmer_name="Kasemi Bol",
    language="en",
    ward_id=1,
    ward_name="Olmara",
    zone="Africa/Lusaka",
    starts_on=date(2026, 10, 1),
    label="2026/27",
    stations=5600,
    stations_per_ha=22_222,
    choices={},
    phones=(Phone(1, "+447700900001", None),),
)


def wish(rule, stage: str, estimated: frozenset[str]) -> WantedNotice:
    task = Task(rule.name, 4, DAY, DAY, DAY, Basis.REPORTED, estimated, "", rule.importance)
    return WantedNotice(
        key=f"{rule.name}/4/{stage}",
        task=rule.name,
        number=4,
        stage=Stage(stage),
        on=DAY,
        send_at=NOW,
        expires_at=NOW,
        template=rule.texts[stage],
        caution=rule.caution or "",
        importance=rule.importance,
        about=task,
        need=rule.need,
    )


CASES = [(rule, stage) for rule in MAIZE.tasks for stage in rule.texts]


@pytest.mark.parametrize("rule, stage", CASES, ids=[f"{r.name} {s}" for r, s in CASES])
def test_every_text_fits_with_long_values_and_its_caution(rule, stage):
    notice = new_notice(wish(rule, stage, frozenset({"opens", "due", "closes"})), SEASON, 1)
    assert notice.segments <= rule.most_segments, notice.body
    assert "{" not in notice.body
    if rule.caution:
        assert notice.body.endswith(rule.caution)


def test_only_the_estimated_days_are_said_to_be_about():
    rule = MAIZE.by_name["thin"]
    sure = new_notice(wish(rule, "opens", frozenset()), SEASON, 1)
    unsure = new_notice(wish(rule, "opens", frozenset({"closes"})), SEASON, 1)
    assert "by Wed 25 Nov." in sure.body
    assert "by about Wed 25 Nov." in unsure.body


def test_the_key_names_the_season():
    assert new_notice(wish(MAIZE.by_name["thin"], "opens", frozenset()), SEASON, 1).key == (
        "7/thin/4/opens"
    )
