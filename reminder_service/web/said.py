"""What a page tells after an action: kept in the session until the next page shows it."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from flask import flash, get_flashed_messages


@dataclass(frozen=True, slots=True)
class Undo:
    """What takes an action back.

    Attributes
    ----------
    action : hold or release; how the button calls it
    ids : the notices
    back : path of the page to show then
    path : where the button leads; empty for the outbound queue's own
    """

    action: str
    ids: Sequence[int]
    back: str
    path: str = ""


def say(
    text: str, *, failed: bool = False, more: Sequence[str] = (), undo: Undo | None = None
) -> None:
    """Tell a person something on the next page that they see.

    Parameters
    ----------
    text : one sentence or two
    failed : whether nothing was done
    more : one line a change to the plan; many are folded
    undo : offered as a button
    """
    kept = {"text": text, "failed": failed, "more": list(more), "undo": undo and asdict(undo)}
    flash(json.dumps(kept))


def said() -> list[dict[str, object]]:
    """Everything to tell on this page; each is told once."""
    return [json.loads(str(text)) for text in get_flashed_messages()]
