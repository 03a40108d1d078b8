"""What a refusal carries and says."""

import pickle

import pytest

from reminder_service.agronomy.errors import OutOfRange, check_within


def test_message_says_field_value_expected_and_what_to_do() -> None:
    refusal = OutOfRange("cup_ml", 0, "0.5 to 250 ml")
    assert str(refusal) == "cup_ml is 0, expected 0.5 to 250 ml: put cup_ml right and ask again"


def test_carries_its_fields_through_a_process_boundary() -> None:
    copy = pickle.loads(pickle.dumps(OutOfRange("doses", 9, "1 to 6 doses")))
    assert (copy.field, copy.got, copy.expected) == ("doses", 9, "1 to 6 doses")


@pytest.mark.parametrize("edge", [1, 6])
def test_both_ends_of_a_range_are_taken_and_the_next_are_not(edge: int) -> None:
    check_within("doses", edge, 1, 6, "doses")
    with pytest.raises(OutOfRange):
        check_within("doses", edge + (1 if edge == 6 else -1), 1, 6, "doses")


@pytest.mark.parametrize("outside", [0, 7, float("nan"), float("inf"), float("-inf")])
def test_outside_a_range_is_refused(outside: float) -> None:
    with pytest.raises(OutOfRange):
        check_within("doses", outside, 1, 6, "doses")
