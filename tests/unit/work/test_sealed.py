"""Sealed files: what goes in comes out, from any place, and no change goes unseen."""

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.work import sealed
from reminder_service.work.sealed import BadSeal, SealedReader, SealedWriter, is_sealed

PASSPHRASE = "stations of maize by hand"
PART = 64


@pytest.fixture(autouse=True)
def small_and_cheap(monkeypatch):
    monkeypatch.setattr(sealed, "PART_BYTES", PART)
    monkeypatch.setattr(sealed, "COST_LOG2", 4)


def closed_over(*pieces: bytes) -> bytes:
    out = io.BytesIO()
    with SealedWriter(out, PASSPHRASE) as writer:
        for piece in pieces:
            writer.write(piece)
    return out.getvalue()


def opened(file: bytes, passphrase: str = PASSPHRASE) -> bytes:
    return io.BufferedReader(SealedReader(io.BytesIO(file), passphrase)).read()


@pytest.mark.parametrize("size", [0, 1, PART - 1, PART, PART + 1, 3 * PART, 10 * PART + 7])
def test_what_goes_in_comes_out(size):
    text = bytes(n % 251 for n in range(size))
    assert opened(closed_over(text)) == text


@given(st.lists(st.binary(max_size=3 * PART), max_size=5))
def test_it_does_not_matter_in_which_pieces_it_is_written(pieces):
    assert opened(closed_over(*pieces)) == b"".join(pieces)


@given(st.integers(0, 4 * PART), st.integers(0, 2 * PART))
def test_any_place_can_be_read(start, length):
    text = bytes(n % 251 for n in range(4 * PART))
    reader = io.BufferedReader(SealedReader(io.BytesIO(closed_over(text)), PASSPHRASE))
    reader.seek(start)
    assert reader.read(length) == text[start : start + length]


def test_the_text_is_not_in_the_file():
    assert b"+447700900001" not in closed_over(b"+447700900001" * 20)


def test_the_same_text_is_sealed_differently_each_time():
    assert closed_over(b"maize") != closed_over(b"maize")


def test_another_passphrase_opens_nothing():
    with pytest.raises(BadSeal, match="the passphrase is another"):
        opened(closed_over(b"maize"), "another passphrase")


@given(st.data())
def test_a_changed_bit_is_found(data):
    file = bytearray(closed_over(b"x" * (3 * PART + 5)))
    place = data.draw(st.integers(len(sealed.MAGIC), len(file) - 1))
    file[place] ^= 1 << data.draw(st.integers(0, 7))
    with pytest.raises(BadSeal):
        opened(bytes(file))


@pytest.mark.parametrize("left", [0, 10, 33, 34, 40, 34 + PART + 16, 34 + 2 * (PART + 16)])
def test_a_file_cut_off_is_found_even_between_two_parts(left):
    file = closed_over(b"x" * (3 * PART))
    with pytest.raises(BadSeal):
        opened(file[:left])


def test_parts_that_changed_places_are_found():
    file = closed_over(b"a" * PART + b"b" * PART + b"c")
    head, size = file[: sealed.HEADER_BYTES], PART + sealed.TAG_BYTES
    first, second, rest = (
        file[len(head) :][:size],
        file[len(head) + size :][:size],
        file[len(head) + 2 * size :],
    )
    with pytest.raises(BadSeal):
        opened(head + second + first + rest)


def test_a_short_passphrase_is_refused():
    with pytest.raises(BadSeal, match="shorter than 16"):
        SealedWriter(io.BytesIO(), "maize")


def test_a_sealed_file_is_known_by_its_beginning():
    assert is_sealed(io.BytesIO(closed_over(b"maize")))
    assert not is_sealed(io.BytesIO(b"PK\x03\x04"))
