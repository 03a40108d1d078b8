"""National shift tables, checked against gsmcodecs, whose tables are those of TS 23.038 v18."""

import random

import gsmcodecs  # noqa: F401 (registers the codecs)
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.texts.alphabets import (
    DEFAULT,
    PORTUGUESE_LOCKING,
    PORTUGUESE_SINGLE,
    SHIFT_TABLES,
)
from reminder_service.texts.letters import costly_letters
from reminder_service.texts.segments import segments

BOTH, SINGLE = SHIFT_TABLES["portuguese"], SHIFT_TABLES["portuguese-single"]
CODECS = {
    "default": (DEFAULT, "gsm23.038-0-0"),
    "both": (BOTH, "gsm23.038-3-3"),
    "single": (SINGLE, "gsm23.038-0-3"),
}
EVERYWHERE = [chr(code) for code in range(0x3000) if code != 0x1B]
PORTUGUESE = "aeios ãáâàçéêíóõôú ÃÁÇÉÊÓÕ €"


def encoded(letters: str, codec: str) -> bytes | None:
    try:
        return letters.encode(codec)
    except UnicodeEncodeError:
        return None


@pytest.mark.parametrize(("tables", "codec"), CODECS.values(), ids=CODECS)
def test_every_letter_takes_as_many_septets_as_in_another_package(tables, codec):
    for letter in EVERYWHERE:
        septets = 1 if letter in tables.locking else 2 if letter in tables.single else None
        theirs = encoded(letter, codec)
        assert septets == (theirs and len(theirs)), hex(ord(letter))


def test_the_portuguese_tables_have_as_many_letters_as_the_standard():
    assert (len(PORTUGUESE_LOCKING), len(PORTUGUESE_SINGLE)) == (127, 37)


# Rooms worked from TS 23.040, 9.2.3.24: the octets of a header, and the septets they fill.
@pytest.mark.parametrize(
    ("tables", "octets", "several_octets"),
    [
        pytest.param(DEFAULT, 0, 6, id="no table"),
        pytest.param(SINGLE, 4, 9, id="one table"),
        pytest.param(BOTH, 7, 12, id="two tables"),
    ],
)
def test_a_header_takes_whole_septets_from_the_room(tables, octets, several_octets):
    assert tables.room(several=False) == 160 - -(-octets * 8 // 7)
    assert tables.room(several=True) == 160 - -(-several_octets * 8 // 7)


@pytest.mark.parametrize(
    ("body", "tables", "units", "count"),
    [
        pytest.param("a" * 160, BOTH, 160, 1, id="no header for the default alphabet"),
        pytest.param("ã" * 152, BOTH, 152, 1, id="full lone segment, two tables"),
        pytest.param("ã" * 153, BOTH, 153, 2, id="one over, two tables"),
        pytest.param("ã" * 292, BOTH, 292, 2, id="two full parts, two tables"),
        pytest.param("ã" * 293, BOTH, 293, 3, id="three parts, two tables"),
        pytest.param("a" * 153 + "ã", SINGLE, 155, 1, id="full lone segment, one table"),
        pytest.param("a" * 154 + "ã", SINGLE, 156, 2, id="one over, one table"),
        pytest.param("a" * 148 + "ã" + "a" * 148, SINGLE, 298, 3, id="padding, one table"),
        pytest.param("ã" * 71, DEFAULT, 71, 2, id="ucs-2 without tables"),
    ],
)
def test_counts_with_tables(body, tables, units, count):
    found = segments(body, tables)
    assert (found.units, found.segments) == (units, count)


def parts_by_codec(body: str, codec: str, named: int) -> int | None:
    """Parts that another package's octets fill: each letter encoded whole, counted in bits."""
    if encoded(body, codec) is None:
        return None
    lone_bits = (140 - (1 + 3 * named if named else 0)) * 8
    if len(body.encode(codec)) * 7 <= lone_bits:
        return min(len(body), 1)
    part_bits, count, left = (140 - (6 + 3 * named)) * 8, 0, 0
    for letter in body:
        bits = len(letter.encode(codec)) * 7
        if bits > left:
            count, left = count + 1, part_bits
        left -= bits
    return count


@pytest.mark.parametrize("name", ["both", "single"])
def test_agrees_with_the_octets_of_another_package_on_ten_thousand_texts(name):
    tables, codec = CODECS[name]
    rng, borders = random.Random(23038), [1, 70, 76, 146, 149, 152, 155, 160, 292, 298, 438]
    letters = sorted(PORTUGUESE_LOCKING | PORTUGUESE_SINGLE)
    for number in range(10_000):
        length = max(1, rng.choice(borders) + rng.randint(-4, 4))
        body = "".join(rng.choices(PORTUGUESE if number % 2 else letters, k=length))
        found = segments(body, tables)
        # What the default alphabet holds is sent without a header.
        plain = parts_by_codec(body, "gsm23.038-0-0", 0)
        expected = plain or parts_by_codec(body, codec, tables.named)
        assert (found.encoding == "gsm-7") == (expected is not None), body
        assert expected is None or found.segments == expected, body


@given(st.text(PORTUGUESE + "ŵè", max_size=500))
@pytest.mark.parametrize("tables", SHIFT_TABLES.values(), ids=SHIFT_TABLES)
def test_tables_never_make_a_text_dearer(tables, body):
    assert segments(body, tables).segments <= segments(body).segments


@given(st.text(PORTUGUESE + "ŵè", max_size=200))
@pytest.mark.parametrize("tables", SHIFT_TABLES.values(), ids=SHIFT_TABLES)
def test_a_text_is_ucs_2_for_the_sake_of_its_costly_letters_alone(tables, body):
    costly = costly_letters(body, tables)
    assert bool(costly) == (segments(body, tables).encoding == "ucs-2")
    without = "".join(letter for letter in body if letter not in costly)
    assert segments(without, tables).encoding == "gsm-7"
