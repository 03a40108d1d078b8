"""Two pages for the funder: what was done in time, what was sent, and how each figure is made."""

from collections.abc import Sequence
from datetime import date

from reminder_service.kinds import Kind, NoticeState
from reminder_service.records.season_figures import Timeliness
from reminder_service.web.budget_words import money_words
from reminder_service.web.on_time_bars import OnTimeBars, on_time_bars, percent
from reminder_service.web.paper import FAMILY, INK, Paper
from reminder_service.web.wording import day_words_year, kind_words
from reminder_service.work.season_figures import HANDED, SeasonFigures, arrived_rate, summed, whole

SCALE = 0.27
"""Millimetres of paper to a unit of the drawing."""

LOOKS = {"reported": (207, 223, 180), "done": (160, 150, 132), "missed": (255, 255, 255)}
"""How each part of a bar is filled: pale, dark, empty."""

MOST_WARDS = 18
"""Wards in the table; with more, the rest are summed up, so that it stays two pages (setting)."""

HOW = (
    "In time: the farmer (or a coordinator for them) reported the task done on or before the day "
    "its window closed. Late: reported done after it. Missed: the window closed and nothing was "
    "reported; the work may have been done all the same. Tasks whose window is still open are left "
    "out. The rate is in time divided by all three.",
    "Windows are worked out for each plot from its own first rain and germination, reported or "
    "estimated, by the programme's rulebook; nobody visited the plots to check.",
    "Plots that reported: plots with at least one report of that kind that still stands.",
    "Delivered: the carrier's receipt says so, as a share of what the carrier took. A dash: the "
    "carrier gave no receipts, so that nothing is known of delivery.",
    "Cost: the carrier's price for each segment as the programme entered it, counted when a text "
    "is handed over; divided by the plots of the season.",
)
"""How the figures are made."""


def funder_paper(
    asked: SeasonFigures,
    before: SeasonFigures | None,
    tasks: Sequence[tuple[str, str]],
    reports: Sequence[Kind],
    printed_on: date,
    currency: str,
) -> bytes:
    """Print a season's figures.

    Parameters
    ----------
    asked, before : the season, and the one before it for comparison
    tasks : title and name of each task, in order
    reports : kinds whose share of the plots is told
    printed_on : local day
    currency : ISO 4217 code; empty if texts have no price

    Returns
    -------
    a PDF
    """
    title = f"Season from {day_words_year(asked.starts_on)}"
    sheet = Paper(title, f"Printed {day_words_year(printed_on)}.")
    total = whole(asked.done.values())
    sheet.words(_first_words(asked, before, total))
    sheet.heading("Tasks done in time")
    now = summed(asked.done, lambda group: group.task)
    then = summed(before.done, lambda group: group.task) if before else {}
    bars = on_time_bars([(words, now[name], then.get(name)) for words, name in tasks])
    if bars is None:
        sheet.words("No window has closed yet.")
    else:
        _draw(sheet, bars)
    sheet.heading("Wards")
    sheet.rows(
        ("Ward", "Plots", "In time", "Late", "Missed", "Rate"),
        _ward_rows(asked),
        (5, 2, 2, 2, 2, 2),
    )
    sheet.add_page()
    _second_page(sheet, asked, reports, currency)
    return sheet.made()


def _first_words(asked: SeasonFigures, before: SeasonFigures | None, total: Timeliness) -> str:
    said = (
        f"{asked.all_plots} plots in {sum(map(bool, asked.plots.values()))} wards. "
        f"{percent(total.rate)} of the tasks that are over were done in time "
        f"({total.in_time} of {total.over})."
    )
    if before is None:
        return said
    rate = whole(before.done.values()).rate
    if rate is None:
        return said
    return f"{said} The season before it was {percent(rate)}, on {before.all_plots} plots."


def _draw(sheet: Paper, bars: OnTimeBars) -> None:
    left, top = sheet.l_margin, sheet.get_y()
    sheet.set_font(FAMILY, "", 9)
    sheet.set_draw_color(*INK)
    for bar in bars.bars:
        y = top + bar.y * SCALE
        sheet.text(left + sheet.c_margin, top + bar.middle * SCALE, bar.name)
        before = left + (bars.start - 4) * SCALE - sheet.get_string_width(bar.said)
        sheet.text(before, top + bar.middle * SCALE, bar.said)
        for piece in bar.pieces:
            sheet.set_fill_color(*LOOKS[piece.look])
            sheet.rect(left + piece.x * SCALE, y, piece.width * SCALE, 15 * SCALE, style="DF")
        if bar.before_x is not None:
            x = left + bar.before_x * SCALE
            sheet.set_line_width(0.7)
            sheet.line(x, y - 1, x, y + 15 * SCALE + 1)
            sheet.set_line_width(0.2)
    sheet.set_y(top + bars.height * SCALE + 1)
    sheet.words(
        "Pale: in time. Dark: done late. Empty: missed. Thick upright line: the rate of the season "
        "before, where there is one.",
        8.5,
    )


def _ward_rows(asked: SeasonFigures) -> list[list[str]]:
    by_ward = summed(asked.done, lambda group: group.ward_id)
    none = Timeliness()
    rows = [
        (ward.name, asked.plots.get(ward.id, 0), by_ward.get(ward.id, none))
        for ward in asked.wards
        if asked.plots.get(ward.id)
    ]
    shown, rest = rows[:MOST_WARDS], rows[MOST_WARDS:]
    if rest:
        counts = whole(counts for _, _, counts in rest)
        shown.append((f"{len(rest)} more wards", sum(plots for _, plots, _ in rest), counts))
    return [_row(*row) for row in shown]


def _row(name: str, plots: int, counts: Timeliness) -> list[str]:
    numbers = (plots, counts.in_time, counts.late, counts.missed)
    return [name, *map(str, numbers), percent(counts.rate)]


def _second_page(
    sheet: Paper, asked: SeasonFigures, reports: Sequence[Kind], currency: str
) -> None:
    sheet.heading("What farmers reported")
    rows = [
        [
            kind_words(kind),
            str(count),
            percent(count / asked.all_plots if asked.all_plots else None),
        ]
        for kind in reports
        for count in [asked.reported_by_all(kind)]
    ]
    sheet.rows(("Report", "Plots", "Share of all plots"), rows, (3, 1, 2))
    sheet.heading("Texts")
    routes = [
        [
            route,
            str(sum(states[state] for state in HANDED)),
            str(states[NoticeState.DELIVERED]),
            percent(arrived_rate(states)),
        ]
        for route, states in sorted(asked.states.items())
    ]
    if routes:
        sheet.rows(("Route", "Taken", "Delivered", "Share delivered"), routes, (3, 2, 2, 2))
    else:
        sheet.words("No text has gone out.")
    if asked.money is not None:
        sheet.words(_money(asked, currency))
    sheet.heading("How the figures are made")
    for paragraph in HOW:
        sheet.words(paragraph, 9)


def _money(asked: SeasonFigures, currency: str) -> str:
    money = asked.money
    if money is None:
        return ""
    said = f"{money.texts} texts in {money.segments} segments."
    if not currency or asked.cost_a_plot is None:
        return f"{said} No price is entered for them."
    return (
        f"{said} Cost: {money_words(money.cost, currency)}, "
        f"{money_words(asked.cost_a_plot, currency)} a plot."
    )
