"""What can go wrong in this room: data files and wordings, never what a farmer writes."""

from collections.abc import Collection, Sequence


class WordListError(ValueError):
    """A language's word list has faults; all of them are listed."""

    def __init__(self, language: str, faults: Sequence[str]) -> None:
        super().__init__(
            f"word list {language!r} has {len(faults)} fault(s): {'; '.join(faults)}; "
            f"correct reminder_service/texts/words/{language}.toml"
        )
        self.language = language
        self.faults = tuple(faults)


class NoWordList(ValueError):
    """No word list of this language is shipped."""

    def __init__(self, language: str, known: Sequence[str]) -> None:
        super().__init__(
            f"language is {language!r}, expected one of {', '.join(known)}: choose one of them"
        )
        self.language = language
        self.known = tuple(known)


class NoCatalogue(ValueError):
    """No catalogue of this language is shipped."""

    def __init__(self, language: str, known: Sequence[str]) -> None:
        super().__init__(
            f"language is {language!r}, expected one of {', '.join(known) or 'none'}: "
            "choose one of them, or add its catalogue"
        )
        self.language = language
        self.known = tuple(known)


class WordingError(ValueError):
    """A template names a placeholder that it may not use, or is no template at all."""

    def __init__(self, template: str, got: str, expected: Collection[str]) -> None:
        names = ", ".join(f"{{{name}}}" for name in sorted(expected))
        super().__init__(
            f"template {template!r} has {got}, expected only {names}: correct the template"
        )
        self.template = template
        self.got = got
        self.expected = frozenset(expected)
