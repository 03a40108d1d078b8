"""Every setting of the service: name, default, what is allowed, and what it means."""

import os
from collections.abc import Iterator, Mapping
from datetime import date, time
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, SecretStr, ValidationError, model_validator
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails, PydanticCustomError
from pydantic_settings import (
    BaseSettings,
    NoDecode,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

from reminder_service import setting_values
from reminder_service.errors import BadSettings as BadSettings
from reminder_service.errors import SettingFault
from reminder_service.rules.quiet_days import QuietDays

PREFIX = "REMINDER_"
SECRETS = frozenset({"database_url", "gateway_options", "metrics_token", "secret_key"})
"""Settings that may hold a password: never shown, and readable from a file by ``…_FILE``."""

_NOT_MADE = "default_factory_not_called"
"""Pydantic's word for a default that could not be worked out because another value is wrong."""


def _setting(default: object, meaning: str, allowed: str, shown: str = "", **checks: Any) -> Any:
    """Describe one setting; ``shown`` is its default in words where the value says little."""
    extra: dict[str, Any] = {"allowed": allowed, "shown": shown}
    if callable(default):
        checks["default_factory"] = default
    else:
        checks["default"] = default
    return Field(description=meaning, json_schema_extra=extra, **checks)


def _whole(default: int, low: int, high: int, meaning: str) -> Any:
    """Describe a setting that is a whole number between two bounds."""
    return _setting(default, meaning, f"a whole number from {low} to {high}", ge=low, le=high)


class _SecretFiles(PydanticBaseSettingsSource):
    """Secrets from files: ``REMINDER_SECRET_KEY_FILE=/run/secrets/key``."""

    def __call__(self) -> dict[str, Any]:
        fields = self.settings_cls.model_fields.items()
        found = [self.get_field_value(field, name) for name, field in fields if name in SECRETS]
        return {name: value for value, name, _ in found if value is not None}

    def get_field_value(self, field: FieldInfo, field_name: str) -> tuple[Any, str, bool]:
        """Answer the file's text without its line end, the setting's name, and no."""
        variable = f"{_variable(field_name)}_FILE"
        path = os.environ.get(variable)
        if not path:
            return None, field_name, False
        try:
            return Path(path).read_text("utf-8").rstrip("\r\n"), field_name, False
        except (OSError, UnicodeDecodeError) as error:
            expected = f"allowed is a text file that can be read ({error})"
            raise BadSettings([SettingFault(variable, path, expected)]) from error


class Settings(BaseSettings):
    """What an operator may choose; read once, by `load_settings`, and never changed.

    ``secret_key`` may be None: `reminder_service.session_secret.session_secret` answers the
    secret to use.
    """

    model_config = SettingsConfigDict(
        env_prefix=PREFIX, env_ignore_empty=True, frozen=True, extra="forbid"
    )

    database_url: Annotated[str, BeforeValidator(setting_values.database_url)] = _setting(
        "sqlite:///./data/reminder.sqlite3",
        "Where the records are kept.",
        "sqlite:/// and a file, or postgresql+psycopg:// with a database name",
        repr=False,
    )
    programme: str = _setting(
        "Maize programme",
        "What farmers know the programme as; HELP and STOP are answered with it.",
        "1 to 30 letters",
        min_length=1,
        max_length=30,
    )
    gateway: str = _setting(
        "console",
        "Name of the installed gateway that carries notices out.",
        "the name of an installed gateway",
        min_length=1,
    )
    gateway_options: Annotated[
        dict[str, str], NoDecode, BeforeValidator(setting_values.options)
    ] = _setting(
        dict,
        "Options of that gateway.",
        'a JSON object of texts, such as {"record": "sent.jsonl"}',
        "`{}`",
        repr=False,
    )
    routes: str | None = _setting(
        None,
        "File of the routes that carry notices; goes before the gateway and its options.",
        "the path of a routes file",
        "none: one route by REMINDER_GATEWAY",
    )
    rain_source: str | None = _setting(
        None,
        "File of the source that daily rain is pulled from over HTTP.",
        "the path of a rain source file",
        "none: no rain is pulled",
    )
    normals: str | None = _setting(
        None,
        "File of usual temperatures by ward and month, for days of tasselling and harvest.",
        "the path of a CSV file with the columns ward, month, tmin and tmax, in °C",
        "none: the variety's class decides",
    )
    soil: Literal["loam", "sand", "clay"] = _setting(
        "loam", "Soil of the plots, for whether it is moist enough to dress.", "sand, loam or clay"
    )
    usual_et0_mm: float = _setting(
        5.0,
        "Water that a cover of grass uses on a usual day of the season, in mm.",
        "a number from 1 to 12",
        ge=1,
        le=12,
    )
    secret_key: SecretStr | None = _setting(
        None,
        "Signs the sessions of those who log in.",
        "at least 32 letters; must be given with PostgreSQL",
        "made at the first start and kept in the file secret beside an SQLite database",
        min_length=32,
    )
    metrics_token: Annotated[SecretStr | None, BeforeValidator(setting_values.token)] = _setting(
        None,
        "Opens /metrics, the figures for Prometheus, as a bearer token.",
        "at least 32 letters, digits and marks, without a space",
        "none: there is no /metrics",
        min_length=32,
    )
    second_factor: Literal["free", "leads", "all"] = _setting(
        "free",
        "Who must give a one-time code after the password; the others may choose to.",
        "free, leads or all",
    )
    calls_per_minute: int = _whole(
        600, 1, 1_000_000, "Most calls a minute that one key of another program may make."
    )
    hooks_to_private: bool = _setting(
        False,
        "Whether other programs on private addresses may be told of events, and without https.",
        "true or false",
        "`false`",
    )
    host: str = _setting(
        "127.0.0.1",
        "Address that the pages are served on.",
        "an IP address or host name of this machine",
        pattern=r"^[A-Za-z0-9.:-]+$",
    )
    port: int = _whole(8000, 1, 65535, "Port that the pages are served on.")
    log_format: Literal["plain", "json"] = _setting(
        "plain", "How log lines are written: for people or for programs.", "plain or json"
    )
    disk_low_mb: int = _whole(
        500, 1, 1_000_000, "Free megabytes where the records lie under which doctor warns."
    )
    keep_inbound_days: int = _whole(
        730, 0, 36_500, "Days after which the body of a text that came in is emptied; 0 for never."
    )
    keep_notice_days: int = _whole(
        730, 0, 36_500, "Days after which the body of a notice is emptied; 0 for never."
    )
    secure_cookies: bool = _setting(
        setting_values.is_served_beyond,
        "Whether browsers send the session over https only.",
        "true or false",
        "true, unless the host is this machine alone",
    )
    sending_opens: Annotated[time, BeforeValidator(setting_values.clock_time)] = _setting(
        time(8), "No notice goes out before, in the ward's time zone.", "a time as HH:MM"
    )
    sending_closes: Annotated[time, BeforeValidator(setting_values.clock_time)] = _setting(
        time(18),
        "No notice goes out from then on, in the ward's time zone.",
        "a time as HH:MM, after REMINDER_SENDING_OPENS",
    )
    quiet_days: Annotated[QuietDays, NoDecode, BeforeValidator(setting_values.quiet_days)] = (
        _setting(
            QuietDays,
            "No notice goes out on these days, in the ward's time zone; replies do.",
            "weekdays, days as YYYY-MM-DD, days of every year as MM-DD, and files with one of "
            "these a line, between commas; not all seven weekdays",
            "none",
        )
    )
    weekly_cap: int = _whole(
        7,
        0,
        100,
        "Most texts to one phone in seven days, the less important held back first; 0 for no cap. "
        "Replies, corrections and last calls of importance 1 always go.",
    )
    default_region: Annotated[str, BeforeValidator(setting_values.region)] = _setting(
        "ZZ",
        "Country of phone numbers written without their country code.",
        "two capital letters of ISO 3166, or ZZ for none",
    )
    segment_limit: int = _whole(2, 1, 10, "Longest text to one phone, in segments.")
    joining: Literal["open", "asked", "closed"] = _setting(
        "asked",
        "Who may join by text: anybody, whoever a coordinator then lets in, or nobody.",
        "open, asked or closed",
    )
    reply_cap_per_day: int = _whole(20, 1, 1000, "Most replies to one phone in 24 hours.")
    lease_s: int = _whole(120, 10, 86_400, "Seconds until a lost worker's notices come back.")
    retry_first_s: int = _whole(60, 1, 86_400, "Seconds to wait before the first new try.")
    retry_cap_s: int = _setting(
        3600,
        "Longest wait between two tries, in seconds; each wait doubles the one before.",
        "a whole number from REMINDER_RETRY_FIRST_S to 604800",
        ge=1,
        le=604_800,
    )
    retry_attempts: int = _whole(
        200, 1, 1000, "Tries before a notice is given up; its own expiry mostly comes first."
    )
    doubt_policy: Literal["person", "send again", "count as sent"] = _setting(
        "person",
        "What becomes of a text in doubt whose carrier neither drops repeats nor answers: it waits "
        "for a person, goes again at the risk that a farmer reads it twice, or counts as handed "
        "over.",
        "person, send again or count as sent",
    )
    doubt_wait_s: int = _whole(
        900, 60, 604_800, "Seconds that such a text stays in doubt before that is done."
    )
    tick_s: int = _whole(5, 1, 3600, "Seconds between two looks at the outbound queue.")
    claim_batch: int = _whole(100, 1, 10_000, "Most notices that a worker takes at once.")
    rulebook: Annotated[str, BeforeValidator(setting_values.rulebook)] = _setting(
        "maize-hand-hoe",
        "The rulebook that new seasons follow.",
        "the name of a shipped rulebook, or the path of a rulebook file",
    )
    season_start_month_day: Annotated[str, BeforeValidator(setting_values.month_day)] = _setting(
        "10-01",
        "First day of a season; reports dated before are refused.",
        "a month and a day as MM-DD that exist in every year",
    )

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Read what is given in code, then the environment, then secrets' files."""
        return init_settings, env_settings, _SecretFiles(settings_cls)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        """Refuse settings that contradict each other."""
        if self.sending_closes <= self.sending_opens:
            raise PydanticCustomError("sending_closes", "closes before it opens")
        if self.retry_cap_s < self.retry_first_s:
            raise PydanticCustomError("retry_cap_s", "the cap is under the first wait")
        if self.secret_key is None and not self.database_url.startswith("sqlite"):
            raise PydanticCustomError("secret_key", "needed with PostgreSQL")
        return self

    def season_start(self, on: date) -> date:
        """First day of the season that a local day falls in.

        Examples
        --------
        >>> Settings().season_start(date(2027, 1, 15))
        datetime.date(2026, 10, 1)
        """
        month, day = map(int, self.season_start_month_day.split("-"))
        starts = date(on.year, month, day)
        return starts if starts <= on else date(on.year - 1, month, day)


def load_settings(**chosen: object) -> Settings:
    """Read all settings from the environment.

    Parameters
    ----------
    chosen : settings given on the command line, which go before the environment's

    Raises
    ------
    BadSettings
        A variable is unknown, or a value is not allowed; all such faults are named at once.
    """
    faults = [*_unknown(os.environ), *_given_twice(os.environ)]
    try:
        settings = Settings(**chosen)  # type: ignore[arg-type]
    except ValidationError as error:
        faults += [_fault(each, chosen) for each in error.errors() if each["type"] != _NOT_MADE]
        raise BadSettings(faults) from None  # pydantic's own message may show a secret
    if faults:
        raise BadSettings(faults)
    return settings


def settings_table() -> str:
    """Render all settings as a Markdown table, for the README."""
    lines = ["| variable | default | what it means | allowed |", "|---|---|---|---|"]
    for name, field in Settings.model_fields.items():
        variable = f"`{_variable(name)}`"
        if name in SECRETS:
            variable += f" or `{_variable(name)}_FILE`"
        cells = (variable, _default(field), str(field.description), _extra(field, "allowed"))
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def _variable(name: str) -> str:
    return PREFIX + name.upper()


def _extra(field: FieldInfo, key: str) -> str:
    extra = field.json_schema_extra
    return str(extra[key]) if isinstance(extra, dict) else ""


def _default(field: FieldInfo) -> str:
    """Show a default as an operator would write it, or say it in words."""
    in_words = _extra(field, "shown")
    value = field.default
    written = f"{value:%H:%M}" if isinstance(value, time) else value
    return in_words or f"`{written}`"


def _unknown(environment: Mapping[str, str]) -> Iterator[SettingFault]:
    """Find variables that look like settings and are none; their values stay hidden."""
    known = {_variable(name) for name in Settings.model_fields}
    known |= {f"{_variable(name)}_FILE" for name in SECRETS}
    for variable in environment:
        if variable.upper().startswith(PREFIX) and variable.upper() not in known:
            near = get_close_matches(variable.upper(), sorted(known), n=1)
            hint = f"; did you mean {near[0]}?" if near else "; remove it"
            yield SettingFault(variable, "", f"there is no such setting{hint}")


def _given_twice(environment: Mapping[str, str]) -> Iterator[SettingFault]:
    """Find secrets given both as a value and as a file."""
    for variable in map(_variable, sorted(SECRETS)):
        if environment.get(variable) and environment.get(f"{variable}_FILE"):
            yield SettingFault(variable, "***", f"allowed is this or {variable}_FILE, not both")


def _fault(error: ErrorDetails, chosen: Mapping[str, object]) -> SettingFault:
    """Put one of pydantic's errors into an operator's words."""
    name = str(error["loc"][0]) if error["loc"] else error["type"]
    field = Settings.model_fields[name]
    given = str(chosen.get(name) or os.environ.get(_variable(name), ""))
    if name in SECRETS and given:
        given = "***"
    return SettingFault(_variable(name), given, f"allowed is {_extra(field, 'allowed')}")
