"""Files of daily rain as people write them."""

from datetime import date

import pytest

from reminder_service.work.rain_rows import MOST_ROWS, BadRow, Row, amount_written, file_rows


def plain(row: Row):
    return (row.on and row.on.isoformat(), row.amount and row.amount.mm, row.ward, row.plot)


@pytest.mark.parametrize(
    "text, rows",
    [
        pytest.param("date,mm\n2026-11-12,23", [("2026-11-12", 23.0, "", "")], id="plain"),
        pytest.param("MM;Date\n12,5;3/12/2026", [("2026-12-03", 12.5, "", "")], id="semicolons"),
        pytest.param(
            "ward\tplot\tDay\train_mm\r\nOlmara\t4\t03.12.2026\t0\r\n",
            [("2026-12-03", 0.0, "Olmara", "4")],
            id="tabs, ward and plot",
        ),
        pytest.param(
            "\ufeffdate,mm,note\n2026-11-12,4.2,by hand\n\n",
            [("2026-11-12", 4.2, "", "")],
            id="mark",
        ),
        pytest.param('date,mm\n2026-11-12,"12,5"', [("2026-11-12", 12.5, "", "")], id="quoted"),
        pytest.param("date,mm\n2026-11-12,", [("2026-11-12", None, "", "")], id="unknown"),
    ],
)
def test_rows_are_read(text, rows):
    assert [plain(row) for row in file_rows(text)] == rows


@pytest.mark.parametrize(
    "row, fault",
    [
        ("2026-13-01,4", "no day"),
        ("31/02/2026,4", "no day"),
        ("2026-11-12,wet", "no amount"),
        ("2026-11-12", "too short"),
        ("2026-11-12,12,5", "more cells"),
        ("2026-11-12," + "9" * 90, "longer than"),
    ],
    ids=["month 13", "no such day", "a word", "too short", "a decimal comma", "a long cell"],
)
def test_faulty_rows_say_their_line_and_what_is_wrong(row, fault):
    good, bad = file_rows(f"date,mm\n2026-11-11,1\n{row}")
    assert not good.fault and bad.line == 3 and fault in bad.fault


@pytest.mark.parametrize(
    "text, fault",
    [
        ("", "empty"),
        ("date,mm\n", "no rows"),
        ("date,rain in inches\n1,2", "no column mm"),
        ("a,b\n1,2", "date or mm"),
        ("date,day,mm\n1,2,3", "two columns"),
        ("date,mm\n" + "2026-11-12,1\n" * (MOST_ROWS + 1), "cut it up"),
    ],
    ids=["empty", "heading alone", "inches", "no heading", "two days", "too many"],
)
def test_a_file_that_cannot_be_read_says_why(text, fault):
    with pytest.raises(BadRow, match=fault):
        file_rows(text)


@pytest.mark.parametrize(
    "written, mm, trace",
    [("23mm", 23.0, False), ("T", 0.0, True), (" 0.2 ", 0.2, False), ("1.2e-05", 1.2e-05, False)],
)
def test_amounts_are_read(written, mm, trace):
    found = amount_written(written)
    assert (found.mm, found.trace) == (mm, trace)


@pytest.mark.parametrize("written", ["-", "NA", "", "nan"])
def test_an_amount_that_nobody_knows_is_unknown_not_none(written):
    assert amount_written(written).mm is None


def test_the_day_stands_before_the_month():
    assert file_rows("date,mm\n03/12/2026,1")[0].on == date(2026, 12, 3)
