"""The door of the benches."""

import click
from pydantic import Field

from reminder_service.bench.registry import BENCHES, measured
from reminder_service.bench.result import Result, result_text, result_value
from reminder_service.bench.scale import Scale
from reminder_service.commands.answers import Door, Request, json_option


class BenchRequest(Request):
    """Which bench, and how much it does; a spread needs some rounds."""

    name: str
    messages: int = Field(default=1_500, ge=1, le=1_000_000)
    rounds: int = Field(default=6, ge=5, le=1_000)


def _result(asked: BenchRequest) -> Result:
    return measured(asked.name, Scale(asked.messages, asked.rounds))


BENCH = Door(BenchRequest, _result, result_value, result_text)


@click.command("bench", epilog=f"NAME is one of: {', '.join(sorted(BENCHES))}.")
@click.argument("name")
@click.option("--messages", help="Texts of every side in a round, 1500 if not given.")
@click.option("--rounds", help="Turns of every side, 6 if not given, at least 5.")
@json_option
def bench(as_json: bool, **given: str | None) -> None:
    """Figures, and their ratios to the bare limit of the same run."""
    BENCH.run(given, as_json)
