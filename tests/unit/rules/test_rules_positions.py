"""Lines of keys and values in every form that TOML has."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.rules.positions import line_numbers, nearest_line
from reminder_service.rules.shipped import rulebook_folder, shipped_names

FORMS = {
    "plain key": ("\na = 1", ("a",), 2),
    "dotted key": ("a.b.c = 1", ("a", "b", "c"), 1),
    "quoted key": ('\n"a b" = 1', ("a b",), 2),
    "literal key": ("\n'a.b' = 1", ("a.b",), 2),
    "table": ("x = 1\n[a.b]\nc = 1", ("a", "b", "c"), 3),
    "list of tables": ("[[a]]\nb = 1\n[[a]]\nb = 2", ("a", 1, "b"), 4),
    "table of the last in a list": ("[[a]]\n[[a]]\n[a.t]\nb = 1", ("a", 1, "t", "b"), 4),
    "list inside a list of tables": ("[[a]]\n[[a.b]]\n[[a.b]]\nc = 1", ("a", 0, "b", 1, "c"), 4),
    "member of a list": ("a = [\n1,\n2,\n]", ("a", 1), 3),
    "key after a comment": ("# a = 0\n\na = 1 # b\nb = 2", ("b",), 4),
    "key after a long text": ('a = """\n[b]\nb = 1\n"""\nb = 2', ("b",), 5),
    "key after a long literal": ("a = '''\n# b = 1\n'''\nb = 2", ("b",), 4),
    "key after a sign in a text": ('a = "x # ] }"\nb = 2', ("b",), 2),
    "key after an escaped quote": ('a = "x\\" ]"\nb = 2', ("b",), 2),
    "key after a quote at a long text's end": ('a = """x""""\nb = 2', ("b",), 2),
    "table in a list": ("a = [\n{ b = 1 },\n{ c = { d = 2 } },\n]", ("a", 1, "c", "d"), 3),
    "key after a date": ("a = 2026-11-12 10:00:00\nb = 1", ("b",), 2),
    "comment in a list": ("a = [ # one ]\n1, # two\n2 ]\nb = 1", ("b",), 4),
}


@pytest.mark.parametrize(("text", "place", "line"), FORMS.values(), ids=list(FORMS))
def test_place_has_its_line(text: str, place: tuple[str | int, ...], line: int) -> None:
    tomllib.loads(text)
    assert line_numbers(text)[place] == line


def test_line_of_a_missing_key_is_that_of_what_holds_it() -> None:
    lines = line_numbers("x = 1\n[a]\nb = 1")
    assert nearest_line(lines, ("a", "c", 0)) == 2


def test_line_of_a_missing_table_is_the_first() -> None:
    assert nearest_line(line_numbers("\nx = 1"), ("a",)) == 1


def places(value: object, at: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Places of all keys and members of parsed TOML."""
    items: list[tuple[str | int, object]] = []
    if isinstance(value, dict):
        items = list(value.items())
    if isinstance(value, list):
        items = list(enumerate(value))
    return [p for key, inner in items for p in [(*at, key), *places(inner, (*at, key))]]


@pytest.mark.parametrize("name", shipped_names())
def test_every_place_of_a_shipped_rulebook_is_found(name: str) -> None:
    text = (rulebook_folder() / f"{name}.toml").read_text("utf-8")
    found = line_numbers(text)
    missing = [place for place in places(tomllib.loads(text)) if place not in found]
    # A dotted key or a sub-table makes the table around it without a line of its own.
    assert [place for place in missing if nearest_line(found, place) == 1] == []


@given(st.text(alphabet="ab=[]{}\"'#,. \n1\\", max_size=40))
def test_scan_of_any_valid_text_ends(text: str) -> None:
    try:
        parsed = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = line_numbers(text)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())
    assert bool(lines) == bool(parsed)
