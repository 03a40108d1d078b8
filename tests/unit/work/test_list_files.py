"""Files that hold a list: encodings and separators told apart, bombs and damage refused."""

import csv
import io
import random
import zipfile
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from reminder_service.work.lists import files, xlsx_files
from reminder_service.work.lists.csv_files import encoding_of, separator_of
from reminder_service.work.lists.errors import UnusableFile
from reminder_service.work.lists.files import FileForm, file_form, file_rows
from reminder_service.work.lists.safe_cells import looks_like_formula, quoted, unquoted, writable

WORDS = "Ward;Família;Telefone\nOlmara;Inês Dule;+447700900001\n"


def rows_of(data: bytes) -> list[tuple[str, ...]]:
    return [row.cells for row in file_rows(data, file_form(data))]


def workbook(rows) -> bytes:
    book = Workbook(write_only=True)
    sheet = book.create_sheet()
    for row in rows:
        sheet.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


@pytest.mark.parametrize(
    ("encoded", "name"),
    [
        (WORDS.encode("utf-8"), "utf-8"),
        (WORDS.encode("utf-8-sig"), "utf-8-sig"),
        (WORDS.encode("utf-16"), "utf-16"),
        (b"\xfe\xff" + WORDS.encode("utf-16-be"), "utf-16"),
        (WORDS.encode("utf-16-le"), "utf-16-le"),
        (WORDS.encode("utf-16-be"), "utf-16-be"),
        (WORDS.encode("cp1252"), "cp1252"),
    ],
    ids=[
        "utf-8",
        "utf-8 with a mark",
        "utf-16 with a mark",
        "utf-16 with the other mark",
        "utf-16 little end first, no mark",
        "utf-16 big end first, no mark",
        "windows-1252",
    ],
)
def test_an_encoding_is_told_and_read(encoded, name):
    assert encoding_of(encoded) == name
    assert rows_of(encoded)[1] == ("Olmara", "Inês Dule", "+447700900001")


@given(
    st.lists(
        st.lists(
            st.text("abcdefg 0123456789.,'\u00e9", min_size=1, max_size=9), min_size=3, max_size=3
        ),
        min_size=3,
        max_size=6,
    ),
    st.sampled_from(",;\t|"),
)
def test_the_separator_that_a_file_was_written_with_is_found(rows, separator):
    head = ["Ward", "Farmer name", "Phone"]
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator).writerows([head, *rows])
    assert separator_of(text.getvalue().encode(), "utf-8") == separator


@pytest.mark.parametrize(
    ("data", "separator"),
    [
        (b"Ward;ha\nOlmara;0,25\nSetiwe;0,50\n", ";"),
        (b"sep=|\nWard,x|Name\n", "|"),
        (b"Ward\nOlmara\n", ","),
    ],
    ids=["decimal commas", "named in the first line", "one column"],
)
def test_a_separator_is_not_taken_for_another(data, separator):
    assert separator_of(data, "utf-8") == separator


def test_the_line_that_names_the_separator_is_no_row():
    assert rows_of(b"sep=;\nWard;Name\nOlmara;Nalo\n") == [("Ward", "Name"), ("Olmara", "Nalo")]


def test_blank_rows_are_left_out_and_the_others_keep_their_numbers():
    data = b"Ward,Name\n\n , \nOlmara,Nalo\n"
    assert [row.number for row in file_rows(data, file_form(data))] == [1, 4]


def test_a_workbook_is_read_like_a_csv_file():
    data = workbook(
        [["Ward", "Phone", "ha"], ["Olmara", 447700900001, 0.25], [None, None], ["", 1.0]]
    )
    assert rows_of(data) == [("Ward", "Phone", "ha"), ("Olmara", "447700900001", "0.25"), ("", "1")]


def test_the_name_of_a_file_does_not_matter_but_its_bytes():
    assert file_form(workbook([["Ward"]])) == FileForm("xlsx")
    assert file_form(b"a,b\n1,2\n").kind == "csv"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"  \n", "is empty"),
        (b"\xd0\xcf\x11\xe0" + b"x" * 50, "old XLS form"),
        (b"PK\x03\x04 but no archive", "damaged"),
        (b"GIF89a\0\x01\x02\x03\0\x80 picture", "neither CSV nor XLSX"),
        (b"caf\x81\n", "an encoding that is not known"),
        (b"x" * (files.MOST_BYTES + 1), "larger than 20 MB"),
    ],
    ids=["empty", "old form", "broken archive", "a picture", "unknown encoding", "too large"],
)
def test_what_is_no_list_is_refused_with_the_reason(data, words):
    with pytest.raises(UnusableFile, match=words):
        rows_of(data)


def test_an_open_quotation_mark_is_found():
    data = b'Ward,Name\nOlmara,"Nalo\n' + b"Setiwe,Teme\n" * 1000
    with pytest.raises(UnusableFile, match="row 2"):
        rows_of(data)


def archive(**parts: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name.replace("__", "/").replace("_xml", ".xml"), content)
    return file.getvalue()


def test_another_packed_file_is_no_workbook():
    with pytest.raises(UnusableFile, match="no XLSX workbook"):
        file_form(archive(content_xml=b"<x/>"))


def test_a_packed_bomb_is_refused_by_what_it_would_grow_to(monkeypatch):
    monkeypatch.setattr(xlsx_files, "MOST_UNPACKED", 1_000_000)
    bomb = archive(xl__workbook_xml=b"<x/>", xl__worksheets__sheet1_xml=b" " * 2_000_000)
    assert len(bomb) < 5_000
    with pytest.raises(UnusableFile, match="grows too large"):
        file_form(bomb)


def test_a_bomb_that_lies_about_its_size_is_not_unpacked_further():
    honest = workbook([["Ward", "Name"]] + [["Olmara", "Nalo Teme"]] * 2000)
    with zipfile.ZipFile(io.BytesIO(honest)) as packed:
        size = packed.getinfo("xl/worksheets/sheet1.xml").file_size
    lying = honest.replace(size.to_bytes(4, "little"), (100).to_bytes(4, "little"))
    assert lying != honest
    with pytest.raises(UnusableFile, match="damaged"):
        rows_of(lying)


def test_entities_that_multiply_are_refused():
    data = workbook([["Ward"], ["Olmara"]])
    bomb = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(bomb, "w") as new:
        for part in old.infolist():
            content = old.read(part)
            if part.filename.endswith("sheet1.xml"):
                kind = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
                content = kind + content.partition(b"?>")[2].replace(b"Olmara", b"&b;")
            new.writestr(part.filename, content)
    with pytest.raises(UnusableFile, match="damaged"):
        rows_of(bomb.getvalue())


def test_a_list_of_too_many_rows_is_refused_and_not_cut_off(monkeypatch):
    monkeypatch.setattr(files, "MOST_ROWS", 3)
    assert len(rows_of(b"h\n1\n2\n3\n")) == 4
    with pytest.raises(UnusableFile, match="more than 3 rows"):
        rows_of(b"h\n1\n2\n3\n4\n")


@pytest.mark.filterwarnings("ignore")
def test_a_damaged_workbook_is_refused_or_read_but_never_a_fault_of_ours():
    whole = workbook([["Ward", "Name"], *[["Olmara", f"Nalo {n}"] for n in range(30)]])
    chance = random.Random(7)
    for _ in range(150):
        broken = bytearray(whole)
        for _ in range(chance.randint(1, 30)):
            broken[chance.randrange(len(broken))] = chance.randrange(256)
        try:
            list(islice(file_rows(bytes(broken), file_form(bytes(broken))), 100))
        except UnusableFile:
            continue


@given(st.binary(min_size=1, max_size=300))
def test_no_bytes_at_all_are_a_fault_of_ours(data):
    try:
        rows_of(data)
    except UnusableFile as fault:
        assert str(fault).startswith("this file")


@given(st.text(max_size=12) | st.from_regex(r"'{0,3}[=+\-@\t\r].{0,5}", fullmatch=True))
def test_a_quoted_cell_is_no_formula_and_comes_back_as_it_was(cell):
    safe = quoted(cell)
    assert not safe.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert unquoted(safe) == cell
    assert looks_like_formula(cell) == (safe != cell)


@given(st.text(st.characters(), max_size=20))
def test_what_is_written_can_be_encoded(cell):
    assert "\0" not in writable(cell)
    writable(cell).encode()
