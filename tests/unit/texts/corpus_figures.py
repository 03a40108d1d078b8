"""Precision, recall and wrong days of the corpora; run by hand it prints them as a table.

Every text is read as the service reads it: in the farmer's language first, then in the others. A
report counts as read rightly if all of it is as the corpus says: kind, day, plots and numbers. A
wrong day is a report of a kind on a day on which the sender meant none of that kind.
"""

from dataclasses import dataclass

from texts_cast import TASKS, corpus, languages_with_a_corpus

from reminder_service.texts.reading_in import read_in


@dataclass(frozen=True)
class Figures:
    """What became of the texts of one language under one farmer's language.

    Attributes
    ----------
    texts : how many there are
    meant, read, right : what they say, what was read, and what of it was read rightly
    wrong_days : bodies of the texts in which a wrong day was read
    """

    texts: int
    meant: int
    read: int
    right: int
    wrong_days: tuple[str, ...]

    @property
    def precision(self) -> float:
        """Share of what was read that is right."""
        return self.right / self.read

    @property
    def recall(self) -> float:
        """Share of what is said that was read rightly."""
        return self.right / self.meant


def corpus_figures(written_in: str, farmers: str) -> Figures:
    """Figures of one corpus, each text sent by a farmer of a language."""
    examples = corpus(written_in)
    meant = read = right = 0
    wrong_days = []
    for example in examples:
        wanted = example.meant or example.reads
        found, _ = read_in(example.body, example.on, [farmers], TASKS, example.keeper)
        meant += len(wanted)
        read += len(found.said)
        right += sum(said in wanted for said in found.said)
        days = {(said.kind, said.on) for said in wanted}
        if any((said.kind, said.on) not in days for said in found.said):
            wrong_days.append(example.body)
    return Figures(len(examples), meant, read, right, tuple(wrong_days))


def table() -> str:
    """Figures of every corpus under every language, its own first."""
    head = "texts in  farmer's  texts  said  read  right  precision  recall  wrong days"
    lines = [head]
    languages = languages_with_a_corpus()
    for written_in in languages:
        for farmers in sorted(languages, key=lambda each: each != written_in):
            found = corpus_figures(written_in, farmers)
            lines.append(
                f"{written_in:8}  {farmers:8}  {found.texts:5}  {found.meant:4}  {found.read:4}  "
                f"{found.right:5}  {found.precision:9.3f}  {found.recall:6.3f}  "
                f"{len(found.wrong_days):10}"
            )
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
