"""Why a bench has no figures to show."""

from collections.abc import Sequence

from reminder_service.errors import ReminderError


class UnknownBench(ReminderError):
    """There is no bench of that name.

    Attributes
    ----------
    name : as given
    known : names of all benches
    """

    def __init__(self, name: str, known: Sequence[str]) -> None:
        super().__init__(f'there is no bench "{name}": choose one of {", ".join(known)}')
        self.name = name
        self.known = tuple(known)


class MissingPackages(ReminderError):
    """The bench needs packages that are not installed.

    Attributes
    ----------
    bench : its name
    packages : what is missing
    """

    def __init__(self, bench: str, packages: Sequence[str]) -> None:
        super().__init__(
            f"bench {bench} needs {', '.join(packages)}, not installed here: "
            "install reminder-service[bench]"
        )
        self.bench = bench
        self.packages = tuple(packages)


class WrongAnswers(ReminderError):
    """What came back is not what was handed over, so a rate of it says nothing.

    Attributes
    ----------
    side : what was measured
    wrong, of : answers that are wrong or missing, and how many there should be
    """

    def __init__(self, side: str, wrong: int, of: int) -> None:
        super().__init__(
            f"{side}: {wrong} of {of} texts came back with a wrong id or none, "
            "so nothing was measured; run it again, and if it stays so, it is a fault of that side"
        )
        self.side = side
        self.wrong = wrong
        self.of = of


class NoCarrier(ReminderError):
    """The bench's own carrier did not start.

    Attributes
    ----------
    module : that it runs
    """

    def __init__(self, module: str) -> None:
        super().__init__(f"{module} did not start: see what it said above, and run it again")
        self.module = module
