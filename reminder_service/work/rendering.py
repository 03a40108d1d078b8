"""Put a wanted notice into the words that the farmer reads."""

from reminder_service.agronomy.field_moisture import HoldReason
from reminder_service.records.farmers import SeasonForPlanning
from reminder_service.records.plans import NewNotice
from reminder_service.rules.needs import plot_amount
from reminder_service.rules.plan import WantedNotice
from reminder_service.texts.catalogues import catalogue
from reminder_service.texts.letters import economical
from reminder_service.texts.segments import segments
from reminder_service.texts.soil import short_dressing, soil_hint
from reminder_service.texts.wording import called, fill, with_caution


def new_notice(
    wish: WantedNotice,
    season: SeasonForPlanning,
    phone_id: int,
    hold: HoldReason | None = None,
) -> NewNotice:
    """Row of the queue for one wanted notice.

    Parameters
    ----------
    wish : what the plan asks for
    season : whose it is
    phone_id : where it goes
    hold : why a dressing should wait; said where the text has room for it

    Returns
    -------
    the row, its body written
    """
    body = economical(_body(wish, season), season.language).body
    if hold is not None:
        body = _held(wish, season, hold, body)
    task = wish.about
    return NewNotice(
        key=f"{season.season_id}/{wish.key}",
        phone_id=phone_id,
        farmer_id=season.farmer_id,
        ward_id=season.ward_id,
        season_id=season.season_id,
        inbound_id=None,
        task=wish.task,
        number=wish.number,
        stage=wish.stage,
        opens_on=task.opens if task else None,
        due_on=task.due if task else None,
        closes_on=task.closes if task else None,
        body=body,
        segments=segments(body).segments,
        importance=wish.importance,
        day=wish.on,
        send_at=wish.send_at,
        expires_at=wish.expires_at,
    )


def _held(wish: WantedNotice, season: SeasonForPlanning, hold: HoldReason, plain: str) -> str:
    """The text with what to wait for, if need be without how to dress; else as it was."""
    language = season.language
    hint = soil_hint(hold, language)
    most = max(wish.most_segments, segments(plain).segments)
    for template in (catalogue(language).gettext(wish.template), short_dressing(language)):
        body = economical(_filled(template, wish, season, hint), language).body
        if segments(body).segments <= most:
            return body
    return plain


def _body(wish: WantedNotice, season: SeasonForPlanning) -> str:
    return _filled(catalogue(season.language).gettext(wish.template), wish, season)


def _filled(template: str, wish: WantedNotice, season: SeasonForPlanning, hint: str = "") -> str:
    caution = wish.caution and catalogue(season.language).gettext(wish.caution)
    values = {"name": called(season.farmer_name), "plot": season.plot_number}
    if wish.about is None:
        asked = {"on": wish.asks.on} if wish.asks else {}
        text = fill(
            template, about=asked, near=wish.on, language=season.language, **values, **asked
        )
        return with_caution(text, caution)
    task = wish.about
    amount = {} if wish.need is None else {"amount": str(plot_amount(wish.need, season.stations))}
    text = fill(
        template,
        about=task.estimated,
        near=wish.on,
        language=season.language,
        opens=task.opens,
        due=task.due,
        closes=task.closes,
        number=task.number,
        **amount,
        **values,
    )
    return with_caution(with_caution(text, hint), caution)
