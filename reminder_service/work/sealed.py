"""Files sealed with a passphrase: scrypt for the key, AES-GCM for the text, part by part.

Each part has a nonce of a random beginning, its place and whether it is the last, so that parts
cannot be changed, moved, left out or cut off unseen (the STREAM construction). The header is
authenticated with every part. A sealed file is read from any place, so nothing is unsealed on disk.

References
----------
scrypt: RFC 7914. Its cost: OWASP Password Storage Cheat Sheet, scrypt N=2^17, r=8, p=1 (from
memory). STREAM: Hoang, Reyhanitabar, Rogaway, Vizár, Online Authenticated-Encryption and its
Nonce-Reuse Misuse-Resistance, 2015 (from memory).
"""

import io
import os
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from typing_extensions import Buffer

from reminder_service.errors import ReminderError

MAGIC = b"RMSEAL1\n"
COST_LOG2, BLOCK, PARALLEL = 17, 8, 1
SALT_BYTES, PREFIX_BYTES, TAG_BYTES = 16, 7, 16
HEADER_BYTES = len(MAGIC) + 3 + SALT_BYTES + PREFIX_BYTES
PART_BYTES = 1 << 20
"""Bytes of text in each part but the last (setting; part of the format)."""

SHORTEST_PASSPHRASE = 16
"""Letters (setting)."""


class BadSeal(ReminderError):
    """A sealed file cannot be opened; the message says what to do."""


def is_sealed(file: BinaryIO) -> bool:
    """Whether a file begins as a sealed one; its place is set back to the beginning."""
    begins = file.read(len(MAGIC))
    file.seek(0)
    return begins == MAGIC


def _cipher(passphrase: str, header: bytes) -> AESGCM:
    cost, block, parallel = header[len(MAGIC) : len(MAGIC) + 3]
    if (cost, block, parallel) != (COST_LOG2, BLOCK, PARALLEL):
        raise BadSeal("the seal's cost is not one that this release makes: use the later release")
    salt = header[len(MAGIC) + 3 :][:SALT_BYTES]
    kdf = Scrypt(salt=salt, length=32, n=1 << cost, r=block, p=parallel)
    return AESGCM(kdf.derive(passphrase.encode()))


def _nonce(header: bytes, place: int, last: bool) -> bytes:
    return header[-PREFIX_BYTES:] + place.to_bytes(4, "big") + bytes([last])


class SealedWriter(io.RawIOBase):
    """Seals what is written; `close` seals the last part, without which nothing opens.

    Parameters
    ----------
    out : where the sealed bytes go; it stays open
    passphrase : of at least `SHORTEST_PASSPHRASE` letters

    Raises
    ------
    BadSeal
        The passphrase is too short.
    """

    def __init__(self, out: BinaryIO, passphrase: str) -> None:
        super().__init__()
        if len(passphrase) < SHORTEST_PASSPHRASE:
            raise BadSeal(f"the passphrase is shorter than {SHORTEST_PASSPHRASE} letters")
        cost = bytes([COST_LOG2, BLOCK, PARALLEL])
        self._header = MAGIC + cost + os.urandom(SALT_BYTES + PREFIX_BYTES)
        self._cipher = _cipher(passphrase, self._header)
        self._out, self._waiting, self._place = out, bytearray(), 0
        out.write(self._header)

    def writable(self) -> bool:
        """Yes."""
        return True

    def write(self, given: Buffer, /) -> int:
        """Take bytes; whole parts are sealed at once."""
        taken = bytes(given)
        self._waiting += taken
        while len(self._waiting) > PART_BYTES:  # the last part is known only at the end
            self._seal(bytes(self._waiting[:PART_BYTES]), last=False)
            del self._waiting[:PART_BYTES]
        return len(taken)

    def close(self) -> None:
        """Seal what is left as the last part."""
        if not self.closed:
            self._seal(bytes(self._waiting), last=True)
        super().close()

    def _seal(self, text: bytes, *, last: bool) -> None:
        nonce = _nonce(self._header, self._place, last)
        self._out.write(self._cipher.encrypt(nonce, text, self._header))
        self._place += 1


class SealedReader(io.RawIOBase):
    """Opens a sealed file at any place; whatever was changed, moved or cut off is refused.

    Parameters
    ----------
    file : the sealed file; it stays open
    passphrase : the one it was sealed with

    Raises
    ------
    BadSeal
        The passphrase is another, or the file was changed or cut off.
    """

    def __init__(self, file: BinaryIO, passphrase: str) -> None:
        super().__init__()
        size = file.seek(0, os.SEEK_END) - HEADER_BYTES
        file.seek(0)
        self._header = file.read(HEADER_BYTES)
        if len(self._header) < HEADER_BYTES or not self._header.startswith(MAGIC):
            raise BadSeal("this is no sealed file, or its beginning is lost")
        whole = PART_BYTES + TAG_BYTES
        self._parts = max(-(-size // whole), 1)
        self._size = size - self._parts * TAG_BYTES
        self._cipher = _cipher(passphrase, self._header)
        self._file, self._at, self._held = file, 0, (-1, b"")
        self._part(self._parts - 1)  # a file cut short, or another passphrase, is found at once

    def readable(self) -> bool:
        """Yes."""
        return True

    def seekable(self) -> bool:
        """Yes."""
        return True

    def tell(self) -> int:
        """Place in the unsealed text."""
        return self._at

    def seek(self, offset: int, whence: int = os.SEEK_SET, /) -> int:
        """Go to a place in the unsealed text."""
        start = {os.SEEK_SET: 0, os.SEEK_CUR: self._at, os.SEEK_END: self._size}[whence]
        if start + offset < 0:
            raise ValueError(f"place {start + offset} is before the beginning")
        self._at = start + offset
        return self._at

    def readinto(self, into: Buffer, /) -> int:
        """Read from the part at the present place."""
        view = memoryview(into).cast("B")
        if self._at >= self._size or not view:
            return 0
        place, begins = divmod(self._at, PART_BYTES)
        found = self._part(place)[begins : begins + len(view)]
        view[: len(found)] = found
        self._at += len(found)
        return len(found)

    def _part(self, place: int) -> bytes:
        if self._held[0] != place:
            self._file.seek(HEADER_BYTES + place * (PART_BYTES + TAG_BYTES))
            sealed = self._file.read(PART_BYTES + TAG_BYTES)
            nonce = _nonce(self._header, place, place == self._parts - 1)
            try:
                self._held = (place, self._cipher.decrypt(nonce, sealed, self._header))
            except InvalidTag as fault:
                raise BadSeal(
                    "the seal does not open: the passphrase is another, or the file was changed "
                    "or cut off; try the right passphrase, else an earlier backup"
                ) from fault
        return self._held[1]
