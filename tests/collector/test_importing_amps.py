"""Amps whose direction stands elsewhere, and figures that are no readings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from collector.importing import Foreign, ImportOptions, read_foreign


def read(folder: Path, content: str, **options: Any) -> Foreign:
    path = folder / "table.csv"
    path.write_text(content)
    return read_foreign(path, ImportOptions(**options))


def figures(foreign: Foreign, column: str) -> list[Any]:
    return list(foreign.table[column].to_pylist())


def test_two_columns_of_amps_become_one_signed(tmp_path: Path) -> None:
    """In minus out, positive into the pack; missing only where both are."""
    foreign = read(tmp_path, "t_s,charge current (A),discharge current (A)\n"
                   "0,0,12.5\n1,3,0\n2,,4\n3,,\n")

    assert figures(foreign, "current_a") == [-12.5, 3.0, -4.0, None]
    assert foreign.mapping["current_a"].source == "charge current (A) + discharge current (A)"
    assert foreign.sign["convention"] == "negative_is_discharge"


def test_a_discharge_column_that_counts_down_is_still_out(tmp_path: Path) -> None:
    """Some loggers write the discharge column negative already."""
    foreign = read(tmp_path, "t_s,amps in,amps out\n0,0,-12.5\n1,3,0\n")

    assert figures(foreign, "current_a") == [-12.5, 3.0]


@pytest.mark.parametrize(("heading", "out", "into", "neither"), [
    ("direction", "discharge", "charge", "idle"), ("mode", "DCHG", "CHRG", "REST"),
    ("flow", "out", "in", "standby"), ("charging", "0", "1", "0"),
    ("is_discharging", "true", "false", "true"),
])
def test_unsigned_amps_take_their_direction_from_words(
        tmp_path: Path, heading: str, out: str, into: str, neither: str) -> None:
    """A word for the direction signs the amps, and the file has settled the sign itself."""
    foreign = read(tmp_path, f"t_s,amps,{heading}\n0,12.5,{out}\n1,3,{into}\n2,0,{neither}\n")

    assert figures(foreign, "current_a") == [-12.5, 3.0, 0.0]
    assert foreign.sign["decided_by"] == "file"
    assert heading in foreign.sign["words"]


def test_signed_amps_keep_their_own_sign(tmp_path: Path) -> None:
    """A direction beside amps that have a sign changes nothing."""
    foreign = read(tmp_path, "t_s,amps,direction\n0,12.5,discharge\n1,-3,charge\n")

    assert figures(foreign, "current_a") == [12.5, -3.0]
    assert foreign.sign == {}
    assert "direction" in foreign.dropped.columns


def test_a_bare_flag_decides_nothing(tmp_path: Path) -> None:
    """0 and 1 in a column called direction do not say which is which."""
    foreign = read(tmp_path, "t_s,amps,direction\n0,12.5,1\n1,3,0\n")

    assert figures(foreign, "current_a") == [12.5, 3.0]
    assert foreign.sign == {}


@pytest.mark.parametrize(("heading", "good", "bad"), [
    ("soc %", "50", "255"), ("cell 1 (mV)", "3312", "65535"), ("temp (C)", "21", "3276.7"),
    ("volts", "52", "6553.5"), ("amps", "-3", "1e10"), ("speed km/h", "14", "65535"),
])
def test_a_number_that_means_no_reading_becomes_missing(
        tmp_path: Path, heading: str, good: str, bad: str) -> None:
    """Impossible for the quantity and the end of an 8, 16 or 32 bit range: certainly no reading.

    Common practice of devices, no source; limits as in collector.record.QUANTITIES.
    """
    other = "amps" if heading == "volts" else "volts"
    foreign = read(tmp_path, f"t_s,{other},{heading}\n0,1,{good}\n1,1,{bad}\n2,1,{good}\n")
    column = next(name for name, m in foreign.mapping.items() if m.source == heading)

    assert [v is None for v in figures(foreign, column)] == [False, True, False]
    assert foreign.dropped.figures == {column: 1}


@pytest.mark.parametrize(("heading", "odd"), [
    ("soc %", "101"), ("volts", "65.535"), ("temp (C)", "-40"), ("amps", "255"), ("temp (C)", "0"),
])
def test_an_odd_figure_that_may_be_true_is_kept(tmp_path: Path, heading: str, odd: str) -> None:
    """What is only unusual is the analysis' to flag."""
    other = "amps" if heading == "volts" else "volts"
    foreign = read(tmp_path, f"t_s,{other},{heading}\n0,1,20\n1,1,{odd}\n")
    column = next(name for name, m in foreign.mapping.items() if m.source == heading)

    assert figures(foreign, column)[1] == float(odd)


def test_a_column_of_no_readings_is_left_out(tmp_path: Path) -> None:
    """A sensor that is not there does not become a column."""
    foreign = read(tmp_path, "t_s,volts,temp 1 (C),temp 2 (C)\n0,52,21,255\n1,52,21,255\n")

    assert "temp_2_c" not in foreign.table.column_names
    assert foreign.dropped.columns == {"temp 2 (C)": "every figure stands for no reading"}


def test_cells_at_zero_are_missing_only_if_the_pack_says_so(tmp_path: Path) -> None:
    """A row sent in part has zeros and full pack volts; a cell truly at 0 V lowers them."""
    rows = ["13.2,3.3,3.3,3.3,3.3", "13.2,3.3,3.3,0,0", "9.9,3.3,3.3,3.3,0"]
    foreign = read(tmp_path, "t_s,volts,cell 1,cell 2,cell 3,cell 4\n" + "".join(
        f"{n},{row}\n" for n, row in enumerate(rows)))

    assert figures(foreign, "cell_03_v") == [3.3, None, 3.3]
    assert figures(foreign, "cell_04_v") == [3.3, None, 0.0]


def test_an_odometer_that_goes_on_was_not_at_zero(tmp_path: Path) -> None:
    """0 between 18 and 19 km was not read; 0 before 0.1 km is a counter set back."""
    foreign = read(tmp_path, "t_s,volts,distance (km)\n" + "".join(
        f"{n},52,{km}\n" for n, km in enumerate(["18", "0", "19", "0", "0.1"])))

    assert figures(foreign, "distance_m") == pytest.approx([18e3, None, 19e3, 0, 100])


def test_a_place_of_zero_zero_is_no_fix(tmp_path: Path) -> None:
    """Receivers say 0, 0 before they know (common practice, no source); 0 alone is kept."""
    foreign = read(tmp_path, "t_s,volts,lat,lon\n0,52,0,0\n1,52,0,9.5\n2,52,51.5,0\n")

    assert figures(foreign, "latitude_deg") == [None, 0.0, 51.5]
    assert figures(foreign, "longitude_deg") == [None, 9.5, 0.0]


@pytest.mark.parametrize(("heading", "figures_in", "column", "value", "unit"), [
    ("voltage", ("52100", "52000"), "voltage_v", 52.1, "mV"),
    ("cell 3", ("3312", "3310"), "cell_03_v", 3.312, "mV"),
    ("current", ("-23100", "-23200"), "current_a", -23.1, "mA"),
    ("soc", ("0.5", "0.75"), "soc_pct", 50.0, "fraction"),
    ("speed", ("36", "36"), "speed_m_s", 10.0, "km/h"),
])
def test_a_unit_that_no_heading_tells_comes_from_the_size(
        tmp_path: Path, heading: str, figures_in: tuple[str, str], column: str, value: float,
        unit: str) -> None:
    """52,100 can only be millivolts; a speed is taken for km/h and asked about."""
    foreign = read(tmp_path, f"t_s,power (W),{heading}\n" + "".join(
        f"{n},1,{text}\n" for n, text in enumerate(figures_in)))

    assert figures(foreign, column)[0] == pytest.approx(value)
    assert foreign.mapping[column].unit == unit
    assert ("unit" in [d.kind for d in foreign.doubts]) is (unit in ("fraction", "km/h"))


def test_a_speed_between_two_units_is_asked_for(tmp_path: Path) -> None:
    """Halfway between miles an hour and knots the place cannot tell them apart."""
    rows = [f"{n},{1.852 / 0.4795},{50 + n / 60000},-3\n" for n in range(600)]
    foreign = read(tmp_path, "t_s,speed,lat,lon\n" + "".join(rows))

    assert "unit" in [doubt.kind for doubt in foreign.doubts]


@pytest.mark.parametrize(("unit", "m_s"), [("km/h", 1 / 3.6), ("mph", 0.44704), ("m/s", 1.0),
                                           ("kn", 1852 / 3600)])
def test_the_place_tells_the_unit_of_the_speed(tmp_path: Path, unit: str, m_s: float) -> None:
    """A minute of latitude is a nautical mile, 1852 m, within half a percent.

    Source: the mile's old definition, BIPM SI brochure, 8th edition, table 8 (from memory).
    """
    rows = [f"{n},{1.852 * 10 / m_s / 10},{50 + n / 60000},-3\n" for n in range(600)]
    foreign = read(tmp_path, "t_s,speed,lat,lon\n" + "".join(rows))

    assert foreign.mapping["speed_m_s"].unit == unit
    assert figures(foreign, "speed_m_s")[0] == pytest.approx(1.852)
    assert "unit" not in [doubt.kind for doubt in foreign.doubts]


def test_watts_without_amps_give_amps(tmp_path: Path) -> None:
    """Amps are watts over volts, said so; without sound volts there are none."""
    path = tmp_path / "watts.csv"
    path.write_text("t_s,power (kW),voltage (V)\n0,-1.04,52\n1,0.52,52\n2,0.5,0\n3,,52\n")
    foreign = read_foreign(path, ImportOptions())

    assert foreign.table["current_a"].to_pylist() == [-20, 10, None, None]
    assert foreign.table["power_w"].to_pylist() == [-1040, 520, 500, None]
    assert foreign.mapping["current_a"].source == "power (kW) / voltage (V)"
    assert foreign.mapping["current_a"].words == "worked out from watts and volts"


def test_amps_of_the_file_are_not_worked_out_again(tmp_path: Path) -> None:
    """Watts beside amps change nothing."""
    path = tmp_path / "all.csv"
    path.write_text("t_s,power (W),voltage (V),amps\n0,-1040,52,-19\n")

    assert read_foreign(path, ImportOptions()).table["current_a"].to_pylist() == [-19]
