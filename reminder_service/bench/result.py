"""The shape of every bench's result, as JSON and as a table for people."""

import os
import platform
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from importlib.metadata import version
from statistics import median


@dataclass(frozen=True, slots=True)
class Spread:
    """Figures of the same thing, run by run.

    Attributes
    ----------
    runs : in the order in which they were measured, at least one
    """

    runs: tuple[float, ...]

    @property
    def median(self) -> float:
        """The middle one."""
        return median(self.runs)

    @property
    def lowest(self) -> float:
        """The lowest one."""
        return min(self.runs)

    @property
    def highest(self) -> float:
        """The highest one."""
        return max(self.runs)


@dataclass(frozen=True, slots=True)
class Figure:
    """What one side reached.

    Attributes
    ----------
    part : of the bench, all of whose sides did the same work
    side : what did it
    unit : of the figures
    """

    part: str
    side: str
    unit: str
    spread: Spread


@dataclass(frozen=True, slots=True)
class Ratio:
    """One side's figure to another's, taken run by run.

    Attributes
    ----------
    side, to : which sides, the second being the bare limit
    at_least : what the median should reach; None if it only stands beside
    """

    part: str
    side: str
    to: str
    spread: Spread
    at_least: float | None

    @property
    def reached(self) -> bool | None:
        """Whether the median reaches it; None if nothing is asked of it."""
        return None if self.at_least is None else self.spread.median >= self.at_least


@dataclass(frozen=True, slots=True)
class Machine:
    """What the figures were measured on.

    Attributes
    ----------
    load : processes that wanted to run in the minute before, on average
    """

    system: str
    processor: str
    cores: int
    load: float


@dataclass(frozen=True, slots=True)
class Result:
    """All that a bench has to say.

    Attributes
    ----------
    bench : its name
    versions : of Python and of every package that was measured, by name
    settings : what it was run with, by name
    """

    bench: str
    settings: Mapping[str, int]
    figures: Sequence[Figure]
    ratios: Sequence[Ratio]
    versions: Mapping[str, str]
    machine: Machine = field(default_factory=lambda: this_machine())


def ratio_of(figures: Iterable[Figure], side: str, to: str, at_least: float | None) -> Ratio:
    """The ratio of two sides of one part, run by run.

    Parameters
    ----------
    figures : of one part, measured in the same runs
    side, to : names of two of them
    """
    by_side = {figure.side: figure for figure in figures}
    pairs = zip(by_side[side].spread.runs, by_side[to].spread.runs, strict=True)
    return Ratio(
        by_side[side].part, side, to, Spread(tuple(ours / bare for ours, bare in pairs)), at_least
    )


def this_machine() -> Machine:
    """What can be said of this machine without naming it."""
    return Machine(
        system=f"{platform.system()} {platform.release()}",
        processor=platform.processor() or platform.machine(),
        cores=os.cpu_count() or 1,
        load=round(os.getloadavg()[0], 2),
    )


def versions_of(packages: Iterable[str]) -> dict[str, str]:
    """Versions of Python and of installed packages, by name."""
    return {"python": platform.python_version(), **{name: version(name) for name in packages}}


def result_value(result: Result) -> dict[str, object]:
    """The JSON form of a result."""
    machine = result.machine
    return {
        "bench": result.bench,
        "machine": {
            "system": machine.system,
            "processor": machine.processor,
            "cores": machine.cores,
            "load": machine.load,
        },
        "versions": dict(result.versions),
        "settings": dict(result.settings),
        "figures": [
            {"part": each.part, "side": each.side, "unit": each.unit, **_spread(each.spread, 1)}
            for each in result.figures
        ],
        "ratios": [
            {
                "part": each.part,
                "side": each.side,
                "to": each.to,
                **_spread(each.spread, 3),
                "at_least": each.at_least,
                "reached": each.reached,
            }
            for each in result.ratios
        ],
    }


def result_text(result: Result) -> str:
    """The same for people."""
    machine = result.machine
    figures = [
        (each.part, each.side, each.unit, *_shown(each.spread, ",.0f")) for each in result.figures
    ]
    ratios = [
        (each.part, f"{each.side} to {each.to}", _asked(each), *_shown(each.spread, ".2f"))
        for each in result.ratios
    ]
    return "\n".join(
        [
            f"bench {result.bench}: {_named(result.settings)}",
            f"{machine.system}, {machine.processor}, {machine.cores} cores, load {machine.load:g}",
            _named(result.versions),
            "",
            *_table(("part", "side", "unit", "median", "lowest", "highest"), figures),
            "",
            *_table(("part", "ratio", "asked", "median", "lowest", "highest"), ratios),
        ]
    )


def _spread(spread: Spread, digits: int) -> dict[str, object]:
    return {
        "median": round(spread.median, digits),
        "lowest": round(spread.lowest, digits),
        "highest": round(spread.highest, digits),
        "runs": [round(each, digits) for each in spread.runs],
    }


def _shown(spread: Spread, form: str) -> tuple[str, ...]:
    return tuple(format(each, form) for each in (spread.median, spread.lowest, spread.highest))


def _asked(ratio: Ratio) -> str:
    if ratio.at_least is None:
        return "-"
    return f"{ratio.at_least:g}: {'reached' if ratio.reached else 'MISSED'}"


def _named(values: Mapping[str, object]) -> str:
    return ", ".join(f"{name} {value}" for name, value in values.items())


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines with columns: words to the left, and the three figures to the right."""
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    return [
        "  ".join(
            cell.ljust(width) if place < 3 else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in (heads, *rows)
    ]
