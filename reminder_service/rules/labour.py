"""How long a task takes: hours by the station or by the plot, as the rulebook sets them."""

from pydantic import Field

from reminder_service.rules.bounds import Strict

HOURS_A_DAY = 6
"""Hours of field work in one labour day; common practice, no source."""


class Labour(Strict):
    """Hours that one grown person works at a task once."""

    hours_per_1000_stations: float = Field(
        default=0, ge=0, le=100, strict=False, description="For each thousand planting stations."
    )
    hours_per_plot: float = Field(
        default=0, ge=0, le=24, strict=False, description="However large the plot."
    )
    source: str = Field(min_length=1, description="Where the hours come from.")


def labour_days(labour: Labour, stations: int, plots: int = 1) -> float:
    """Days of one person's work.

    Parameters
    ----------
    labour : of the task, from the rulebook
    stations : planting stations of each plot
    plots : how many such plots

    Returns
    -------
    days of six hours

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> labour_days(Labour(hours_per_1000_stations=3, source="setting"), 4000)
    2.0
    """
    hours = labour.hours_per_1000_stations * stations / 1000 + labour.hours_per_plot
    return hours * plots / HOURS_A_DAY
