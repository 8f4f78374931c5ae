"""A season in words: what it says first, the figures after."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ..estimate import Answer, Estimate, NoEstimate
from ..phrases import day_text, in_degrees, unit_text
from .day_use import YearUse
from .summary import Fade, Season


def season_text(season: Season) -> str:
    """The text of ``packhand season``."""
    return in_degrees("\n".join([*_head(season), "", *_said(season), "", *_figures(season)]))


def _head(season: Season) -> Iterator[str]:
    name = season.pack or "The pack"
    note = " Invented data." if season.invented else ""
    yield (f"{name}, {day_text(season.start_s)} to {day_text(season.end_s)}, "
           f"{season.ledger.logs} logs.{note}")
    yield season.fade.words


def _said(season: Season) -> Iterator[str]:
    """Findings with what to do, and steps, in order of time."""
    told = [(f.start_s, f.words, f.next) for f in season.findings]
    told += [(step.moment_s, step.words, "") for step in season.other_steps]
    for moment_s, words, then in sorted(told, key=lambda one: one[0]):
        yield f"{day_text(moment_s)}: {_sentence(words)}"
        if then:
            yield f"    Next: {_sentence(then)}"


def _sentence(words: str) -> str:
    return words if words.endswith((".", "?")) else f"{words}."


def _figures(season: Season) -> Iterator[str]:
    for capacity in season.capacity:
        yield _line(f"capacity, {capacity.span.method}", capacity.ah,
                    f"on {day_text(capacity.span.end_s)}")
    yield _line("capacity now", season.capacity_now)
    yield _line("fade", season.fade.ah_per_year)
    yield _line("fade", season.fade.ah_per_100_cycles)
    yield _eighty(season.fade)
    yield _line("resistance at 20 °C", season.resistance.now_mohm)
    yield _line("resistance, change", season.resistance.per_year_pct)
    yield _line("amp-hours out of in", season.efficiency.charge_pct)
    yield _line("watt-hours out of in", season.efficiency.energy_pct)
    yield _line("charge left at the end", season.charge_left)
    yield from _ledger(season)
    yield from _years(season.years)


def _ledger(season: Season) -> Iterator[str]:
    ledger = season.ledger
    rows = [
        ("full cycles so far", ledger.equivalent_full_cycles, "of the rated amp-hours", 1),
        ("days at the top", float(ledger.full_charges),
         "where amps fell away, or one cell was at its limit", 0),
        ("last at the top", ledger.days_since_full, "days before the last log ends", 1),
        ("largest amps out", ledger.peak_out_a, "A", 0),
        ("worst RMS, 10 min", ledger.rms_a[2], "A", 0),
        ("warmest, coldest", ledger.temp_max_c, f"°C, {ledger.temp_min_c:.0f} °C", 0),
        ("hours at 99 % and above", ledger.high_h, "h logged", 0),
        ("hours at 10 % and below", ledger.low_h, "h logged", 1),
        ("charged below 0 °C", ledger.frost_charge_h, "h", 1),
    ]
    for name, value, unit, digits in rows:
        if math.isfinite(value):
            yield f"  {name:<24} {value:.{digits}f} {unit}"


def _years(years: Sequence[YearUse]) -> Iterator[str]:
    """A line a year; with one year there is nothing to compare."""
    for year in years if len(years) > 1 else ():
        told = [f"{year.out_ah:.0f} Ah out on {year.days} days"]
        told += [f"{year.typed_days} of them typed"] if year.typed_days else []
        told += [f"{value:.{digits}f} {unit}" for value, unit, digits in (
            (year.full_cycles, "full cycles", 1), (year.distance_m / 1000, "km", 0),
            (year.wh_per_km, "Wh/km", 0)) if math.isfinite(value)]
        if not math.isfinite(year.distance_m) and math.isfinite(year.used_h):
            told.append(f"{year.used_h:.0f} h in use")
        yield f"  {f'use in {year.year}':<24} {', '.join(told)}"


def _eighty(fade: Fade) -> str:
    answer = fade.eighty_percent
    if isinstance(answer, NoEstimate):
        return _line("80 % reached", answer)
    end = f"{day_text(answer.high)}{' or later' if fade.or_later else ''}"
    return (f"  {'80 % reached':<24} between {day_text(answer.low)} and {end} "
            f"({100 * answer.coverage:.0f} %; a sudden turn cannot be forecast)")


def _line(name: str, answer: Answer, note: str = "") -> str:
    if isinstance(answer, NoEstimate):
        return f"  {name:<24} no figure: {answer.reason}; {answer.next}"
    assert isinstance(answer, Estimate)
    digits = 0 if answer.half_width >= 5 else 1 if answer.half_width >= 0.15 else 2
    text = f"{answer.value:.{digits}f} {unit_text(answer.unit)}".replace("-", "−", 1)
    span = f"{answer.low:.{digits}f} to {answer.high:.{digits}f}".replace("-", "−")
    return f"  {name:<24} {text} ({span}) {note}".rstrip()
