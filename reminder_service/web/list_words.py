"""How lists that people bring are spoken of on the pages. Pure."""

from collections.abc import Mapping

from reminder_service.records.list_tables import Fate, ListState
from reminder_service.records.lists import ListJob
from reminder_service.work.lists.columns import Field

FATES = {
    Fate.NEW_FARMER: "new farmer",
    Fate.NEW_PLOT: "new plot of a farmer known already",
    Fate.CHANGE: "changes something",
    Fate.SAME: "known already, nothing changes",
    Fate.FAULT: "faulty, cannot go in",
}
"""Each fate as the pages say it."""

AFTERWARDS = {
    Fate.NEW_FARMER: "new farmer",
    Fate.NEW_PLOT: "new plot of a farmer known before",
    Fate.CHANGE: "changed something",
    Fate.SAME: "known before, nothing changed",
    Fate.FAULT: "did not go in",
}
"""Each fate once the list is in."""

STATES = {
    ListState.COLUMNS: "waits for you to say what its columns hold",
    ListState.READING: "its rows are being read",
    ListState.JUDGING: "its rows are being looked up",
    ListState.READY: "waits for you to let it in",
    ListState.WRITING: "its rows are going in",
    ListState.PLANNING: "its plots are being planned",
    ListState.DONE: "is in",
    ListState.STOPPED: "was stopped, nothing went in",
}
"""Each state as the pages say it, after the name of the list."""

FIELDS = {
    Field.WARD: "ward",
    Field.FARMER: "farmer's name",
    Field.PHONE: "phone, one or more",
    Field.LANGUAGE: "language of texts",
    Field.PLOT: "plot number",
    Field.STATIONS: "planting stations",
    Field.HECTARES: "size in hectares",
    Field.SPACING: "spacing in cm",
    Field.DRESSING: "top-dressing",
    Field.MATURITY: "maturity class",
    Field.SOIL: "soil",
    Field.GENDER: "gender (not kept)",
    Field.WRONG: "what was wrong (left out)",
}
"""Each field as the pages say it."""

ENCODINGS = {
    "utf-8": "UTF-8",
    "utf-8-sig": "UTF-8",
    "utf-16": "UTF-16",
    "utf-16-le": "UTF-16",
    "utf-16-be": "UTF-16",
    "cp1252": "Windows-1252",
}
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright lines"}


def form_words(form: Mapping[str, str]) -> str:
    """What kind of file a list came in.

    Examples
    --------
    >>> form_words({"kind": "csv", "encoding": "cp1252", "separator": ";"})
    'CSV with semicolons, Windows-1252'
    """
    if form["kind"] == "xlsx":
        return "XLSX, first sheet"
    return f"CSV with {SEPARATORS[form['separator']]}, {ENCODINGS[form['encoding']]}"


def list_state(job: ListJob) -> str:
    """How far a list has come, after its name."""
    if job.state is ListState.DONE and job.error:
        return "was stopped half-way: some rows are in"
    return STATES[job.state]


def progress_words(job: ListJob) -> str:
    """What is happening to a list, with how many rows of how many."""
    if job.state is ListState.READING:
        return f"{job.total or 0:,} rows read so far."
    doing = {
        ListState.JUDGING: "looked up",
        ListState.WRITING: "gone in",
        ListState.PLANNING: "planned",
    }[job.state]
    if job.state is ListState.WRITING and job.whole:
        return f"All {job.total or 0:,} rows go in together."
    done = max(0, min(job.position - job.headings_row, job.total or 0))
    return f"{done:,} of {job.total or 0:,} rows {doing}."


def progress_share(job: ListJob) -> float | None:
    """How much of the present state is done, 0 to 1; None where nobody can tell."""
    if job.state is ListState.READING or not job.total or job.whole:
        return None
    return max(0.0, min(1.0, (job.position - job.headings_row) / job.total))


def let_in_words(counts: Mapping[Fate, int]) -> str:
    """What the button that lets a list in says; empty if no row would change anything.

    Parameters
    ----------
    counts : rows by fate

    Examples
    --------
    >>> let_in_words({Fate.NEW_FARMER: 1, Fate.CHANGE: 1200})
    'Let 1 new farmer and 1,200 changes in'
    """
    parts = [
        f"{counts[fate]:,} {one if counts[fate] == 1 else many}"
        for fate, one, many in (
            (Fate.NEW_FARMER, "new farmer", "new farmers"),
            (Fate.NEW_PLOT, "more plot", "more plots"),
            (Fate.CHANGE, "change", "changes"),
        )
        if counts.get(fate)
    ]
    *first, last = parts or [""]
    listed = f"{', '.join(first)} and {last}" if first else last
    return f"Let {listed} in" if parts else ""
