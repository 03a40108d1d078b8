"""Days, plots and tasks in the word orders of Swahili, Portuguese and Chichewa."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_lists import invented
from texts_cast import SENT_ON, TASKS

from reminder_service.kinds import Kind
from reminder_service.texts.reading import read
from reminder_service.texts.reading_types import Reading, Said, said_value

LISTS = {language: invented(language) for language in ("sw", "pt", "ny")}
WEDNESDAY = SENT_ON


def read_as(language: str, body: str, on: date = SENT_ON) -> Reading:
    return read(body, on, LISTS[language], TASKS)


def said_in(language: str, body: str) -> Said:
    (said,) = read_as(language, body).said
    return said


@pytest.mark.parametrize(
    ("language", "body", "expected"),
    [
        ("sw", "mvua siku 3 zilizopita", "2026-11-22"),
        ("sw", "mvua siku tatu zilizopita", "2026-11-22"),
        ("sw", "mvua wiki moja iliyopita", "2026-11-18"),
        ("sw", "mvua jumatatu iliyopita", "2026-11-23"),
        ("sw", "mvua tarehe 12 novemba", "2026-11-12"),
        ("sw", "mvua tarehe 12/11", "2026-11-12"),
        ("sw", "tarehe 12 mvua", "2026-11-12"),
        ("sw", "mvua tarehe 12 mwezi wa 11", "2026-11-12"),
        ("sw", "mvua tarehe kumi na mbili mwezi wa kumi na moja", "2026-11-12"),
        ("sw", "mvua 12 mwezi wa 11 mwaka 2025", "2025-11-12"),
        ("sw", "mvua mwezi wa 11 tarehe 12", "2026-11-12"),
        ("sw", "mvua novemba tarehe 12", "2026-11-12"),
        ("sw", "mvua tarehe 12 mwezi huu", "2026-11-12"),
        ("sw", "mvua tarehe 12 mwezi uliopita", "2026-10-12"),
        ("sw", "mvua jana saa 2", "2026-11-24"),
        ("sw", "RAIN jana", "2026-11-24"),
        ("sw", "MVUA12NOV", "2026-11-12"),
        ("sw", "mvua leo 12 nov", "2026-11-12"),
        ("pt", "chuva há 3 dias", "2026-11-22"),
        ("pt", "chuva ha 3 dias", "2026-11-22"),
        ("pt", "faz uma semana choveu", "2026-11-18"),
        ("pt", "choveu há 3 dias atrás", "2026-11-22"),
        ("pt", "choveu 3 dias atras", "2026-11-22"),
        ("pt", "choveu há 1 dia", "2026-11-24"),
        ("pt", "chuva 12 de Novembro", "2026-11-12"),
        ("pt", "chuva 12 de novembro de 2025", "2025-11-12"),
        ("pt", "chuva no dia 12", "2026-11-12"),
        ("pt", "chuva dia doze", "2026-11-12"),
        ("pt", "chuva dia 12 de 11", "2026-11-12"),
        ("pt", "chuva dia 12 do 11 de 2025", "2025-11-12"),
        ("pt", "chuva dia 12.11", "2026-11-12"),
        ("pt", "chuva 12 do mês passado", "2026-10-12"),
        ("pt", "dia 12 deste mes choveu", "2026-11-12"),
        ("pt", "chuva segunda-feira", "2026-11-23"),
        ("pt", "chuva segunda passada", "2026-11-23"),
        ("pt", "choveu na segunda", "2026-11-23"),
        ("pt", "choveu na 2ª feira", "2026-11-23"),
        ("pt", "chuva sexta, 20 de novembro", "2026-11-20"),
        ("pt", "chuva 12 dez", "2026-12-12"),
        ("pt", "chuva 12 de dez", "2026-12-12"),
        ("pt", "choveu há dez dias", "2026-11-15"),
        ("pt", "chuva dia dez", "2026-11-10"),
        ("pt", "chuva 1º de novembro", "2026-11-01"),
        ("pt", "chuva vinte e um de novembro", "2026-11-21"),
        ("pt", "chuva amanha", "2026-11-26"),
        ("pt", "chuva AMANHÃ", "2026-11-26"),
        ("pt", "uma chuva forte ontem", "2026-11-24"),
        ("pt", "choveu ontem a noite", "2026-11-24"),
        ("ny", "mvula masiku atatu apitawo", "2026-11-22"),
        ("ny", "mvula sabata imodzi yapitayo", "2026-11-18"),
        ("ny", "mvula lolemba lapitali", "2026-11-23"),
        ("ny", "chamera pa 12", "2026-11-12"),
        ("ny", "chamera pa lolemba", "2026-11-23"),
        ("ny", "chamera pa 12/11", "2026-11-12"),
        ("ny", "mvula pa tsiku la 12", "2026-11-12"),
        ("ny", "mvula khumi ndi awiri novembala", "2026-11-12"),
        ("ny", "mvula pa 12 mwezi uno", "2026-11-12"),
    ],
)
def test_a_day_is_read_in_the_languages_own_order(language: str, body: str, expected: str) -> None:
    assert said_in(language, body).on == date.fromisoformat(expected)


@pytest.mark.parametrize(
    ("language", "body"),
    [
        pytest.param("sw", "mvua siku 3", id="days without ago"),
        pytest.param("sw", "mvua wiki iliyopita", id="last week"),
        pytest.param("sw", "mvua jumatatu ya wiki iliyopita", id="Monday of last week"),
        pytest.param("sw", "mvua masaa 3 zilizopita", id="hours ago"),
        pytest.param("sw", "mvua mwezi wa 11", id="a month alone"),
        pytest.param("sw", "mvua tarehe 12 mwezi wa 13", id="no month 13"),
        pytest.param("sw", "mvua tarehe 31 mwezi wa 11", id="no such day"),
        pytest.param("sw", "mvua tarehe 28", id="the next 28th is near"),
        pytest.param("sw", "mvua tarehe", id="nothing after the day word"),
        pytest.param("sw", "mvua ya pili novemba", id="second rain or second of November"),
        pytest.param("sw", "palizi 2 mwezi wa 11 nimemaliza", id="second weeding or 2 November"),
        pytest.param("sw", "mvua ishirini na tano novemba", id="a number that is not listed"),
        pytest.param("sw", "mvua ishirini tano novemba", id="the same without and"),
        pytest.param("sw", "mvua siku ishirini na tano zilizopita", id="such a number of days"),
        pytest.param("sw", "mvua tarehe 12 mwezi wa kumi na tano", id="such a month"),
        pytest.param("pt", "choveu um dia", id="one day"),
        pytest.param("pt", "choveu há dias", id="some days ago"),
        pytest.param("pt", "chuva dia 12 11", id="two bare numbers"),
        pytest.param("pt", "segunda chuva 12/11", id="second rain"),
        pytest.param("pt", "sacha feita segunda", id="Monday or second"),
        pytest.param("pt", "sachei segunda", id="Monday or second, after its word"),
        pytest.param("pt", "chuva dia 12 do mês dez", id="month ten or December"),
        pytest.param(
            "pt", "choveu segunda da semana passada", id="Monday of last week, Portuguese"
        ),
        pytest.param("ny", "mvula sabata yatha", id="last week, Chichewa"),
    ],
)
def test_what_could_be_two_days_is_none(language: str, body: str) -> None:
    assert read_as(language, body).bad_date is not None


@pytest.mark.parametrize(
    ("language", "body"),
    [
        pytest.param("sw", "hatujapata mvua 12/11", id="a word that begins with a negation"),
        pytest.param("sw", "bado mvua 12/11", id="not yet"),
        pytest.param("pt", "não choveu ontem", id="not, with its mark"),
        pytest.param("pt", "nao choveu ontem", id="not, without it"),
        pytest.param("ny", "sindinabzale planted 12/11", id="a negated verb"),
    ],
)
def test_a_text_that_denies_is_no_report(language: str, body: str) -> None:
    assert read_as(language, body).unread


@given(st.dates(date(2001, 1, 1), date(2098, 12, 31)), st.integers(1, 50))
def test_days_ago_are_the_same_in_every_order(on: date, number: int) -> None:
    meant = on - timedelta(days=number)
    for language, body in (
        ("sw", f"mvua siku {number} zilizopita"),
        ("pt", f"chuva há {number} dias"),
        ("pt", f"chuva {number} dias atras"),
        ("ny", f"mvula masiku {number} apitawo"),
    ):
        assert [said.on for said in read_as(language, body, on).said] == [meant], body


@given(st.dates(date(2001, 1, 1), date(2098, 12, 31)), st.integers(-150, 150))
def test_a_day_word_changes_no_date(on: date, away: int) -> None:
    meant = on + timedelta(days=away)
    for language, body in (
        ("sw", f"mvua tarehe {meant.day} mwezi wa {meant.month}"),
        ("sw", f"mvua mwezi wa {meant.month} tarehe {meant.day}"),
        ("pt", f"chuva dia {meant.day} de {meant.month}"),
        ("ny", f"mvula pa {meant.day}/{meant.month}"),
    ):
        assert [said.on for said in read_as(language, body, on).said] == [meant], body


@given(st.dates(date(2001, 1, 1), date(2098, 12, 31)), st.integers(0, 99))
def test_a_day_of_a_named_month_is_that_day_or_none(on: date, day: int) -> None:
    reading = read_as("pt", f"chuva dia {day} do mes passado", on)
    last = on.replace(day=1) - timedelta(days=1)
    for said in reading.said:
        assert said.on == last.replace(day=day)
    assert reading.said or reading.bad_date is not None


@pytest.mark.parametrize(
    ("language", "body", "plots"),
    [
        pytest.param("sw", "imeota jana kwa 3 5 8", ("3", "5", "8"), id="numbers"),
        pytest.param("sw", "imeota jana kwa amina na diro", ("AMINA", "DIRO"), id="names"),
        pytest.param("sw", "imeota jana kwa amina diro na 3", ("AMINA DIRO", "3"), id="both"),
        pytest.param("pt", "germinou ontem para 3, 5 e 8", ("3", "5", "8"), id="with and"),
        pytest.param("pt", "germinou ontem para João", ("JOÃO",), id="a name keeps its marks"),
        pytest.param("sw", "germ jana plot a", ("A",), id="a letter"),
        pytest.param("sw", "germ jana plot 3b", ("3B",), id="number and letter"),
        pytest.param("sw", "germ jana shamba tatu", ("3",), id="number word"),
    ],
)
def test_plots_are_named(language: str, body: str, plots: tuple[str, ...]) -> None:
    assert said_in(language, body).plots == plots


@pytest.mark.parametrize(
    ("language", "body"),
    [
        ("sw", "imeota jana kwa wote"),
        ("sw", "imeota jana wote"),
        ("pt", "para todos germinou ontem"),
        ("ny", "chamera dzulo kwa onse"),
        ("sw", "GERM 24/11 FOR ALL"),
    ],
)
def test_a_report_for_the_whole_ward_says_so(language: str, body: str) -> None:
    said = said_in(language, body)
    assert (said.whole_ward, said.plots) == (True, ())
    assert said_value(said)["whole_ward"] is True


def test_the_whole_ward_holds_for_every_report_of_a_text() -> None:
    said = read_as("sw", "mvua 12/11 imeota 20/11 kwa wote").said
    assert [one.whole_ward for one in said] == [True, True]


def test_a_report_of_ones_own_does_not_speak_of_the_ward() -> None:
    assert "whole_ward" not in said_value(said_in("sw", "imeota jana"))


def test_plots_beside_the_whole_ward_are_not_read() -> None:
    assert read_as("sw", "imeota jana kwa wote shamba 3").unread


@pytest.mark.parametrize(
    ("language", "body", "number", "on_given"),
    [
        pytest.param("sw", "nimepalilia jana", None, True, id="a word that says it is done"),
        pytest.param("sw", "palizi ya pili nimemaliza", 2, False, id="second, after its word"),
        pytest.param("pt", "segunda sacha feita", 2, False, id="second, before its word"),
        pytest.param("pt", "sachei segunda-feira passada", None, True, id="on Monday"),
        pytest.param("sw", "DONE palizi", None, False, id="mixed with English"),
    ],
)
def test_a_task_is_told_in_the_languages_words(
    language: str, body: str, number: int | None, on_given: bool
) -> None:
    said = said_in(language, body)
    told = (said.kind, said.task, said.number, said.on_given)
    assert told == (Kind.DONE, "weed", number, on_given)


def test_words_for_tasks_that_the_caller_does_not_know_name_none() -> None:
    reading = read("DONE kucheza", SENT_ON, LISTS["sw"], TASKS)
    assert [said.task for said in reading.said] == [None]


def test_one_word_may_be_a_count_or_an_article() -> None:
    assert said_in("pt", "contagem 2 um 0").counts == (2, 1, 0)
    assert read_as("pt", "um").said == (Said(Kind.CHOICE, number=1),)


def test_a_number_before_the_count_is_not_counted() -> None:
    assert read_as("pt", "segunda contagem 2 1 0").unread


def test_so_many_of_a_hundred_are_counted() -> None:
    assert said_in("ny", "mbozi 12 pa 100").damaged == 12
