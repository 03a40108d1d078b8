"""Bodies of texts that nobody would write, and nearly what farmers write, from a seed.

Every fifth body is one of each: random bytes, random Unicode, a heap of listed words and numbers
with blanks or without, a text of the corpora with some keys wrong, and a long repeat.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from functools import cache

from texts_cast import TASKS, corpus, languages_with_a_corpus

from reminder_service.texts.words import shipped_languages, word_list

LONGEST_INBOUND = 10_000
"""Bytes of the longest body made."""

SIGNS = ("/", ".", "-", ",", ":", "?", "!", "'", "%", "\n", "½", "²", "٣", "ﷺ", "w\u0302", "\u200b")

ALPHABET = "abcdefghijklmnopqrstuvwxyz 0123456789./-,ãçéŵ"


@cache
def vocabulary() -> Sequence[str]:
    """Every phrase of every word list, and the words for tasks."""
    lists = [word_list(language) for language in shipped_languages()]
    listed = {" ".join(phrase) for words in lists for phrase in words.phrases}
    named = [
        phrases for tasks in (TASKS, *(each.tasks for each in lists)) for phrases in tasks.values()
    ]
    return sorted(listed.union(*named))


@cache
def corpus_bodies() -> Sequence[str]:
    """The texts of every corpus."""
    return [each.body for language in languages_with_a_corpus() for each in corpus(language)]


def fuzzed_bodies(seed: int) -> Iterator[bytes]:
    """Bodies without end; the same ones for the same seed."""
    rng = random.Random(seed)
    makers: Sequence[Callable[[random.Random], bytes]] = (_bytes, _unicode, _heap, _typed, _repeat)
    while True:
        for make in makers:
            yield make(rng)[:LONGEST_INBOUND]


def _length(rng: random.Random) -> int:
    """Mostly that of a text, sometimes any."""
    return rng.randint(0, LONGEST_INBOUND if rng.random() < 0.02 else 160)


def _bytes(rng: random.Random) -> bytes:
    return rng.randbytes(_length(rng))


def _unicode(rng: random.Random) -> bytes:
    most = rng.choice((0x7F, 0x24F, 0xFFFF, 0x10FFFF))
    text = "".join(chr(rng.randint(0x20, most)) for _ in range(_length(rng)))
    return text.encode("utf-8", "surrogatepass")


def _number(rng: random.Random) -> str:
    number, other = rng.randint(0, 40), rng.randint(0, 14)
    forms = (str(number), f"{number}{rng.choice('/.-')}{other}", str(10 ** rng.randint(0, 12)))
    return rng.choice(forms)


def _piece(rng: random.Random) -> str:
    chance = rng.random()
    if chance < 0.6:
        return rng.choice(vocabulary())
    return _number(rng) if chance < 0.85 else rng.choice(SIGNS)


def _heap(rng: random.Random) -> bytes:
    between = rng.choice((" ", " ", "", ", "))
    heap = between.join(_piece(rng) for _ in range(rng.randint(1, rng.choice((6, 6, 6, 60)))))
    return (heap.upper() if rng.random() < 0.3 else heap).encode()


def _typed(rng: random.Random) -> bytes:
    """Take a text of the corpora and press some keys wrongly, or run two of them together."""
    text = rng.choice(corpus_bodies())
    if rng.random() < 0.2:
        text = text[: rng.randint(0, len(text))] + rng.choice(corpus_bodies())
    for _ in range(rng.randint(0, 4)):
        at, more = rng.randint(0, len(text)), rng.randint(0, 2)
        key = rng.choice(("", rng.choice(ALPHABET), text[at : at + 2][::-1], rng.choice(SIGNS)))
        text = text[:at] + key + text[at + more :]
    return text.encode()


def _repeat(rng: random.Random) -> bytes:
    unit = rng.choice((_piece, _piece, lambda rng: _typed(rng).decode()))(rng)
    unit += rng.choice(("", " ", ","))
    most = rng.choice((60, 60, 160, 160, 160, 1000, LONGEST_INBOUND))
    return (unit * (most // max(1, len(unit.encode())))).encode()
