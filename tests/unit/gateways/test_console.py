"""What the console gateway prints, records and reads."""

import io
import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from gateways.console.gateway import ConsoleGateway
from gateways.contract import message
from gateways.errors import BadOption, TryLater, Unsure

NOW = datetime(2026, 11, 12, 6, 30, tzinfo=UTC)


def read(*lines):
    complaints = []
    gateway = ConsoleGateway(io.StringIO())
    texts = list(gateway.incoming(lines, lambda: NOW, complaints.append))
    return [(text.sender, text.body) for text in texts], complaints


@pytest.fixture
def out():
    return io.StringIO()


class TestPrinting:
    def test_one_line_says_to_whom_which_and_what(self, out):
        ConsoleGateway(out).send(message("r1", "Thin your plot"))

        assert out.getvalue() == "to +447700900001 [r1] Thin your plot\n"

    def test_a_text_of_two_lines_is_printed_on_one(self, out):
        ConsoleGateway(out).send(message("r1", "Plot 12\nThin"))

        assert out.getvalue() == "to +447700900001 [r1] Plot 12 | Thin\n"

    def test_control_characters_do_not_reach_the_terminal(self, out):
        ConsoleGateway(out).send(message("r1", "\x1b[2Jgone"))

        assert out.getvalue().endswith("?[2Jgone\n")

    def test_letters_the_stream_cannot_show_are_spelt_out(self):
        raw = io.BytesIO()
        out = io.TextIOWrapper(raw, "ascii")
        ConsoleGateway(out).send(message("r1", "até"))

        assert raw.getvalue() == b"to +447700900001 [r1] at\\xe9\n"

    def test_standard_output_is_the_default(self, capsys):
        ConsoleGateway.from_options({}).send(message("r1", "Thin"))

        assert capsys.readouterr().out == "to +447700900001 [r1] Thin\n"

    def test_a_second_message_of_one_reference_is_not_printed(self, out):
        gateway = ConsoleGateway(out)
        gateway.send(message("r1"))
        gateway.send(message("r1"))

        assert out.getvalue().count("\n") == 1

    def test_a_broken_stream_leaves_it_unsure(self, out):
        out.close()

        with pytest.raises(Unsure, match="stream is broken"):
            ConsoleGateway(out).send(message("r1"))


class TestRecord:
    @pytest.fixture
    def path(self, tmp_path):
        return tmp_path / "sub" / "record.jsonl"

    def opened(self, path):
        return ConsoleGateway(io.StringIO(), path)

    def references(self, path):
        return [json.loads(line)["reference"] for line in path.read_text().splitlines()]

    def test_a_message_is_one_line_of_json(self, path):
        expires_at = datetime(2026, 12, 12, 16, 0, tzinfo=UTC)
        self.opened(path).send(replace(message("r1", "Thin"), expires_at=expires_at))

        assert json.loads(path.read_text()) == {
            "reference": "r1",
            "to": "+447700900001",
            "body": "Thin",
            "expires_at": "2026-12-12T16:00:00+00:00",
        }

    def test_a_reference_is_remembered_across_restarts(self, path):
        first = self.opened(path).send(message("r1"))
        again = self.opened(path).send(message("r1"))

        assert again == first and self.references(path) == ["r1"]

    def test_a_remembered_message_is_not_printed_again(self, path, out):
        self.opened(path).send(message("r1"))
        ConsoleGateway(out, path).send(message("r1"))

        assert out.getvalue() == ""

    def test_two_at_once_share_one_record(self, path):
        one, other = self.opened(path), self.opened(path)
        one.send(message("r1"))
        other.send(message("r1"))
        other.send(message("r2"))
        one.send(message("r2"))

        assert self.references(path) == ["r1", "r2"]

    def test_a_line_cut_off_by_a_crash_was_not_taken(self, path):
        self.opened(path).send(message("r1"))
        with path.open("a") as file:
            file.write('{"reference": "r2", "to"')
        self.opened(path).send(message("r2"))

        assert self.references(path) == ["r1", "r2"]

    def test_a_record_emptied_from_outside_forgets_nothing_known(self, path):
        gateway = self.opened(path)
        gateway.send(message("r1"))
        path.write_text("")
        gateway.send(message("r1"))
        gateway.send(message("r2"))

        assert self.references(path) == ["r2"]

    def test_a_record_that_cannot_be_written_is_tried_later(self, path):
        gateway = self.opened(path)
        path.unlink()
        path.mkdir()

        with pytest.raises(TryLater, match="record cannot be written"):
            gateway.send(message("r1"))

    def test_a_message_not_recorded_is_taken_when_the_record_works_again(self, path):
        gateway = self.opened(path)
        path.unlink()
        path.mkdir()
        with pytest.raises(TryLater):
            gateway.send(message("r1"))
        path.rmdir()
        gateway.send(message("r1"))

        assert self.references(path) == ["r1"]


class TestOptions:
    def test_record_names_the_file(self, tmp_path, capsys):
        path = tmp_path / "record.jsonl"
        ConsoleGateway.from_options({"record": str(path)}).send(message("r1"))

        assert path.exists()

    def test_an_unknown_option_is_refused(self):
        with pytest.raises(BadOption, match=r'colour="red".*expected the option record'):
            ConsoleGateway.from_options({"colour": "red"})

    def test_a_folder_is_no_record(self, tmp_path):
        with pytest.raises(BadOption, match="expected a file to write to"):
            ConsoleGateway.from_options({"record": str(tmp_path)})

    def test_a_file_of_something_else_is_left_alone(self, tmp_path):
        path = tmp_path / "notes.txt"
        path.write_text("buy string\n")
        with pytest.raises(BadOption, match="a line that is no message"):
            ConsoleGateway.from_options({"record": str(path)})

        assert path.read_text() == "buy string\n"


class TestIncoming:
    @pytest.mark.parametrize(
        "line",
        [
            pytest.param("+447700900001: RAIN 12 NOV\n", id="colon"),
            pytest.param("+447700900001 RAIN 12 NOV\n", id="space"),
            pytest.param("+447700900001:RAIN 12 NOV", id="colon alone"),
            pytest.param("  +447700900001 : RAIN 12 NOV\r\n", id="spaces all round"),
        ],
    )
    def test_phone_and_text_are_told_apart(self, line):
        assert read(line) == ([("+447700900001", b"RAIN 12 NOV")], [])

    def test_a_colon_in_the_text_stays_in_the_text(self):
        assert read("+447700900001 12 NOV: RAIN")[0] == [("+447700900001", b"12 NOV: RAIN")]

    def test_an_empty_text_is_a_text(self):
        assert read("+447700900001:") == ([("+447700900001", b"")], [])

    def test_bytes_that_are_not_letters_come_through(self):
        line = b"+447700900001: \xff\x00\xfe".decode("utf-8", "surrogateescape")

        assert read(line)[0] == [("+447700900001", b"\xff\x00\xfe")]

    def test_a_blank_line_is_passed_over(self):
        assert read("\n", "  \n") == ([], [])

    @pytest.mark.parametrize("line", ["RAIN 12 NOV", "+447700900001", "12 NOV", "hello"])
    def test_a_line_without_phone_or_text_is_told_of(self, line):
        texts, complaints = read(line)

        assert texts == [] and complaints == [
            f'line 1: "{line}" is not a text: write a phone number, a colon or a space, '
            "and the text, for example +447700900001: RAIN 12 NOV"
        ]

    def test_a_bad_line_does_not_stop_the_next(self):
        texts, complaints = read("hello\n", "+447700900001: HELP\n")

        assert len(texts) == len(complaints) == 1

    def test_without_a_callback_the_complaint_is_printed(self, out):
        list(ConsoleGateway(out).incoming(["hello"], lambda: NOW))

        assert out.getvalue().startswith('line 1: "hello" is not a text')

    def test_the_same_line_typed_twice_is_two_texts(self):
        typed = ["+447700900001: HELP"] * 2
        texts = list(ConsoleGateway(io.StringIO()).incoming(typed, lambda: NOW))

        assert texts[0].message_id != texts[1].message_id

    def test_a_text_carries_the_time_it_was_typed(self):
        [text] = ConsoleGateway(io.StringIO()).incoming(["+447700900001: HELP"], lambda: NOW)

        assert text.sent_at == NOW
