"""One-time codes are those of the standard, and a step beside the present one is taken too."""

from base64 import b32encode
from datetime import UTC, datetime

import pytest

from reminder_service.work.second_factor import digits, plain, step_of

SECRET = b32encode(b"12345678901234567890").decode()

# RFC 6238, appendix B, the rows of SHA-1; the last six of its eight digits.
VECTORS = {
    59: "287082",
    1111111109: "081804",
    1111111111: "050471",
    1234567890: "005924",
    2000000000: "279037",
    20000000000: "353130",
}


@pytest.mark.parametrize(("at", "code"), VECTORS.items())
def test_the_vectors_of_rfc_6238_are_taken(at, code):
    assert step_of(SECRET, code, datetime.fromtimestamp(at, UTC)) == at // 30


@pytest.mark.parametrize(("late_s", "taken"), [(-30, True), (30, True), (90, False), (-90, False)])
def test_clocks_may_differ_by_one_step(late_s, taken):
    at = datetime.fromtimestamp(1234567890 + late_s, UTC)
    assert (step_of(SECRET, "005924", at) is not None) == taken


@pytest.mark.parametrize("code", ["", "00592", "0059240", "\u0660\u0660\u0665\u0669\u0662\u0664"])
def test_what_is_no_code_is_none(code):
    assert step_of(SECRET, code, datetime.fromtimestamp(1234567890, UTC)) is None


def test_spaces_and_dashes_do_not_matter():
    assert digits(" 005 924 ") == "005924"
    assert plain("abcd-EFGH ijkl") == "ABCDEFGHIJKL"
