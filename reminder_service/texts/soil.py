"""What a text about dressing adds while the soil is not fit for it."""

from reminder_service.agronomy.field_moisture import HoldReason
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue


def soil_hint(reason: HoldReason, language: str = SOURCE_LANGUAGE) -> str:
    """What a farmer should wait for before dressing.

    Parameters
    ----------
    reason : why nitrogen should not be placed today
    language : ISO 639-1 code

    Returns
    -------
    a sentence; empty where the farmer can do nothing about it

    Examples
    --------
    >>> soil_hint(HoldReason.WAIT_FOR_MOISTURE)
    'Soil is dry: wait for rain, then dress.'
    """
    _ = catalogue(language).gettext
    hints = {
        HoldReason.WAIT_FOR_MOISTURE: _("Soil is dry: wait for rain, then dress."),
        HoldReason.HEAVY_STORM: _("Heavy rain may come: dress after it."),
        HoldReason.WATERLOGGED: _("Soil is too wet: dress once it has drained."),
    }
    return hints.get(reason, "")


def short_dressing(language: str = SOURCE_LANGUAGE) -> str:
    """Wording of a dressing text whose own one leaves no room for the hint.

    It leaves out how to dress, since that is not to be done now.

    Parameters
    ----------
    language : ISO 639-1 code

    Returns
    -------
    a template

    Examples
    --------
    >>> short_dressing()
    '{name}, plot {plot}: top-dress by {closes}'
    """
    _ = catalogue(language).gettext
    return _("{name}, plot {plot}: top-dress by {closes}")


def longest_hint(language: str = SOURCE_LANGUAGE) -> str:
    """The hint that takes most letters in a language.

    Parameters
    ----------
    language : ISO 639-1 code
    """
    return max((soil_hint(reason, language) for reason in HoldReason), key=len)
