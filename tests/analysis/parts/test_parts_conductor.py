"""Conductor sizes and resistance against published tables."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.parts.conductor import (
    REFERENCE_AMPACITY_A,
    SAE_CIRCULAR_MILS,
    area_for_sag_mm2,
    awg_area_mm2,
    awg_diameter_mm,
    by_gauge,
    parse_size,
    reference_ampacity_a,
    smallest_of_area,
)

M_PER_KFT = 304.8
SUMS = [1755, 2070, 2225, 2265, 2625, 2830, 3010]
SAE_SUM = 827879
#: Gauge, diameter [in] and area [mm2] by ASTM B258-02 (read second-hand); solid copper at 20 degC
#: as two physics texts print it, and stranded uncoated copper at 75 degC by NEC Chapter 9
#: Table 8 (four copies agree). [ohm per 1000 ft]
TABLE = (
    ("6", 0.1620, 13.302, 0.3951, 0.491), ("4", 0.2043, 21.151, 0.2485, 0.308),
    ("2", 0.2576, 33.631, 0.1563, 0.194), ("1/0", 0.3249, 53.475, 0.0983, 0.122),
    ("2/0", 0.3648, 67.431, 0.0779, 0.0967), ("3/0", 0.4096, 85.029, 0.0618, 0.0766),
    ("4/0", 0.4600, 107.219, 0.0490, 0.0608),
)


@pytest.mark.parametrize(("number", "inches", "mm2", "solid_20", "stranded_75"), TABLE)
def test_gauges_vs_astm_b258_and_nec_table_8(number: str, inches: float, mm2: float,
                                             solid_20: float, stranded_75: float) -> None:
    """Diameter, area and resistance agree with print: to its last digit, or within 0.25 %."""
    size = by_gauge(number, "AWG")

    assert awg_diameter_mm(number) / 25.4 == pytest.approx(inches, abs=6e-5)
    assert size.area_mm2 == pytest.approx(mm2, abs=6e-4)
    assert size.resistance_ohm(M_PER_KFT, 75.0) == pytest.approx(stranded_75, rel=2.5e-3)
    # Solid wire lacks the lay of strands.
    assert size.resistance_ohm(M_PER_KFT, 20.0) / 1.02 == pytest.approx(solid_20, rel=1e-3)


def test_eight_gauge_is_not_the_solid_figure_that_a_page_calls_stranded() -> None:
    """Stranded 8 AWG at 75 degC is 0.778 ohm per 1000 ft; 0.764 is solid wire's figure."""
    ohm = by_gauge("8", "AWG").resistance_ohm(M_PER_KFT, 75.0)

    assert ohm == pytest.approx(0.778, rel=2.5e-3)
    assert ohm != pytest.approx(0.764, rel=1e-2)


def test_figures_headed_25_degrees_in_a_chart_are_those_of_20() -> None:
    """Copper at 25 degC has 2 % more than the chart's 0.3951 ohm per 1000 ft of solid 6 AWG."""
    at_25 = by_gauge("6", "AWG").resistance_ohm(M_PER_KFT, 25.0) / 1.02

    assert at_25 / 0.3951 == pytest.approx(1 + 0.00393 * 5, abs=1e-3)


@pytest.mark.parametrize(("drop_pct", "marine", "standard"), [(3, "10", "12"), (10, "16", "16")])
def test_marine_sizes_vs_a_published_example(drop_pct: float, marine: str, standard: str) -> None:
    """12 V, 10 A, 21 ft there and back: 10 AWG at 3 %, 16 AWG at 10 %, but only by SAE areas.

    The published rule is CM = 10.75 I L / E (its constant from memory); copper with lay at
    25 degC gives 10.78. With areas of the standard gauge 12 AWG would be found for 3 %: wrong.
    """
    area = area_for_sag_mm2(10.0, 21 * 0.3048, 12 * drop_pct / 100, 25.0)

    assert smallest_of_area(area, "SAE") == by_gauge(marine, "SAE")
    assert smallest_of_area(area, "AWG") == by_gauge(standard, "AWG")


@pytest.mark.parametrize(("number", "insulation_c", "amps"), [
    ("6", 105, 120), ("4", 105, 160), ("2", 105, 210), ("2/0", 105, 330), ("18", 60, 10),
    ("4/0", 200, 510), ("8", 75, 65)])
def test_reference_ampacity_vs_33_cfr_183_425(number: str, insulation_c: int, amps: int) -> None:
    """Table 5 of the regulation, outside engine spaces, and 0.85 of it inside."""
    size = by_gauge(number, "AWG")

    assert reference_ampacity_a(size, insulation_c, False) == amps
    assert reference_ampacity_a(size, insulation_c, True) == pytest.approx(0.85 * amps)


def test_a_metric_area_counts_as_the_gauge_within_it() -> None:
    """16 mm2 lies between 6 and 4 AWG and gets the amps of 6 AWG; below 18 AWG there are none."""
    assert reference_ampacity_a(parse_size("16 mm2"), 105) == 120
    assert math.isnan(reference_ampacity_a(parse_size("0.5 mm2"), 105))


def test_tables_sum_up_as_the_printed_ones() -> None:
    """One wrong digit would show: sums of 33 CFR 183.425 Table 5 by column, of the SAE areas."""
    assert [sum(column) for column in zip(*REFERENCE_AMPACITY_A.values(), strict=True)] == SUMS
    assert sum(SAE_CIRCULAR_MILS.values()) == SAE_SUM


def test_ampacity_grows_with_size_and_with_insulation() -> None:
    """A typing mistake in the table would break one of its two orders."""
    rows = list(REFERENCE_AMPACITY_A.values())

    assert all(list(row) == sorted(row) for row in rows)
    assert all(small <= large for less, more in pairwise(rows)
               for small, large in zip(less, more, strict=True))


@pytest.mark.parametrize(("text", "label", "mm2"), [
    ("6 AWG", "6 AWG", 13.302), ("2/0awg", "2/0 AWG", 67.431), ("16 mm2", "16 mm²", 16.0),
    ("2,5 mm²", "2.5 mm²", 2.5), ("6 SAE", "6 SAE", 24538 * 5.067e-4)])
def test_sizes_as_people_write_them(text: str, label: str, mm2: float) -> None:
    """Gauge or area, point or comma."""
    size = parse_size(text)

    assert size.label == label
    assert size.text.startswith(label)
    assert size.area_mm2 == pytest.approx(mm2, rel=1e-3)


def test_a_size_is_told_in_both_ways() -> None:
    """Gauge with its area, area with the gauge within it."""
    assert parse_size("6 AWG").text == "6 AWG (13.3 mm²)"
    assert parse_size("16 mm2").text == "16 mm² (more than 6 AWG)"
    assert parse_size("0.5 mm2").text == "0.5 mm²"


@pytest.mark.parametrize("text", ["6", "AWG 6", "7 AWG", "3 SAE", "0 mm2", "1/0 mm2", "thick", ""])
def test_what_is_no_size_says_how_to_write_one(text: str) -> None:
    """Never a guess."""
    with pytest.raises(ValueError, match=r"write|known"):
        parse_size(text)


@given(st.floats(0.9, 100))
@settings(derandomize=True)
def test_the_smallest_gauge_is_enough_and_the_next_smaller_is_not(area: float) -> None:
    """The suggestion is neither too thin nor one size too thick."""
    areas = sorted(map(awg_area_mm2, REFERENCE_AMPACITY_A))
    found = smallest_of_area(area, "AWG")

    assert found is not None
    assert found.area_mm2 >= area
    assert all(other < area for other in areas if other < found.area_mm2 - 1e-9)


def test_beyond_the_table_there_is_no_gauge() -> None:
    """Thicker than 4/0 is nothing to make up."""
    assert smallest_of_area(108.0, "AWG") is None
