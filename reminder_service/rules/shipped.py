"""The rulebooks that come with the package."""

from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from reminder_service.rules.errors import NoRulebook
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.rulebook import Rulebook

SUFFIX = ".toml"


def shipped_names() -> tuple[str, ...]:
    """Names of the shipped rulebooks, sorted.

    Returns
    -------
    the names
    """
    names = (entry.name for entry in rulebook_folder().iterdir())
    return tuple(sorted(name.removesuffix(SUFFIX) for name in names if name.endswith(SUFFIX)))


@cache
def shipped_rulebook(name: str = "maize-hand-hoe") -> Rulebook:
    """Rulebook that is shipped under a name.

    Parameters
    ----------
    name : one of ``shipped_names()``

    Returns
    -------
    the rulebook, read once

    Raises
    ------
    NoRulebook
        None of this name is shipped.
    RulebookError
        The file has faults.
    """
    if name not in shipped_names():
        raise NoRulebook(name, shipped_names())
    return load_rulebook((rulebook_folder() / f"{name}{SUFFIX}").read_text("utf-8"))


def rulebook_folder() -> Traversable:
    """Folder of the shipped rulebooks and of their schema.

    Returns
    -------
    the folder
    """
    return files("reminder_service.rules") / "rulebooks"
