"""Open daily temperatures that packages ship, by the names of `open_daily_rain`; in °C."""

from datetime import date

from open_daily_rain import CLIMATES, climate_rows

from reminder_service.agronomy.heat import Temperatures


def open_daily_air(name: str) -> dict[date, Temperatures]:
    """Lowest and highest temperature of each day of one of aquacrop's climates."""
    return {on: Temperatures(low, high) for on, low, high, _ in climate_rows(CLIMATES[name])}
