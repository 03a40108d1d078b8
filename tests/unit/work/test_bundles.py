"""How the notices of one phone become texts."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.kinds import Stage
from reminder_service.records.queue import ClaimedNotice
from reminder_service.texts.alphabets import DEFAULT, SHIFT_TABLES
from reminder_service.texts.segments import segments
from reminder_service.work.bundles import Room, bundles, written_for
from reminder_service.work.handing_over import retry_wait_s

NOW = datetime(2026, 12, 5, 8, 0, tzinfo=UTC)


def claimed(id_: int, body: str = "Thin.", **fields) -> ClaimedNotice:
    known = {
        "phone_id": 1,
        "number": "+447700900001",
        "segments": segments(body).segments,
        "stage": Stage.OPENS,
        "importance": 3,
        "send_at": NOW,
        "expires_at": NOW + timedelta(days=7),
        "tries": 1,
        "zone": "Africa/Lusaka",
        "attempt_id": None,
        "client_reference": None,
    }
    return ClaimedNotice(id=id_, body=body, **(known | fields))


def at_most(limit: int | None):
    return lambda _notice: Room(limit, DEFAULT if limit else None)


def test_notices_of_one_phone_are_joined_where_they_fit():
    (bundle,) = bundles([claimed(1, "Thin."), claimed(2, "Weed.")], at_most(2))
    assert bundle.body == "Thin.\nWeed."


def test_phones_are_never_mixed():
    made = bundles([claimed(1), claimed(2, number="+447700900002")], at_most(2))
    assert [len(bundle.notices) for bundle in made] == [1, 1]


def test_a_text_over_the_limit_still_goes_alone():
    made = bundles([claimed(1, "x" * 400), claimed(2)], at_most(2))
    assert sorted(len(bundle.body) for bundle in made) == [5, 400]


def test_a_reply_stands_alone_and_goes_first():
    made = bundles([claimed(1), claimed(2, "Thank you.", stage=Stage.REPLY)], at_most(2))
    assert [bundle.body for bundle in made] == ["Thank you.", "Thin."]


def test_what_expires_first_goes_first():
    late = claimed(1, number="+447700900001")
    soon = claimed(2, number="+447700900002", expires_at=NOW + timedelta(days=1))
    assert [bundle.notices[0].id for bundle in bundles([late, soon], at_most(2))] == [2, 1]


def test_where_segments_do_not_count_everything_of_a_phone_is_one_text():
    (bundle,) = bundles([claimed(n, "x" * 400) for n in (1, 2, 3)], at_most(None))
    assert len(bundle.notices) == 3


def test_the_same_members_carry_the_same_reference_in_any_order():
    notices = [claimed(1), claimed(2)]
    (one,), (other,) = bundles(notices, at_most(2)), bundles(notices[::-1], at_most(2))
    assert (one.reference, one.body) == (other.reference, other.body)
    assert bundles([claimed(1)], at_most(2))[0].reference != one.reference


def test_a_bundle_in_doubt_is_put_together_again_as_it_was():
    doubtful = [
        claimed(n, f"Text {n}.", attempt_id=7, client_reference="r7", importance=9 - n)
        for n in (3, 1)
    ]
    made = bundles([*doubtful, claimed(2)], at_most(1))
    assert {(bundle.body, bundle.reference == "r7") for bundle in made} == {
        ("Text 1.\nText 3.", True),
        ("Thin.", False),
    }


@pytest.fixture
def rule(monkeypatch):
    """Language ny may write w for ŵ, and nothing else."""
    rules = {"ny": {"ŵ": "w"}}
    found = lambda language: rules.get(language, {})  # noqa: E731
    monkeypatch.setattr("reminder_service.texts.letters.letters_of", found)


def test_letters_that_only_cost_in_a_joined_text_are_replaced_there(rule):
    notices = [claimed(1, "ŵeed ŵell.", language="ny"), claimed(2, "x" * 100, language="ny")]
    (bundle,) = bundles(notices, at_most(1))
    assert len(bundle.body) == 111 and segments(bundle.body).segments == 1


def test_letters_are_kept_where_segments_do_not_count(rule):
    notices = [claimed(1, "ŵ", language="ny"), claimed(2, "x" * 100, language="ny")]
    (bundle,) = bundles(notices, at_most(None))
    assert bundle.body.startswith("ŵ")


def test_a_carriers_tables_join_more_texts():
    notices = [claimed(1, "ã" * 70), claimed(2, "õ" * 70)]
    tables = SHIFT_TABLES["portuguese"]
    assert len(bundles(notices, at_most(1))) == 2
    assert len(bundles(notices, lambda _notice: Room(1, tables))) == 1


def test_a_bundle_is_written_anew_for_the_carrier_that_takes_it(rule):
    (bundle,) = bundles([claimed(1, "ŵ" + "x" * 100, language="ny")], at_most(2))
    by_chat = written_for(bundle, None)
    assert (bundle.body[0], by_chat.body[0]) == ("w", "ŵ")
    assert by_chat.reference == bundle.reference
    assert written_for(by_chat, DEFAULT) == bundle


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(1, 200), st.booleans()), max_size=12))
def test_every_notice_is_in_exactly_one_text_and_joined_texts_fit(drawn):
    notices = [
        claimed(
            n,
            "x" * length,
            number=f"+44770090000{phone}",
            stage=Stage.REPLY if reply else Stage.OPENS,
        )
        for n, (phone, length, reply) in enumerate(drawn)
    ]
    made = bundles(notices, at_most(2))
    assert sorted(n.id for bundle in made for n in bundle.notices) == list(range(len(notices)))
    for bundle in made:
        assert len({notice.number for notice in bundle.notices}) == 1
        assert len(bundle.notices) == 1 or segments(bundle.body).segments <= 2


@given(st.integers(1, 40), st.floats(0, 1e9))
def test_waits_grow_to_the_cap_and_never_undercut_the_gateway(tries, asked_s):
    wait_s = retry_wait_s(tries, 60, 3600, asked_s)
    assert wait_s >= asked_s
    assert min(60 * 2 ** (tries - 1), 3600) <= wait_s <= max(3600, asked_s)
