"""What a log says about itself survives, and a damaged header is told."""

import json

import pytest

from collector.errors import LogFormatError
from collector.meta import LogMeta

FULL = LogMeta(pack="flatbed main", vehicle="flatbed", kind="drive",
               monitor={"name": "demo", "transport": {"baud": 9600}},
               sign={"convention": "negative_is_discharge"}, time_zone="Europe/Oslo",
               corrections=({"kind": "zero", "value": 0.35},), invented=True,
               extra={"of_tomorrow": [1, 2]})


def test_header_lines_read_back() -> None:
    """A journal header carries every key, unknown ones included."""
    assert LogMeta.from_header(FULL.header_lines(), "x") == FULL


def test_words_with_line_ends_stay_on_their_line() -> None:
    """A name with a line end cannot break a header."""
    meta = LogMeta(pack="two\nlines # and: more")

    assert LogMeta.from_header(meta.header_lines(), "x") == meta


@pytest.mark.parametrize("number", [2, 0, "1", None, 1.5])
def test_another_format_is_refused(number: object) -> None:
    """A format that this version does not know is told with its number."""
    with pytest.raises(LogFormatError, match="a newer packhand may read it"):
        LogMeta.from_json({"format": number}, "x")


def test_a_header_line_that_is_not_json_is_named() -> None:
    """The line number and the line are in the message."""
    with pytest.raises(LogFormatError, match=r"log\.csv, line 2: '# pack: flat' is not"):
        LogMeta.from_header(["# format: 1", "# pack: flat"], "log.csv")


@pytest.mark.parametrize(("key", "value"), [
    ("pack", 5), ("monitor", []), ("corrections", None), ("invented", "no")])
def test_a_key_of_a_wrong_type_is_named(key: str, value: object) -> None:
    """A header mended by hand in a wrong way is told, with the key."""
    with pytest.raises(LogFormatError, match=f"log.csv, {key}: .* is not "):
        LogMeta.from_json({"format": 1, key: value}, "log.csv")


def test_metadata_is_what_its_json_says() -> None:
    """Through JSON and back nothing changes, corrections included."""
    meta = LogMeta(pack="main", corrections=({"kind": "zero", "column": "current_a",
                                              "value": -0.35},))
    plain = json.loads(json.dumps(meta.as_json()))

    assert plain == meta.as_json()
    assert LogMeta.from_json(plain, "log") == meta
