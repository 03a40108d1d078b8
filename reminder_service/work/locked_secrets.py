"""Secrets that we must use again, locked with a key made from the session secret."""

from base64 import urlsafe_b64encode

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from reminder_service.errors import ReminderError
from reminder_service.session_secret import session_secret
from reminder_service.settings import Settings


class BadLock(ReminderError):
    """A locked secret cannot be opened: the session secret was changed since; make it anew."""


def _fernet(settings: Settings) -> Fernet:
    derived = HKDF(SHA256(), 32, salt=None, info=b"locked secrets").derive(
        session_secret(settings).encode()
    )
    return Fernet(urlsafe_b64encode(derived))


def locked(settings: Settings, secret: str) -> str:
    """A secret as it may be kept in the records."""
    return _fernet(settings).encrypt(secret.encode()).decode("ascii")


def unlocked(settings: Settings, kept: str) -> str:
    """A secret that was kept.

    Raises
    ------
    BadLock
        The session secret is not the one that it was locked with.
    """
    try:
        return _fernet(settings).decrypt(kept.encode("ascii")).decode()
    except InvalidToken:
        raise BadLock(BadLock.__doc__) from None
