"""Segments, checked against 3GPP TS 23.038 and against two independent packages."""

import random

import pytest
import smsutil
from gsmmodem.pdu import encodeSmsSubmitPdu
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.texts.alphabets import BASIC, EXTENSION
from reminder_service.texts.segments import cut, parts, segments

GSM_CHARS = sorted(BASIC | EXTENSION)
WIDE_CHARS = [
    "ŵ",
    "ç",
    "\N{RIGHT SINGLE QUOTATION MARK}",
    "\N{NO-BREAK SPACE}",
    "😀",
    "\U0001d49c",
    "ẹ",
]


@pytest.mark.parametrize(
    ("body", "encoding", "units", "count"),
    [
        pytest.param("", "gsm-7", 0, 0, id="nothing takes nothing"),
        pytest.param("a", "gsm-7", 1, 1, id="one letter"),
        pytest.param("a" * 160, "gsm-7", 160, 1, id="full lone segment"),
        pytest.param("a" * 161, "gsm-7", 161, 2, id="one over"),
        pytest.param("a" * 306, "gsm-7", 306, 2, id="two full parts"),
        pytest.param("a" * 307, "gsm-7", 307, 3, id="three parts"),
        pytest.param("€" * 80, "gsm-7", 160, 1, id="eighty euro signs"),
        pytest.param("a" * 152 + "€" + "a" * 7, "gsm-7", 161, 2, id="euro pushed over the border"),
        pytest.param("a" * 152 + "€" + "a" * 152, "gsm-7", 306, 3, id="padding costs a segment"),
        pytest.param("ŵ" * 70, "ucs-2", 70, 1, id="full lone ucs-2 segment"),
        pytest.param("ŵ" * 71, "ucs-2", 71, 2, id="ucs-2 one over"),
        pytest.param("ŵ" * 134, "ucs-2", 134, 2, id="two full ucs-2 parts"),
        pytest.param("ŵ" * 135, "ucs-2", 135, 3, id="three ucs-2 parts"),
        pytest.param("😀" * 35, "ucs-2", 70, 1, id="pairs fill a lone segment"),
        pytest.param("😀" * 67, "ucs-2", 134, 3, id="33 pairs a part, none split"),
        pytest.param("a" * 100 + "ç", "ucs-2", 101, 2, id="one small c cedilla turns all to ucs-2"),
        pytest.param("Ç" * 160, "gsm-7", 160, 1, id="capital C cedilla is in the alphabet"),
        pytest.param("\x1b", "ucs-2", 1, 1, id="the escape itself is no character"),
        pytest.param("\ud800", "ucs-2", 1, 1, id="lone surrogate"),
        pytest.param("\ud83d\ude00", "ucs-2", 2, 1, id="two surrogates side by side"),
    ],
)
def test_counts(body: str, encoding: str, units: int, count: int) -> None:
    assert segments(body) == type(segments(body))(encoding, units, count)  # type: ignore[arg-type]


def test_the_alphabet_has_127_characters_and_the_extension_ten() -> None:
    assert (len(BASIC), len(EXTENSION), BASIC & EXTENSION) == (127, 10, frozenset())


UNKNOWN_TO_THE_MODEM_PACKAGE = frozenset("§\f😀\U0001d49c")
"""Letters that python-gsmmodem-new has wrong: see the test that pins them."""


def generated_texts(total: int, without: frozenset[str] = frozenset()) -> list[str]:
    """Texts around every border, in both alphabets, with wide characters anywhere."""
    rng = random.Random(20261112)
    gsm_chars, extension, wide_chars = (
        sorted(set(letters) - without) for letters in (GSM_CHARS, EXTENSION, WIDE_CHARS)
    )
    borders = [0, 1, 67, 70, 134, 140, 153, 160, 201, 306, 459]
    texts = []
    for number in range(total):
        length = max(1, rng.choice(borders) + rng.randint(-4, 4))
        chars = rng.choices(gsm_chars if number % 4 else extension + ["a"] * 9, k=length)
        if number % 3 == 0:
            chars[rng.randrange(length)] = rng.choice(wide_chars)
        if number % 6 == 0:
            chars = rng.choices([*wide_chars, "a"], k=length)
        texts.append("".join(chars))
    return texts


def test_agrees_with_smsutil_on_twelve_thousand_generated_texts() -> None:
    # smsutil differs in two places, both left out here and pinned by the tests below: it counts
    # an empty text as one part, and the escape (U+001B) as a character of the alphabet.
    for body in generated_texts(12_000):
        split = smsutil.split(body)
        ours = segments(body)
        gsm = split.encoding == "gsm0338"
        theirs = ("gsm-7", split.total_bytes) if gsm else ("ucs-2", split.total_bytes // 2)
        assert (ours.encoding, ours.units, ours.segments) == (*theirs, len(split.parts)), body


def test_agrees_with_the_pdus_that_a_modem_package_builds_for_twelve_thousand_texts() -> None:
    for body in generated_texts(12_000, UNKNOWN_TO_THE_MODEM_PACKAGE):
        pdus = encodeSmsSubmitPdu("+447700900001", body)
        assert len(pdus) == segments(body).segments, body


def test_the_modem_package_lacks_two_letters_and_all_pairs_and_we_do_not() -> None:
    def theirs(body: str) -> int:
        return len(encodeSmsSubmitPdu("+447700900001", body))

    # TS 23.038, 6.2.1 and 6.2.1.1 have both letters; TS 23.040 counts a pair as two units.
    assert (theirs("§" * 160), segments("§" * 160).segments) == (3, 1)
    assert (theirs("\f" * 80), segments("\f" * 80).segments) == (2, 1)
    with pytest.raises(ValueError, match="byte must be in range"):
        theirs("😀")
    assert segments("😀").units == 2


def test_smsutil_counts_an_empty_text_as_one_part_and_we_as_none() -> None:
    assert (len(smsutil.split("").parts), segments("").segments) == (1, 0)


def test_smsutil_takes_the_escape_for_a_character_and_we_do_not() -> None:
    # A lone escape on the air would change the meaning of the character after it.
    assert (smsutil.split("\x1b").encoding, segments("\x1b").encoding) == ("gsm0338", "ucs-2")


@given(st.text(st.characters(), max_size=400))
def test_any_string_at_all_is_counted(body: str) -> None:
    found = segments(body)
    assert (found.segments == 0) == (body == "")
    room, part = (160, 153) if found.encoding == "gsm-7" else (70, 67)
    assert found.segments <= 1 if found.units <= room else found.segments >= found.units / part


@given(st.text(max_size=200), st.text(max_size=200))
def test_adding_text_never_takes_fewer_segments(first: str, second: str) -> None:
    assert segments(first + second).segments >= segments(first).segments


@given(st.lists(st.sampled_from([1, 2]), max_size=80), st.integers(2, 9))
def test_parts_hold_every_character_whole(widths: list[int], room: int) -> None:
    count = parts(widths, room)
    assert sum(widths) <= count * room
    assert count == 0 or sum(widths) > (count - 1) * (room - 1)


@given(st.text(max_size=400))
def test_a_text_is_cut_without_losing_a_letter(body: str) -> None:
    found = cut(body)
    assert found.count == segments(body)
    assert "".join(found.parts) == body and len(found.parts) == found.count.segments


@given(st.text("a€ŵ😀", min_size=1, max_size=400))
def test_letters_fit_into_the_room_left_and_one_more_does_not(body: str) -> None:
    found, filler = cut(body), "a"
    room = found.left
    # A text about to leave its one segment gets the shorter parts of several.
    assert segments(body + filler * room).segments == found.count.segments
    assert segments(body + filler * (room + 1)).segments == found.count.segments + 1


def test_a_pair_is_never_cut_in_two() -> None:
    found = cut("a" * 66 + "😀" + "a" * 65)
    assert [len(part) for part in found.parts] == [66, 66]


def test_an_empty_text_has_no_part() -> None:
    assert (cut("").parts, cut("").left) == ((), 160)
