"""A ward's tasks of one week on paper, for farmers without a phone and for whoever walks round."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import groupby

from flask import Blueprint, Response, abort, request

from reminder_service.records.engine import reading
from reminder_service.records.views import Ward
from reminder_service.records.week_tasks import MOST_ROWS, WeekTask, week_tasks
from reminder_service.web.paper import Paper
from reminder_service.web.walls import services, today_in, ward_or_404
from reminder_service.web.wording import day_words, day_words_year, titles_of

blueprint = Blueprint("task_list", __name__)

HEAD = ("Plot", "Farmer", "Task", "Best on", "Last day", "Done on")
WIDTHS = (2, 5, 5, 3, 3, 3)

CAUTION = (
    "Chemicals and fertiliser: the label, local rules and your adviser come first. Gloves; no "
    "eating or smoking; wash afterwards; keep children and animals away."
)
"""What stands over the list, whatever is on it."""


@blueprint.get("/wards/<int:ward_id>/tasks.pdf")
def paper(ward_id: int) -> Response:
    """Hand out the tasks whose window is open in a week and that are not done, plot by plot."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        monday = _monday_given(today_in(here.zone))
        tasks = week_tasks(c, ward_id, monday, monday + timedelta(days=6))
    answer = Response(task_paper(here, monday, tasks), content_type="application/pdf")
    name = f"tasks-ward-{ward_id}-{monday}.pdf"
    answer.headers.set("Content-Disposition", "attachment", filename=name)
    return answer


def task_paper(ward: Ward, monday: date, tasks: Sequence[WeekTask]) -> bytes:
    """Print the list.

    Parameters
    ----------
    ward : whose
    monday : first local day of the week
    tasks : by plot number

    Returns
    -------
    a PDF
    """
    sunday = monday + timedelta(days=6)
    sheet = Paper(f"{ward.name}: tasks from {day_words(monday)} to {day_words_year(sunday)}", "")
    if not tasks:
        sheet.words("No task of this ward has its window open in this week.")
        return sheet.made()
    sheet.words(CAUTION, 9)
    if len(tasks) == MOST_ROWS:
        sheet.words(f"Only the first {MOST_ROWS} tasks stand here.", 9)
    sheet.rows(HEAD, [*_rows(tasks)], WIDTHS)
    return sheet.made()


def _rows(tasks: Sequence[WeekTask]) -> Iterator[list[str]]:
    title = titles_of(services().rulebook)
    for (plot, farmer), own in groupby(tasks, lambda task: (task.plot_number, task.farmer_name)):
        for place, task in enumerate(own):
            named = [plot, farmer] if not place else ["", ""]
            days = [day_words(task.due_on), day_words(task.closes_on)]
            yield [*named, title(task.name, task.number), *days, ""]


def _monday_given(today: date) -> date:
    text = request.args.get("week")
    try:
        day = date.fromisoformat(text) if text else today
    except ValueError:
        abort(400)
    return day - timedelta(days=day.weekday())
