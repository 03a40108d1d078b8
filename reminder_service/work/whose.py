"""Which plots a text speaks of: by number, by first name, or as a lead farmer's."""

import re
from collections.abc import Sequence

from reminder_service.records import farmers
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.texts import leading, refusals
from reminder_service.texts.reading_types import Said
from reminder_service.texts.words import Role, folded, word_list
from reminder_service.work.talk import Talk

_WORD = re.compile(r"[^\W\d_]+")


def names_on_phone(talk: Talk) -> dict[str, int]:
    """First names that only one farmer of the phone has, and that farmer's id."""
    found: dict[str, set[int]] = {}
    for plot in talk.plots:
        found.setdefault(_first_name(plot), set()).add(plot.farmer_id)
    return {name: min(ids) for name, ids in found.items() if len(ids) == 1}


def farmers_named(talk: Talk, body: str) -> set[int]:
    """Farmers of the phone whose first name is a word of a text.

    Parameters
    ----------
    talk : the text being worked
    body : its words
    """
    names = names_on_phone(talk)
    return {names[word] for word in map(folded, _WORD.findall(body)) if word in names}


def with_numbers(talk: Talk, body: str) -> str:
    """A text with each first name of a farmer of the phone replaced by the plots they have.

    Parameters
    ----------
    talk : the text being worked
    body : its words

    Returns
    -------
    the text, ready to be read; the same where it names nobody
    """
    words = word_list(talk.language)
    names = {
        name: farmer_id
        for name, farmer_id in names_on_phone(talk).items()
        if (name,) not in words.phrases  # a farmer called Rain is told by the plot's number
    }
    signs = (phrase for phrase, meaning in words.phrases.items() if meaning.role is Role.PLOT)
    sign = " ".join(next(signs))

    def numbered(match: re.Match[str]) -> str:
        farmer_id = names.get(folded(match[0]))
        theirs = [plot.plot_number for plot in talk.plots if plot.farmer_id == farmer_id]
        return " ".join(f"{sign} {number}" for number in theirs) or match[0]

    return _WORD.sub(numbered, body)


def plots_meant(talk: Talk, said: Said) -> Sequence[PlotOnPhone] | str:
    """The plots that something is said of, or the text that asks which.

    Parameters
    ----------
    talk : the text being worked
    said : one thing it says; not one for a whole ward
    """
    numbers = [plot.plot_number for plot in talk.plots]
    if not said.plots:
        if len(talk.plots) == 1:
            return talk.plots
        if is_of_gauge(talk, said):
            # The report stands with one plot of the keeper, the amount with the whole ward.
            return [plot for plot in talk.plots if plot.ward_id in talk.gauge_wards][:1]
        if not talk.plots:
            return leading.name_plots(language=talk.language)
        return refusals.which_plot(numbers, language=talk.language)
    meant: dict[int, PlotOnPhone] = {}
    for written in said.plots:
        found = _named(talk, written)
        if isinstance(found, str):
            return found
        meant |= {plot.season_id: plot for plot in found}
    return list(meant.values())


def is_of_gauge(talk: Talk, said: Said) -> bool:
    """Whether rain was read off the ward's gauge: its keeper gives an amount and names no plot."""
    scoped = said.plots or said.whole_ward
    keeps = any(plot.ward_id in talk.gauge_wards for plot in talk.plots)
    return said.mm is not None and not scoped and keeps


def led_plots(talk: Talk) -> list[PlotOnPhone]:
    """Every plot that a lead farmer of the phone may report for."""
    wards = {lead.ward_id for lead in talk.leads}
    return farmers.open_plots_of_wards(talk.c, wards) if wards else []


def _named(talk: Talk, written: str) -> Sequence[PlotOnPhone] | str:
    """Plots that one number or name stands for: the phone's own first, then those it leads."""
    numbers = [plot.plot_number for plot in talk.plots]
    own = [plot for plot in talk.plots if plot.plot_number == written]
    if len(own) > 1:
        return refusals.which_plot(numbers, language=talk.language)
    farmer_id = names_on_phone(talk).get(folded(written))
    theirs = [plot for plot in talk.plots if plot.farmer_id == farmer_id]
    if own or theirs:
        return own or theirs
    led = led_plots(talk)
    found = [plot for plot in led if plot.plot_number == written]
    if len(found) > 1:
        return leading.which_ward([lead.ward_name for lead in talk.leads], language=talk.language)
    others = numbers or [plot.plot_number for plot in led]
    return found or refusals.unknown_plot(written, others, language=talk.language)


def _first_name(plot: PlotOnPhone) -> str:
    return folded(plot.farmer_name.split()[0])
