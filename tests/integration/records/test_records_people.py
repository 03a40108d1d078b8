"""People, the audit log, and the ticks."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from records_cast import HOUR, NOW, a_person

from reminder_service.records import audit, farmers, people, ticks
from reminder_service.records.engine import reading, writing
from reminder_service.records.errors import AlreadyThere
from reminder_service.records.tables import Role
from reminder_service.records.ticks import Tick


def test_a_person_comes_back_with_their_wards(c):
    wards = [farmers.add_ward(c, name, "Africa/Lusaka") for name in ("Olmara", "Setiwe")]
    id_ = people.add_person(
        c,
        login="tembi",
        name="Tembi",
        password_hash="$argon2id$x",
        role=Role.PROGRAMME_LEAD,
        ward_ids=[*wards, wards[0]],
    )
    person = people.person_by_login(c, "tembi")
    assert person == people.person_by_id(c, id_)
    assert (person.id, person.name, person.role) == (id_, "Tembi", Role.PROGRAMME_LEAD)
    assert person.ward_ids == frozenset(wards) and person.active
    assert (person.failed_logins, person.locked_until) == (0, None)


def test_nobody_is_found_by_an_unknown_login_or_id(c):
    assert people.person_by_login(c, "ruva") is None and people.person_by_id(c, 77) is None


def test_a_login_belongs_to_one_person(c):
    a_person(c)
    with pytest.raises(AlreadyThere, match='"tembi"'):
        a_person(c)


def test_session_keys_are_not_alike_and_can_be_renewed(c):
    ids = [a_person(c, login) for login in ("tembi", "ruva")]
    assert len({people.person_by_id(c, id_).session_key for id_ in ids}) == 2
    people.set_session_key(c, ids[0], "new")
    assert people.person_by_id(c, ids[0]).session_key == "new"
    assert people.person_by_id(c, ids[1]).session_key != "new"


def test_wrong_passwords_are_counted_until_a_right_one(c):
    id_ = a_person(c)
    for _ in range(3):
        people.note_login(c, id_, False, NOW + HOUR)
    person = people.person_by_id(c, id_)
    assert (person.failed_logins, person.locked_until) == (3, NOW + HOUR)
    people.note_login(c, id_, True, None)
    person = people.person_by_id(c, id_)
    assert (person.failed_logins, person.locked_until) == (0, None)


def test_wrong_passwords_at_the_same_moment_are_all_counted(engine):
    with writing(engine) as c:
        id_ = a_person(c)

    def fail(_):
        with writing(engine) as c:
            people.note_login(c, id_, False, None)

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(fail, range(24)))
    with reading(engine) as c:
        assert people.person_by_id(c, id_).failed_logins == 24


def test_the_audit_log_says_who_did_what_the_last_first(c):
    for what in ("hold", "release", "withdraw"):
        audit.note(c, at=NOW, who="tembi", what=what, subject="notice 1", after={"state": what})
    audit.note(c, at=NOW, who="ruva", what="hold", subject="notice 11")
    last = audit.audit_of(c, "notice 1", limit=2)
    assert [(entry.what, entry.after) for entry in last] == [
        ("withdraw", {"state": "withdraw"}),
        ("release", {"state": "release"}),
    ]
    assert (last[0].at, last[0].who, last[0].before) == (NOW, "tembi", None)


def test_a_tick_is_noted_when_it_starts_and_when_it_ends(c):
    ticks.tick_started(c, "sweep", NOW)
    assert ticks.ticks(c) == [Tick("sweep", NOW, None, None)]
    ticks.tick_ended(c, "sweep", NOW + HOUR, "the database is away")
    assert ticks.ticks(c) == [Tick("sweep", NOW, NOW + HOUR, "the database is away")]


def test_a_new_run_forgets_the_one_before(c):
    ticks.tick_started(c, "sweep", NOW)
    ticks.tick_ended(c, "sweep", NOW, "failed")
    ticks.tick_started(c, "sweep", NOW + HOUR)
    ticks.tick_started(c, "dispatch", NOW)
    assert ticks.ticks(c) == [
        Tick("dispatch", NOW, None, None),
        Tick("sweep", NOW + HOUR, None, None),
    ]
