"""What the labels of board and breaker allow, as logbook.toml and parts.toml together say."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from analysis.asking.book import Book
from analysis.asking.questions import ask_season
from analysis.estimate import Estimate
from collector.logbook import Logbook
from collector.simulator.season import build_season
from collector.simulator.typed import type_in

TYPED = '[[pack]]\nname = "main"\n[pack.limits]\npeak_a = 200\n'
BREAKER = '[[breaker]]\nname = "main"\nrating_a = 50\nmarked_v_dc = 48\nenclosure_c = 35\n'


def book(tmp_path: Path, typed: str = TYPED, parts: str = BREAKER) -> Book:
    made = Logbook.create(tmp_path / "book")
    (made.root / "logbook.toml").write_text(typed)
    (made.root / "parts.toml").write_text(parts)
    return Book.open(made.root)


def test_the_breaker_of_the_parts_list_is_not_typed_again(tmp_path: Path) -> None:
    """Its rating, volts and heat; the board's own limits are as typed."""
    limits = book(tmp_path).limits("main")

    assert (limits.peak_a, limits.breaker_a, limits.breaker_v, limits.breaker_c) == (
        200, 50, 48, 35)


def test_what_is_typed_beside_the_board_counts_first(tmp_path: Path) -> None:
    """A breaker in [pack.limits] is the one that is meant."""
    limits = book(tmp_path, TYPED + "breaker_a = 100\n").limits("main")

    assert limits.breaker_a == 100
    assert math.isnan(limits.breaker_v)


@pytest.mark.parametrize("parts", [
    "", "breaker = 3", "[[breaker]\n", '[pack]\nname = "other"\n' + BREAKER,
    BREAKER + "load_a = 8\n", BREAKER + "is_thermal = false\n", 'breaker = [{rating_a = "50"}]',
    "breaker = [3]"])
def test_no_breaker_of_the_pack_is_none(tmp_path: Path, parts: str) -> None:
    """Of another pack, of a branch, one that does not trip by heat, a list that cannot be read."""
    assert math.isnan(book(tmp_path, parts=parts).limits("main").breaker_a)


def test_of_two_in_line_the_smaller_counts(tmp_path: Path) -> None:
    """Amps go through both."""
    assert book(tmp_path, parts=BREAKER.replace("50", "80") + BREAKER).limits(
        "main").breaker_a == 50


def test_the_day_the_breaker_tripped_is_told_over_the_logbook(tmp_path: Path) -> None:
    """29 May of the invented season: about 55 A RMS over four minutes through 50 A in a place of
    48 °C. The parts list says which breaker; the evening's charge of 25 A is held against what the
    board lets in, and is no drive."""
    root = tmp_path / "book"
    build_season(root, seed=1, days=slice(57, 58))
    type_in(root)
    parts, typed = root / "parts.toml", root / "logbook.toml"
    parts.write_text(parts.read_text().replace("enclosure_c = 35", "enclosure_c = 48"))
    typed.write_text(typed.read_text().replace("peak_s = 10", "peak_s = 10\ncharge_a = 20"))
    found = {f.kind: f for f in ask_season(Book.open(root)).answer.findings}
    size = found["over_breaker"].size

    assert isinstance(size, Estimate)
    assert size.value == pytest.approx(55, abs=1.5)
    assert "a 50 A thermal breaker at 48 °C carries 48 A" in found["over_breaker"].words
    assert "marked for 48 V DC" in found["over_breaker"].words
    assert "25 A in over ten minutes" in found["over_charge"].words
    assert not {"over_peak", "over_continuous", "limits_untyped"} & set(found)


def test_a_log_that_names_no_pack_means_the_only_one(tmp_path: Path) -> None:
    """A first log is often recorded before the pack has a name."""
    one = book(tmp_path)

    assert one.limits("").peak_a == 200
    assert one.limit("", "peak_a") == 200
    assert math.isnan(one.limits("other").peak_a)
