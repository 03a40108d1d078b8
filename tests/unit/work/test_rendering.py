"""The words of a notice: filled in, cautioned, and short enough."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from reminder_service.agronomy.field_moisture import HoldReason
from reminder_service.kinds import Basis, Stage
from reminder_service.records.farmers import Phone, SeasonForPlanning
from reminder_service.rules.plan import Task, WantedNotice
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.texts.catalogues import catalogue
from reminder_service.texts.soil import soil_hint
from reminder_service.texts.words import letters_of
from reminder_service.work.moisture import dressing_tasks
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
        most_segments=rule.most_segments,
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


DRESSINGS = [
    (rule, stage)
    for rule in MAIZE.tasks
    if rule.name in dressing_tasks(MAIZE)
    for stage in ("opens", "nudge", "last-call")
]


@pytest.mark.parametrize("language", ["en", "ny", "pt", "sw"])
@pytest.mark.parametrize("rule, stage", DRESSINGS, ids=[f"{r.name} {s}" for r, s in DRESSINGS])
@pytest.mark.parametrize("hold", [r for r in HoldReason if soil_hint(r)], ids=lambda r: r.value)
def test_every_hint_fits_before_the_caution_in_every_language(rule, stage, hold, language):
    season = replace(SEASON, language=language)
    days = frozenset({"opens", "due", "closes"})
    notice = new_notice(wish(rule, stage, days), season, 1, hold)
    caution = catalogue(language).gettext(rule.caution)
    cheap = str.maketrans(dict(letters_of(language)))
    expected = f"{soil_hint(hold, language)} {caution}"
    assert expected.translate(cheap) in notice.body.translate(cheap)
    assert notice.segments <= rule.most_segments == 2


def test_where_both_do_not_fit_the_hint_goes_before_how_to_dress():
    rule = MAIZE.by_name["top-dress-first"]
    full = replace(wish(rule, "opens", frozenset()), most_segments=1)
    held = new_notice(full, SEASON, 1, HoldReason.WAIT_FOR_MOISTURE)
    assert held.body == (
        "Kasemi Bol, plot ABC123: top-dress by Wed 25 Nov. Soil is dry: wait for rain, then dress. "
        "Off leaves. Wash hands. Label and adviser first."
    )


def test_a_hint_that_does_not_fit_at_all_is_left_out():
    rule = MAIZE.by_name["top-dress-first"]
    full = replace(wish(rule, "opens", frozenset()), most_segments=1, caution="y" * 140)
    full = replace(full, template="{name}")
    plain = new_notice(full, SEASON, 1)
    assert plain.segments == 1
    assert new_notice(full, SEASON, 1, HoldReason.HEAVY_STORM) == plain


def test_a_late_tassel_has_no_hint():
    told = wish(MAIZE.by_name["top-dress-first"], "opens", frozenset())
    assert new_notice(told, SEASON, 1, HoldReason.PAST_TASSELLING) == new_notice(told, SEASON, 1)


def test_the_key_names_the_season():
    assert new_notice(wish(MAIZE.by_name["thin"], "opens", frozenset()), SEASON, 1).key == (
        "7/thin/4/opens"
    )
