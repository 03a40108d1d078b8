"""What the README must hold, word for word."""

from pathlib import Path

from reminder_service.settings import settings_table

README = Path(__file__).parents[2] / "README.md"
OPENS, CLOSES = "<!-- settings -->", "<!-- /settings -->"


def test_the_settings_table_is_the_one_that_the_settings_make():
    text = README.read_text("utf-8")
    between = text.partition(OPENS)[2].partition(CLOSES)[0]

    assert between.strip() == settings_table().strip(), (
        f"put what settings_table() answers between {OPENS} and {CLOSES}"
    )
