"""Lines of text in their three forms."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.fields import Row
from collector.frames.scaling import Scaling
from collector.frames.text import Form, TextDirection, TextField, TextNumber, TextWord

AMPS = TextNumber(("current_a",), ("a",), missing=("--", "999.0"), decimals=1)


def read(field: TextField, tokens: dict[str, str]) -> Row:
    row: Row = {}
    field.read_into(row, tokens)
    return row


@pytest.mark.parametrize(("form", "line", "tokens"), [
    (Form("comma"), "53.1, -23.1,,91", {"0": "53.1", "1": "-23.1", "2": "", "3": "91"}),
    (Form("comma", ";"), "53.1;x", {"0": "53.1", "1": "x"}),
    (Form("key=value", " "), "v=53.1 hello a=-23.1  b==1", {"v": "53.1", "a": "-23.1", "b": "=1"}),
    (Form("json"), '{"v": 53.10, "pack": {"cells": [3.321, null]}, "on": true}',
     {"v": "53.10", "pack.cells.0": "3.321", "on": "true"}),
    (Form("json"), '{"v": 53.1', {}),
    (Form("json"), "12", {}),
    (Form("json"), "[" * 100_000, {}),
    (Form("json"), "[" * 900 + "]" * 900, {}),
    (Form("json"), '{"s": "\\ud800"}', {"s": "?"}),
])
def test_a_line_is_split_by_its_form(form: Form, line: str, tokens: dict[str, str]) -> None:
    """Each value is found under its place or key; a line of another form has none."""
    assert form.tokens(line) == tokens


@pytest.mark.parametrize("kind", ["comma", "key=value", "json"])
@settings(derandomize=True, deadline=None)
@given(values=st.lists(st.integers(-99999, 99999).map(lambda n: f"{n / 100:.2f}"), min_size=1))
def test_lines_survive_the_way_there_and_back(kind: str, values: list[str]) -> None:
    """Splitting a joined line gives its values, numbers in JSON as numbers."""
    form = Form(kind)  # type: ignore[arg-type]
    tokens = {str(n): value for n, value in enumerate(values)}
    back = form.tokens(*form.lines(tokens))

    assert {key: float(value) for key, value in back.items()} == {
        key: float(value) for key, value in tokens.items()}


@pytest.mark.parametrize(("text", "row"), [
    ("-23.1", {"current_a": -23.1}), ("+5", {"current_a": 5.0}), (".5", {"current_a": 0.5}),
    ("1e1", {"current_a": 10.0}), ("--", {}), ("999.0", {}), ("", {}), ("nan", {}),
    ("inf", {}), ("1_0", {}), ("12,4", {}), ("23A", {}), ("0x10", {}), ("1e999", {}), ("٣", {}),
])
def test_only_a_decimal_number_is_a_figure(text: str, row: Row) -> None:
    """Everything else is missing, also what Python would take for a number."""
    assert read(AMPS, {"a": text}) == row


def test_numbers_are_scaled() -> None:
    """A monitor may send tenths of an amp as whole numbers."""
    field = TextNumber(("current_a",), ("a",), Scaling.of(0.1, 0), decimals=0)
    tokens: dict[str, str] = {}
    field.write_into(tokens, {"current_a": -23.1})

    assert tokens == {"a": "-231"}
    assert read(field, tokens) == {"current_a": -23.1}


@pytest.mark.parametrize(("way", "row"), [
    ("D", {"current_a": -23.1}), ("C", {"current_a": 23.1}), ("?", {}), ("", {}),
])
def test_a_token_gives_unsigned_amps_their_direction(way: str, row: Row) -> None:
    """Amps whose direction is not told are missing: half a figure is none."""
    field = TextNumber(("current_a",), ("a",), direction=TextDirection("d", "D", "C"))

    assert read(field, {"a": "23.1", "d": way}) == row
    assert "-0" not in repr(read(field, {"a": "0", "d": way}))


def test_a_direction_is_written_beside_the_size() -> None:
    """The encoder sends size and direction."""
    field = TextNumber(("current_a",), ("a",), decimals=1, direction=TextDirection("d", "D", "C"))
    tokens: dict[str, str] = {}
    field.write_into(tokens, {"current_a": -23.1})

    assert tokens == {"a": "23.1", "d": "D"}


def test_words_are_put_into_the_descriptions_own() -> None:
    """A known text becomes its word and back, an unknown one stays, a missing one is absent."""
    field = TextWord("state", "s", {"DSG": "discharging"}, missing=("?",))
    tokens: dict[str, str] = {}
    field.write_into(tokens, {"state": "discharging"})

    assert tokens == {"s": "DSG"}
    assert [read(field, {"s": text}) for text in ("DSG", "CHG", "?", "")] == [
        {"state": "discharging"}, {"state": "CHG"}, {}, {}]


def test_what_cannot_be_sent_is_refused() -> None:
    """A figure that would read as missing, and words for a figure, are the caller's error."""
    for value, words in ((999.0, "would read as missing"), ("many", "is not a number")):
        with pytest.raises(ValueError, match=words):
            AMPS.write_into({}, {"current_a": value})


def test_missing_figures_are_sent_as_missing_or_left_out() -> None:
    """A form with a mark for "no figure" sends the mark."""
    for missing, tokens in ((("--",), {"a": "--"}), ((), {})):
        sent: dict[str, str] = {}
        TextNumber(("current_a",), ("a",), missing=missing).write_into(
            sent, {"current_a": float("nan")})
        assert sent == tokens
