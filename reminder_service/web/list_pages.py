"""The register's files: lists of farmers and plots coming in, and tables going out."""

from collections.abc import Callable
from typing import cast

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_login import current_user

from reminder_service.records import list_rows, lists
from reminder_service.records.engine import reading
from reminder_service.records.list_tables import AT_WORK, Fate, ListState
from reminder_service.records.lists import ListJob
from reminder_service.records.taking_out import TABLES
from reminder_service.records.views import wards_seen
from reminder_service.texts.catalogues import SOURCE_LANGUAGE
from reminder_service.texts.words import shipped_languages
from reminder_service.web import list_words
from reminder_service.web.said import say
from reminder_service.web.text_pages import language_name
from reminder_service.web.walls import may_change, number_given, person, scope, services
from reminder_service.web.wording import masked_phone
from reminder_service.work.languages import is_written
from reminder_service.work.lists import by_hand, steps
from reminder_service.work.lists.columns import Columns, Field
from reminder_service.work.lists.errors import NotNow, UnusableFile, WrongColumns
from reminder_service.work.lists.files import MOST_BYTES
from reminder_service.work.lists.going_out import empty_list, faulty_file, table_file
from reminder_service.work.lists.sheets import KINDS

blueprint = Blueprint("lists", __name__)

LISTS_SHOWN = 10
"""Latest lists on the page (setting)."""

ROWS_SHOWN = 50
"""Rows of a list on one page; keeps it under 100 kB (setting)."""

PIECES_AT_ONCE = 3
"""Pieces of work done before the page answers, so that a short list needs no waiting (setting)."""

AGAIN_S = 3
"""Seconds after which a page that shows progress is loaded anew (setting)."""

BESIDE_FILE = 64 * 1024
"""Bytes that a form may have beside its file (setting)."""


def take_larger_files() -> None:
    """Let a list be larger than any other form; only for those who may bring one."""
    bringing = request.endpoint == "lists.bring" and request.method == "POST"
    if bringing and current_user.is_authenticated and may_change():
        request.max_content_length = MOST_BYTES + BESIDE_FILE


@blueprint.get("/register")
def page() -> str:
    """Bring a list, go on with one, or take a table out."""
    found = []
    if may_change():
        with reading(services().engine) as c:
            own = None if scope() is None else person().id
            found = lists.lists_of(c, own, LISTS_SHOWN)
    return render_template(
        "register.html",
        lists=found,
        state=list_words.list_state,
        tables=TABLES,
        kinds=KINDS,
        may_change=may_change(),
        most_mb=MOST_BYTES // 1024 // 1024,
    )


@blueprint.post("/register")
def bring() -> ResponseReturnValue:
    """Take a list and go on to its columns."""
    file = request.files.get("list")
    if file is None or not file.filename:
        say("Nothing was brought: choose a file first.", failed=True)
        return redirect(url_for(".page"))
    try:
        import_id = by_hand.take_file(services(), file.read(), file.filename, person().id)
    except UnusableFile as fault:
        say(f"Nothing was brought: {fault}.", failed=True)
        return redirect(url_for(".page"))
    return redirect(url_for(".one", import_id=import_id))


@blueprint.get("/register.csv")
def sample() -> Response:
    """An empty list to fill in."""
    return _file(empty_list(), "csv", "empty-list")


@blueprint.get("/register/<int:import_id>")
def one(import_id: int) -> ResponseReturnValue:
    """One list: its columns, its progress, or what becomes of its rows."""
    job = _list_or_404(import_id)
    anew = request.args.get("anew") == "columns" and job.state is ListState.READY
    if job.state is ListState.COLUMNS or anew:
        return _columns_page(job)
    if job.state in AT_WORK:
        shown = render_template(
            "list_at_work.html",
            job=job,
            words=list_words.progress_words(job),
            share=list_words.progress_share(job),
            again_s=AGAIN_S,
            stoppable=job.state is not ListState.PLANNING,
        )
        return shown, {"Refresh": str(AGAIN_S)}
    return _rows_page(job)


def _columns_page(job: ListJob) -> str:
    with reading(services().engine) as c:
        wards = wards_seen(c, scope())
    languages = [(code, language_name(code)) for code in shipped_languages() if is_written(code)]
    known = zip(job.headings, job.columns, zip(*job.sample, strict=True), strict=True)
    empty = [(heading, field, ()) for heading, field in zip(job.headings, job.columns, strict=True)]
    return render_template(
        "list_columns.html",
        job=job,
        form=list_words.form_words(job.form),
        columns=list(known) if job.sample else empty,
        fields=list_words.FIELDS,
        wards=wards,
        languages=languages,
        has_ward=Field.WARD in job.columns,
    )


def _rows_page(job: ListJob) -> str:
    wanted = request.args.get("show", "")
    fate = Fate(wanted) if wanted in set(Fate) else None
    after = number_given("after") or 0
    with reading(services().engine) as c:
        rows = list_rows.rows_after(c, job.id, after, ROWS_SHOWN + 1, fate)
        counts = list_rows.fates(c, job.id) if job.counts is None else job.counts
    by_fate = {each: counts.get(each, 0) for each in Fate}
    return render_template(
        "list_rows.html",
        job=job,
        state=list_words.list_state(job),
        counts=by_fate,
        total=sum(by_fate.values()),
        rows=rows[:ROWS_SHOWN],
        more=rows[ROWS_SHOWN - 1].row if len(rows) > ROWS_SHOWN else None,
        after=after,
        show=fate,
        fates=list_words.AFTERWARDS if job.ended_at else list_words.FATES,
        heads=_heads(job),
        ready=job.state is ListState.READY,
        let_in_words=list_words.let_in_words(by_fate),
        consent=by_hand.consent_words(services().settings.programme),
        faulty=by_fate[Fate.FAULT] and (job.state is ListState.READY or job.counts is not None),
        kinds=KINDS,
    )


def _heads(job: ListJob) -> list[tuple[int, str]]:
    """Place and heading of the columns that are kept; the others only make the page wide."""
    return [
        (at, heading or list_words.FIELDS[Field(field)])
        for at, (heading, field) in enumerate(zip(job.headings, job.columns, strict=True))
        if field is not None and Field(field) not in (Field.WRONG, Field.GENDER)
    ]


@blueprint.post("/register/<int:import_id>/columns")
def columns(import_id: int) -> ResponseReturnValue:
    """Settle what each column holds, and have the rows read."""
    job = _list_or_404(import_id)
    ward_id = _chosen_ward()
    language = request.form.get("language", SOURCE_LANGUAGE)
    if not (language in shipped_languages() and is_written(language)):
        abort(400)
    try:
        by_hand.choose_columns(
            services(), import_id, _chosen_columns(job), ward_id=ward_id, language=language
        )
    except (WrongColumns, NotNow) as fault:
        say(f"Not settled yet: {fault}.", failed=True)
        return redirect(url_for(".one", import_id=import_id, anew="columns"))
    steps.go_on(services(), import_id, PIECES_AT_ONCE)
    return redirect(url_for(".one", import_id=import_id))


def _chosen_columns(job: ListJob) -> Columns:
    given = [request.form.get(f"column-{at}", "") for at in range(len(job.headings))]
    if any(field and field not in set(Field) for field in given):
        abort(400)
    return tuple(Field(field) if field else None for field in given)


def _chosen_ward() -> int | None:
    given = request.form.get("ward", "")
    if not given:
        return None
    with reading(services().engine) as c:
        known = {str(ward.id): ward.id for ward in wards_seen(c, scope())}
    return known.get(given) or abort(404)


@blueprint.post("/register/<int:import_id>/in")
def let_in(import_id: int) -> ResponseReturnValue:
    """Let the rows of a list into the register."""
    _list_or_404(import_id)
    by = " ".join(request.form.get("asked_by", "").split())
    low, high = by_hand.NAME_LENGTH
    vouched = None
    if request.form.get("agreed") == "yes" and low <= len(by) <= high:
        words = by_hand.consent_words(services().settings.programme)
        vouched = by_hand.Vouched(by, words)
    whole = request.form.get("rows") != "good"
    try:
        by_hand.let_in(services(), import_id, vouched, whole=whole, who=person().login)
    except NotNow as fault:
        hint = "" if vouched else " Tick that the farmers agreed and name who asked them."
        say(f"Nothing went in: {fault}.{hint}", failed=True)
        return redirect(url_for(".one", import_id=import_id))
    steps.go_on(services(), import_id, PIECES_AT_ONCE)
    return redirect(url_for(".one", import_id=import_id))


@blueprint.post("/register/<int:import_id>/stop")
def stop(import_id: int) -> ResponseReturnValue:
    """Stop a list."""
    _list_or_404(import_id)
    if by_hand.stop(services(), import_id, person().login):
        steps.go_on(services(), import_id, PIECES_AT_ONCE)
        say("The list was stopped.")
    else:
        say("The list had ended already, so it was not stopped.", failed=True)
    return redirect(url_for(".one", import_id=import_id))


@blueprint.get("/register/<int:import_id>/faulty.<kind>")
def faulty(import_id: int, kind: str) -> Response:
    """The rows that cannot go in, as a file."""
    job = _list_or_404(import_id)
    if kind not in KINDS:
        abort(404)
    return _file(faulty_file(services(), job, kind), kind, f"faulty-rows-of-list-{job.id}")


@blueprint.get("/register/out/<table>.<kind>")
def out(table: str, kind: str) -> Response:
    """A whole table of the wards that the person may see, as a file."""
    if table not in TABLES or kind not in KINDS:
        abort(404)
    shown: Callable[[str], str] = str if may_change() else masked_phone
    pieces = table_file(services(), table, kind, scope(), person().login, shown)
    return _file(pieces, kind, f"{table}-{services().clock():%Y-%m-%d}")


def _file(pieces: object, kind: str, name: str) -> Response:
    answer = Response(cast(bytes, pieces), content_type=KINDS[kind])
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return answer


def _list_or_404(import_id: int) -> ListJob:
    """A list that the person brought, or any for who sees all wards; nobody who only reads."""
    if not may_change():
        abort(403)
    with reading(services().engine) as c:
        job = lists.list_job(c, import_id)
    if job is None or not (scope() is None or job.person_id == person().id):
        abort(404)
    return job
