"""Every bench, by its name; what it needs is imported on first use."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib.util import find_spec

from reminder_service.bench.errors import MissingPackages, UnknownBench
from reminder_service.bench.result import Result
from reminder_service.bench.scale import Scale


@dataclass(frozen=True, slots=True)
class Bench:
    """One bench.

    Attributes
    ----------
    needs : modules of packages that only an extra installs
    run : measures
    """

    needs: tuple[str, ...]
    run: Callable[[Scale], Result]


def _gateway(scale: Scale) -> Result:
    from reminder_service.bench.gateway import gateway_bench

    return gateway_bench(scale)


BENCHES: Mapping[str, Bench] = {
    "gateway": Bench(needs=("gsm0338", "smpplib", "smpp34"), run=_gateway),
}


def measured(name: str, scale: Scale) -> Result:
    """Run one bench.

    Parameters
    ----------
    name : a key of `BENCHES`
    scale : how much it does

    Raises
    ------
    UnknownBench
        There is none of that name.
    MissingPackages
        What it needs is not installed.
    WrongAnswers, NoCarrier
        It came to no figures.
    """
    bench = BENCHES.get(name)
    if bench is None:
        raise UnknownBench(name, sorted(BENCHES))
    missing = [module for module in bench.needs if find_spec(module) is None]
    if missing:
        raise MissingPackages(name, missing)
    return bench.run(scale)
