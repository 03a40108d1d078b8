"""The first rain of a whole ward: previewed, declared, taken back; plots' own reports stand."""

from datetime import date

import pytest
from season_cast import Programme, a_programme, local
from sqlalchemy import insert

from reminder_service.records import people, ward_rains
from reminder_service.records import tables as t
from reminder_service.records.engine import reading, writing
from reminder_service.records.tables import Role
from reminder_service.records.views import wards_seen
from reminder_service.work import ward_rain

ON = date(2026, 11, 12)


def phone(number: int) -> str:
    return f"+4477009001{number:02}"


@pytest.fixture
def programme(engine) -> Programme:
    """Three plots; the third has a first rain of its own."""
    made = a_programme(engine, local("2026-11-25", "10:00"))
    for number in (1, 2, 3):
        made.plot(str(number), phone=phone(number), name=f"Farmer {number}")
    made.text("RAIN 20/11", sender=phone(3))
    with writing(engine) as c:
        people.add_person(
            c,
            login="tembi",
            name="Tembi",
            password_hash="$argon2id$none",
            role=Role.COORDINATOR,
            ward_ids=[],
        )
    return made


@pytest.fixture
def ward(programme):
    with reading(programme.services.engine) as c:
        return wards_seen(c, None)[0]


@pytest.fixture
def tembi(programme):
    with reading(programme.services.engine) as c:
        return people.person_by_login(c, "tembi")


def opening(programme: Programme, task: str = "borer") -> dict[int, date]:
    """Day on which a task opens, by season."""
    return {row["season_id"]: row["opens_on"] for row in programme.rows("tasks", name=task)}


def test_declaring_plans_the_plots_that_reported_nothing(programme, ward, tembi):
    before = opening(programme)
    assert len(before) == 1
    outcome = ward_rain.declare(programme.services, ward, ON, tembi)
    assert outcome.done and (outcome.replanned, outcome.left) == (3, 0)
    after = opening(programme)
    assert len(after) == 3 and before.items() <= after.items()


def test_a_preview_says_what_declaring_then_does(programme, ward, tembi):
    before = programme.snapshot()
    said = ward_rain.preview(programme.services, ward, ON)
    assert programme.snapshot() == before, "a preview changes nothing"
    notices = len(programme.rows("notices", state="planned"))
    ward_rain.declare(programme.services, ward, ON, tembi)
    assert (said.plots, said.looked_at, said.own, said.moved) == (3, 3, 1, 2)
    assert len(programme.rows("notices", state="planned")) - notices == said.texts > 0


def test_taking_back_leaves_the_plots_as_they_were(programme, ward, tembi):
    before = opening(programme)
    ward_rain.declare(programme.services, ward, ON, tembi)
    assert ward_rain.declare(programme.services, ward, None, tembi).done
    assert opening(programme) == before


def test_a_plots_own_report_goes_before_the_wards(programme, ward, tembi):
    ward_rain.declare(programme.services, ward, ON, tembi)
    first = opening(programme)
    programme.text("RAIN 18/11", sender=phone(1))
    assert len({*opening(programme).values()} - {*first.values()}) == 1
    programme.text("NO", sender=phone(1))
    assert opening(programme) == first


def test_a_plot_that_germinated_before_keeps_to_its_own(programme, ward, tembi):
    programme.text("GERM 10/11", sender=phone(2))
    before = opening(programme, "thin")
    ward_rain.declare(programme.services, ward, ON, tembi)
    assert before.items() <= opening(programme, "thin").items()
    assert "12 Nov" not in programme.text("PLOT", sender=phone(2)).reply


def test_farmers_are_told_the_wards_first_rain_when_they_ask(programme, ward, tembi):
    ward_rain.declare(programme.services, ward, ON, tembi)
    assert "12 Nov" in programme.text("PLOT", sender=phone(1)).reply


def test_a_season_opened_later_follows_the_declared_day(programme, ward, tembi):
    ward_rain.declare(programme.services, ward, ON, tembi)
    season_id = programme.plot("9", phone=phone(9), name="Farmer 9")
    assert season_id in opening(programme)


@pytest.mark.parametrize(
    "on, why",
    [(date(2026, 11, 26), "still to come"), (date(2026, 9, 30), "season starts")],
    ids=["tomorrow", "before the season"],
)
def test_a_day_that_cannot_be_is_refused(programme, ward, tembi, on, why):
    outcome = ward_rain.declare(programme.services, ward, on, tembi)
    assert not outcome.done and why in outcome.sentence
    assert programme.rows("ward_first_rains") == [] == programme.rows("replans_due")


def test_declaring_the_same_day_twice_changes_nothing(programme, ward, tembi):
    ward_rain.declare(programme.services, ward, ON, tembi)
    assert not ward_rain.declare(programme.services, ward, ON, tembi).done
    assert len(programme.rows("ward_first_rains")) == 1


def test_it_is_audited(programme, ward, tembi):
    ward_rain.declare(programme.services, ward, ON, tembi)
    (entry,) = programme.rows("audit", what="ward first rain")
    assert (entry["who"], entry["before"], entry["after"]) == (
        "tembi",
        {"on": None},
        {"on": "2026-11-12"},
    )


def test_a_large_ward_is_finished_in_the_background(programme, ward, tembi, monkeypatch):
    monkeypatch.setattr(ward_rain, "AT_ONCE", 2)
    outcome = ward_rain.declare(programme.services, ward, ON, tembi)
    assert (outcome.replanned, outcome.left) == (2, 1)
    assert "1 more follow" in outcome.sentence
    assert ward_rain.replan_left(programme.services) == 1
    assert ward_rain.replan_left(programme.services) == 0
    assert len(opening(programme)) == 3


def test_what_is_left_survives_a_crash_between_two_batches(programme, ward, tembi, monkeypatch):
    with writing(programme.services.engine) as c:
        ward_rains.add_declared(c, ward.id, date(2026, 10, 1), ON, tembi.id, programme.clock())
        ward_rains.ask_replans(c, ward.id)

    def crash(*_args):
        raise RuntimeError("killed")

    with monkeypatch.context() as patched:
        patched.setattr(ward_rain, "replan", crash)
        with pytest.raises(RuntimeError):
            ward_rain.replan_left(programme.services)
    assert len(programme.rows("replans_due")) == 3
    assert ward_rain.replan_left(programme.services) == 3
    assert len(opening(programme)) == 3


def test_other_wards_are_left_alone(programme, ward, tembi):
    with writing(programme.services.engine) as c:
        other = c.execute(
            insert(t.wards).values(name="Setiwe", zone="Africa/Lusaka").returning(t.wards.c.id)
        ).scalar_one()
    ward_rain.declare(programme.services, ward, ON, tembi)
    with reading(programme.services.engine) as c:
        assert ward_rains.declared(c, other, date(2026, 10, 1)) is None
        assert ward_rains.count_replans(c, other) == 0
