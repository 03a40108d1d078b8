"""Door of lists: bring farmers and plots from a file, or see what would become of its rows."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import click
from pydantic import Field as Given

from reminder_service.commands.answers import BadInput, Door, Request, Value, json_option
from reminder_service.records import farmers, list_rows, lists
from reminder_service.records.engine import reading, writing
from reminder_service.records.list_rows import ListRow
from reminder_service.records.list_tables import WRITTEN, Fate, ListState
from reminder_service.records.lists import ListJob
from reminder_service.settings import load_settings
from reminder_service.texts.catalogues import SOURCE_LANGUAGE
from reminder_service.work.languages import is_written
from reminder_service.work.lists import by_hand, steps
from reminder_service.work.lists.columns import NOT_KEPT, Columns, Field, folded
from reminder_service.work.lists.going_out import faulty_file
from reminder_service.work.services import Services, make_services

FAULTS_SHOWN = 50
"""Faulty rows that the answer lists; ``--faulty`` writes all (setting)."""

WHO = "command"


class ImportRequest(Request):
    """Which file, and how it is to be taken."""

    file: Path
    dry_run: bool = False
    good_rows: bool = False
    asked_by: str | None = Given(default=None, min_length=2, max_length=80)
    ward: str | None = None
    language: str = SOURCE_LANGUAGE
    column: tuple[str, ...] = ()
    faulty: Path | None = None


@dataclass(frozen=True, slots=True)
class Brought:
    """What a list came to.

    Attributes
    ----------
    counts : rows by fate
    faults : the first faulty rows
    written : whether it went in
    """

    job: ListJob
    counts: Mapping[Fate, int]
    faults: list[ListRow]
    written: bool


def _brought(asked: ImportRequest) -> Brought:
    try:
        data = asked.file.read_bytes()
    except OSError as fault:
        raise BadInput("FILE", str(asked.file), f"a file that can be read ({fault})") from fault
    if not is_written(asked.language):
        raise BadInput("language", asked.language, "a language that texts are written in")
    services = make_services(load_settings())
    import_id = by_hand.take_file(services, data, asked.file.name, None)
    try:
        judged = _judged(services, import_id, asked)
    except Exception:
        with writing(services.engine) as c:
            lists.drop_list(c, import_id)
        raise
    if asked.faulty is not None:
        kind = "xlsx" if asked.faulty.suffix.lower() == ".xlsx" else "csv"
        asked.faulty.write_bytes(b"".join(faulty_file(services, judged.job, kind)))
    if asked.dry_run or not any(judged.counts.get(fate) for fate in WRITTEN):
        with writing(services.engine) as c:
            lists.drop_list(c, import_id)
        return judged
    return _let_in(services, judged, asked)


def _judged(services: Services, import_id: int, asked: ImportRequest) -> Brought:
    """Read and judge all rows."""
    with reading(services.engine) as c:
        job = lists.list_job(c, import_id)
        wards = {ward.name: ward.id for ward in farmers.wards(c)}
    assert job is not None  # noqa: S101 - it was kept a moment ago
    if asked.ward is not None and asked.ward not in wards:
        raise BadInput("ward", asked.ward, f"one of {', '.join(wards) or 'no ward yet'}")
    by_hand.choose_columns(
        services,
        import_id,
        _columns(job, asked.column),
        ward_id=None if asked.ward is None else wards[asked.ward],
        language=asked.language,
    )
    steps.go_on(services, import_id)
    return _as_it_stands(services, import_id, written=False)


def _columns(job: ListJob, chosen: tuple[str, ...]) -> Columns:
    """What was told from the headings, with what was chosen on the command line."""
    columns = [None if field is None else Field(field) for field in job.columns]
    places = {folded(heading): at for at, heading in enumerate(job.headings)}
    for choice in chosen:
        heading, _, field = choice.partition("=")
        if folded(heading) not in places:
            raise BadInput("column", choice, f"one of {', '.join(job.headings)}, then =FIELD")
        if field and field not in set(Field):
            raise BadInput("column", choice, f"HEADING= and one of {', '.join(Field)}, or nothing")
        columns[places[folded(heading)]] = Field(field) if field else None
    return tuple(columns)


def _as_it_stands(services: Services, import_id: int, *, written: bool) -> Brought:
    with reading(services.engine) as c:
        job = lists.list_job(c, import_id)
        counts = list_rows.fates(c, import_id)
        faults = list_rows.rows_after(c, import_id, 0, FAULTS_SHOWN, Fate.FAULT)
    assert job is not None  # noqa: S101 - only this command knows of it
    if job.state is ListState.STOPPED:
        raise BadInput("FILE", job.file_name, job.error or "a list that nobody stops")
    if written and job.counts is not None:
        counts = {Fate(fate): count for fate, count in job.counts.items()}
    return Brought(job, counts, faults, written)


def _let_in(services: Services, judged: Brought, asked: ImportRequest) -> Brought:
    faulty = judged.counts.get(Fate.FAULT, 0)
    fault = None
    if faulty and not asked.good_rows:
        expected = "no faulty row, or --good-rows; --dry-run and --faulty FILE show what is wrong"
        fault = BadInput("faulty rows", faulty, expected)
    elif judged.counts.get(Fate.NEW_FARMER) and asked.asked_by is None:
        expected = "the name of who asked the new farmers whether they agree"
        fault = BadInput("asked-by", None, expected)
    if fault is not None:
        with writing(services.engine) as c:
            lists.drop_list(c, judged.job.id)
        raise fault
    vouched = None
    if asked.asked_by is not None:
        words = by_hand.consent_words(services.settings.programme)
        vouched = by_hand.Vouched(asked.asked_by, words)
    by_hand.let_in(services, judged.job.id, vouched, whole=not asked.good_rows, who=WHO)
    steps.go_on(services, judged.job.id)
    return _as_it_stands(services, judged.job.id, written=True)


def _value(brought: Brought) -> Value:
    job = brought.job
    return {
        "written": brought.written,
        "rows": job.total,
        "columns": dict(zip(job.headings, job.columns, strict=True)),
        "counts": {fate.value: brought.counts.get(fate, 0) for fate in Fate},
        "faults": [{"row": row.row, "wrong": list(row.says)} for row in brought.faults],
    }


def _text(brought: Brought) -> str:
    job = brought.job
    columns = zip(job.headings, job.columns, strict=True)
    held = [f"{heading}: {_held(field)}" for heading, field in columns]
    lines = [f"columns: {', '.join(held)}", f"rows: {job.total}"]
    lines += [f"{fate.value}: {brought.counts.get(fate, 0)}" for fate in Fate]
    lines += [f"row {row.row}: {'; '.join(row.says)}" for row in brought.faults]
    in_it = "The good rows are in." if brought.counts.get(Fate.FAULT) else "The list is in."
    lines.append(in_it if brought.written else "Nothing was written.")
    return "\n".join(lines)


def _held(field: str | None) -> str:
    if field is None:
        return "left out"
    return f"{field} (not kept)" if Field(field) in NOT_KEPT else field


IMPORT = Door(ImportRequest, _brought, _value, _text)


@click.command("import")
@click.argument("file")
@click.option("--dry-run", is_flag=True, help="Say what would become of each row; write nothing.")
@click.option("--good-rows", is_flag=True, help="Let the good rows in even if others are faulty.")
@click.option("--asked-by", metavar="NAME", help="Who asked the new farmers whether they agree.")
@click.option("--ward", help="The ward of rows that name none.")
@click.option("--language", help="Of new farmers whose row gives none; en if not given.")
@click.option(
    "--column", multiple=True, metavar="HEADING=FIELD", help="What a column holds; again for more."
)
@click.option("--faulty", metavar="FILE", help="Write the faulty rows to this CSV or XLSX file.")
@json_option
def import_list(as_json: bool, **given: object) -> None:
    """Bring farmers and plots from a CSV or XLSX file: all rows, or the good ones."""
    IMPORT.run(given, as_json)
