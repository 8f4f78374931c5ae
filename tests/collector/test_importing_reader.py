"""Whole files: real ones as they are, invented ones for each form, one line for each error."""

from __future__ import annotations

import csv
import gzip
import hashlib
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from collector.errors import ForeignFileError
from collector.importing import Foreign, ImportOptions, read_foreign, read_runs
from collector.journal import log_schema
from collector.logfile import read_log, write_log
from collector.meta import LogMeta

DATA = Path(__file__).resolve().parents[1] / "data"
DRIVES = sorted((DATA / "real_drives").glob("*.csv.gz"))
SIMPLE = "time_s,current_a,voltage_v\n0,-1.5,52.1\n1,-2.5,52.0\n2,-3.5,51.9\n"


def read(folder: Path, content: str | bytes, **options: Any) -> Foreign:
    path = folder / "table.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_foreign(path, ImportOptions(**options))


def figures(foreign: Foreign, column: str) -> list[Any]:
    return list(foreign.table[column].to_pylist())


def reference(name: str) -> dict[str, float]:
    with (DATA / "real_drives" / "reference_integrals.csv").open() as file:
        row = next(row for row in csv.DictReader(file) if row["drive"] == name)
    return {key: float(value) for key, value in row.items() if key != "drive"}


@pytest.mark.parametrize("path", DRIVES, ids=lambda p: p.name[6:9])
def test_a_real_drive_is_read_without_a_mapping(path: Path) -> None:
    """Semicolons, units in brackets and both percents: every column finds its place and unit."""
    foreign = read_foreign(path, ImportOptions())

    assert {name: (m.source, m.unit) for name, m in foreign.mapping.items()} == {
        "time": ("Time [s]", "s"), "speed_m_s": ("Velocity [km/h]", "km/h"),
        "elevation_m": ("Elevation [m]", "m"), "voltage_v": ("Battery Voltage [V]", "V"),
        "current_a": ("Battery Current [A]", "A"), "soc_pct": ("SoC [%]", "%"),
        "temp_1_c": ("Battery Temperature [°C]", "°C"),
        "ambient_c": ("Ambient Temperature [°C]", "°C")}
    assert "displayed SoC [%]" in foreign.mapping["soc_pct"].words
    assert list(foreign.dropped.columns) == ["displayed SoC [%]"]
    assert foreign.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize("path", DRIVES, ids=lambda p: p.name[6:9])
def test_a_real_drive_integrates_as_its_raw_columns_do(path: Path) -> None:
    """Amps and speed keep their worth: trapezoids agree with those of the raw file.

    Source: Steinstraeter, Buberger, Trifonov, Battery and Heating Data in Real Driving Cycles,
    IEEE DataPort, 2020 (doi 10.21227/6jr9-5235); tests/data/real_drives/SOURCE.md.
    """
    table, expected = read_foreign(path, ImportOptions()).table, reference(path.name[6:9])
    time_s, amps, speed = (table[name].to_numpy() for name in
                           ("monotonic_s", "current_a", "speed_m_s"))

    assert table.num_rows == expected["rows"]
    assert -np.trapezoid(np.minimum(amps, 0), time_s) / 3600 == pytest.approx(
        expected["charge_out_ah"], rel=1e-3)
    assert np.trapezoid(np.maximum(amps, 0), time_s) / 3600 == pytest.approx(
        expected["charge_in_ah"], rel=1e-3)
    assert np.trapezoid(speed, time_s) / 1000 == pytest.approx(expected["distance_km"], rel=1e-3)
    assert table["soc_pct"].drop_null()[0].as_py() == expected["soc_start"]


def test_month_first_dates_of_a_real_file_are_found() -> None:
    """25 May exists only with the month first; the air's temperature is not the pack's.

    Source: Nait Malek and others, RSK electric vehicle dataset, Zenodo, 2022;
    tests/data/small_ev/SOURCE.md.
    """
    foreign = read_foreign(DATA / "small_ev" / "T3_05_25_2021_3.csv.gz", ImportOptions())

    assert foreign.table["time"][0].as_py() == datetime(2021, 5, 25, 15, 46, 55, tzinfo=UTC)
    assert [doubt.kind for doubt in foreign.doubts] == ["time zone"]
    assert foreign.mapping["ambient_c"].source == "Temperature"
    assert foreign.mapping["speed_m_s"].unit == "km/h"
    assert "the place" in foreign.mapping["speed_m_s"].words


def test_a_month_that_a_real_file_cannot_tell_is_asked_for() -> None:
    """6/7/2021 all through: the file is read, and the doubt must be settled before it is kept."""
    path = DATA / "small_ev" / "T3_06_07_2021.csv.gz"
    doubt = next(d for d in read_foreign(path, ImportOptions()).doubts if d.kind == "date order")
    settled = read_foreign(path, ImportOptions(date_order="month-first"))

    assert doubt.must_ask
    assert "6 July 2021 or 7 June 2021" in doubt.question
    assert settled.table["time"][0].as_py() == datetime(2021, 6, 7, 16, 6, 28, tzinfo=UTC)
    assert all(d.kind != "date order" for d in settled.doubts)


def test_the_table_is_a_log_table(tmp_path: Path) -> None:
    """What is read goes into a log file and comes back the same."""
    foreign = read(tmp_path, SIMPLE.replace("-2.5", ""))
    write_log(tmp_path / "a.parquet", LogMeta(), foreign.table)

    assert foreign.table.schema == log_schema(["current_a", "voltage_v"])
    assert read_log(tmp_path / "a.parquet").table.equals(foreign.table)
    assert foreign.table["current_a"].null_count == 1


def test_times_from_zero_begin_when_the_file_was_changed_and_say_so(tmp_path: Path) -> None:
    """Without --start the file's own date is taken, as a doubt; with it there is none."""
    path = tmp_path / "table.csv"
    path.write_text(SIMPLE)
    os.utime(path, (1_750_000_000, 1_750_000_000))
    start = datetime(2026, 4, 2, 8, 15, tzinfo=UTC)

    guessed = read_foreign(path, ImportOptions())
    told = read_foreign(path, ImportOptions(start=start))

    assert guessed.table["time"][0].as_py() == datetime.fromtimestamp(1_750_000_000, UTC)
    assert [d.option for d in guessed.doubts] == ["--start"]
    assert told.table["time"][0].as_py() == start
    assert told.doubts == ()


@pytest.mark.parametrize(("heading", "figure", "column", "value"), [
    ("speed km/h", "36", "speed_m_s", 10.0), ("speed (mph)", "10", "speed_m_s", 4.4704),
    ("Speed_kn", "3.6", "speed_m_s", 1.852), ("I [mA]", "-1500", "current_a", -1.5),
    ("Pack Voltage (mV)", "52100", "voltage_v", 52.1), ("power_kw", "1.2", "power_w", 1200.0),
    ("time left (min)", "90", "time_left_h", 1.5), ("T_pack [°F]", "50", "temp_1_c", 10.0),
    ("odometer (mi)", "1", "distance_m", 1609.344), ("altitude ft", "100", "elevation_m", 30.48),
    ("capacity left mAh", "9500", "charge_left_ah", 9.5), ("SoC (fraction)", "0.5", "soc_pct", 50),
    ("Battery (A)", "-4", "current_a", -4.0), ("U_Cell_03 [mV]", "3312", "cell_03_v", 3.312),
    ("cell_voltage_12", "3.312", "cell_12_v", 3.312), ("Zelle 4 [V]", "3.3", "cell_04_v", 3.3),
    ("cell1", "3312", "cell_01_v", 3.312), ("lowest cell (V)", "3.1", "cell_min_v", 3.1),
    ("ambient", "21", "ambient_c", 21.0), ("NTC 2 (C)", "31", "temp_2_c", 31.0),
    ("charge", "31", None, None), ("Batterietemperatur (C)", "31", None, None),
    ("motor temperature (C)", "80", None, None),
    ("charge current limit (A)", "50", None, None),
])
def test_a_heading_finds_its_quantity_and_unit(
        tmp_path: Path, heading: str, figure: str, column: str | None,
        value: float | None) -> None:
    """Name and unit decide; a heading with a word too many is left out and said."""
    beside = "volts" if column == "soc_pct" else "soc %"
    foreign = read(tmp_path, f"t_s;{beside};{heading}\n" + "".join(
        f"{n};50;{figure}\n" for n in range(3)))

    if column is None:
        assert heading in foreign.dropped.columns
    else:
        assert figures(foreign, column)[0] == pytest.approx(value)
        assert foreign.mapping[column].source == heading


def test_two_columns_that_could_be_the_same_are_a_doubt(tmp_path: Path) -> None:
    """The first is taken, and the other is named; a weaker name is no rival."""
    foreign = read(tmp_path, "t_s,pack current,battery current,soc,displayed soc\n"
                   "0,-1,5,50,60\n1,-2,5,50,60\n")

    assert figures(foreign, "current_a") == [-1.0, -2.0]
    assert [d.question for d in foreign.doubts if d.kind == "column"] == [
        "Both 'pack current' and 'battery current' could be current_a."]


@pytest.mark.parametrize("content", [
    SIMPLE.replace(",", " "), SIMPLE.replace(",", "   "), SIMPLE.replace(",", "\t"),
    SIMPLE.replace("\n", "\r"), SIMPLE.replace("\n", ",\n"), SIMPLE.replace("\n", "\n\n"),
    "sep=,\n" + SIMPLE, "# logger 2\n# unit 7, yard\n" + SIMPLE,
    SIMPLE.replace("52.1", "52.1 V").replace("52.0", "52.0 V").replace("51.9", "51.9 V"),
], ids=["blanks", "aligned", "tabs", "CR", "comma at the end", "empty lines", "sep", "comments",
        "units behind figures"])
def test_the_same_table_in_odd_clothes(tmp_path: Path, content: str) -> None:
    """Blanks, old line ends, marks at the line's end and lines before the headings."""
    foreign = read(tmp_path, content)

    assert figures(foreign, "current_a") == [-1.5, -2.5, -3.5]
    assert figures(foreign, "voltage_v") == [52.1, 52.0, 51.9]


def test_cells_counted_from_zero_move_up_by_one(tmp_path: Path) -> None:
    """A log counts cells from 1, whatever the file does."""
    foreign = read(tmp_path, "t_s,cell 0,cell 1,cell 2\n0,3.30,3.31,3.32\n1,3.30,3.31,3.32\n")

    assert [figures(foreign, f"cell_0{n}_v")[0] for n in (1, 2, 3)] == [3.30, 3.31, 3.32]
    assert "counts cells from 0" in foreign.mapping["cell_01_v"].words


def test_a_map_overrules_what_the_headings_say(tmp_path: Path) -> None:
    """--map names a column by its heading, with a unit where the file has none."""
    foreign = read(tmp_path, "stamp,shunt,current_a\n0,-1500,7\n1,-2500,7\n",
                   columns={"current_a": "shunt:mA", "time": "stamp:s"})

    assert figures(foreign, "current_a") == [-1.5, -2.5]
    assert foreign.mapping["current_a"].words.startswith("as you said")
    assert "current_a" in foreign.dropped.columns


def test_preamble_unit_row_and_repeated_headings_are_no_rows(tmp_path: Path) -> None:
    """What a logger writes around the figures is left out and counted."""
    foreign = read(tmp_path, "Export of unit 7\nserial;12345\n\nTime;Current;Voltage\ns;mA;V\n"
                   "0;-1500;52,1\n1;-2500;52,05\nTime;Current;Voltage\n2;-3500;51,95\n")

    assert figures(foreign, "current_a") == [-1.5, -2.5, -3.5]
    assert figures(foreign, "voltage_v") == [52.1, 52.05, 51.95]
    assert foreign.dropped.rows == {"the headings again": 1}


def test_a_torn_last_row_is_counted_and_the_rest_is_kept(tmp_path: Path) -> None:
    """A logger that lost its power leaves half a row behind."""
    foreign = read(tmp_path, SIMPLE + "3,-4")

    assert len(foreign.table) == 3
    assert sum(foreign.dropped.rows.values()) == 1


@pytest.mark.parametrize(("text", "value"), [
    ('"1.234,5"', 1234.5), ('"12,5"', 12.5), ("0,125", 0.125), ("-,5", -0.5), ("87 W", 87.0),
])
def test_a_figure_with_commas_reads_as_it_was_meant(
        tmp_path: Path, text: str, value: float) -> None:
    """A mark that only one reading explains is read so, in every row."""
    foreign = read(tmp_path, f"t_s;power (W);volts\n0;{text};52,25\n1;{text};52,75\n")

    assert figures(foreign, "power_w") == [value, value]
    assert all(doubt.kind != "decimal mark" for doubt in foreign.doubts)


def test_a_comma_before_three_digits_throughout_is_asked_for(tmp_path: Path) -> None:
    """3,312 may be 3.312 V or 3312 mV: nothing in the file tells."""
    content = "t_s;cell 1;soc %\n0;3,312;50\n1;3,313;50\n"
    foreign = read(tmp_path, content)

    assert [d.kind for d in foreign.doubts if d.must_ask] == ["decimal mark"]
    assert figures(foreign, "cell_01_v") == [3.312, 3.313]
    assert figures(read(tmp_path, content, decimal="."), "cell_01_v") == [3.312, 3.313]


def test_latin_1_is_read_and_said(tmp_path: Path) -> None:
    """A degree sign of an old system does not spoil the unit."""
    foreign = read(tmp_path, "t_s;Temp [°C];soc %\n0;21;50\n1;22;50\n".encode("latin-1"))

    assert figures(foreign, "temp_1_c") == [21.0, 22.0]
    assert "Latin-1" in foreign.words[0]


def test_words_for_missing_figures_are_missing(tmp_path: Path) -> None:
    """A word or a dash in a column of figures is no figure, and never 0."""
    foreign = read(tmp_path, "t_s,current_a,soc %\n0,---,50\n1,n/a,50\n2,-1.5,50\n3,oops,50\n")

    assert figures(foreign, "current_a") == [None, None, -1.5, None]
    assert foreign.dropped.figures == {"current_a": 1}


def test_where_takes_one_of_several_runs(tmp_path: Path) -> None:
    """A file of runs gives one log each; --where takes one; reading it as one is refused."""
    path = tmp_path / "runs.csv"
    path.write_text("trial,t_s,amps\n" + "".join(
        f"{run},{t},{-run}\n" for run in (1, 2, 3) for t in range(5)))
    runs = read_runs(path, ImportOptions())

    assert [foreign.run for foreign in runs] == ["trial=1", "trial=2", "trial=3"]
    assert [figures(f, "monotonic_s") for f in runs] == [[0.0, 1.0, 2.0, 3.0, 4.0]] * 3
    second = read_foreign(path, ImportOptions(where={"trial": "2"}))
    assert (second.run, figures(second, "current_a")) == ("trial=2", [-2] * 5)
    with pytest.raises(ForeignFileError, match="3 runs one below the other, trial=1 to trial=3"):
        read_foreign(path, ImportOptions())


def test_runs_that_count_from_zero_keep_their_order(tmp_path: Path) -> None:
    """Laid one behind the other they do not overlap."""
    path = tmp_path / "runs.csv"
    path.write_text("trial,t_s,amps\n" + "".join(
        f"{run},{t},{-run}\n" for run in (1, 2) for t in range(5)))
    first, second = read_runs(path, ImportOptions())

    assert first.table["time"][-1].as_py() < second.table["time"][0].as_py()


def test_a_parquet_file_keeps_its_figures(tmp_path: Path) -> None:
    """Single precision widens to the figure that was meant; whole numbers and NaN are read."""
    pq.write_table(pa.table({
        "time": pa.array([0, 1, 2], pa.timestamp("s")),
        "current_a": pa.array([-0.1, float("nan"), 0.3], pa.float32()),
        "soc_pct": pa.array([50, 51, None], pa.int8())}), tmp_path / "t.parquet")
    foreign = read_foreign(tmp_path / "t.parquet", ImportOptions())

    assert figures(foreign, "current_a") == [-0.1, None, 0.3]
    assert figures(foreign, "soc_pct") == [50.0, 51.0, None]


def test_parquet_columns_of_every_kind_are_read_or_left_out(tmp_path: Path) -> None:
    """Durations count as elapsed seconds; lists, bytes and stray dates are no figures."""
    pq.write_table(pa.table({
        "elapsed": pa.array([0, 1500, 3000], pa.duration("ms")),
        "amps": pa.array(["-1", "-2", "-3"]).dictionary_encode(),
        "charging": [False, True, False], "volts": [[1], [2], [3]], "soc": [b"1", b"2", b"3"],
        "speed": pa.array([1, 2, 3], pa.date32())}), tmp_path / "t.parquet")
    foreign = read_foreign(tmp_path / "t.parquet", ImportOptions())

    assert figures(foreign, "monotonic_s") == [0.0, 1.5, 3.0]
    assert figures(foreign, "current_a") == [-1.0, -2.0, -3.0]
    assert set(foreign.dropped.columns) == {"charging", "volts", "soc", "speed"}


@pytest.mark.parametrize(("content", "line"), [
    ("", "the file is empty"),
    ("   \n\n", "the file is empty"),
    ("just a letter\nto a friend\n", "not a table: 'just a letter' is no row of columns"),
    ("time,current_a\n", "a table without rows"),
    ("a_s,current_a\n0,1\n1,2\n",
     "no column that tells the time; the headings are 'a_s', 'current_a' — "
     "name it with --map time='HEADING'"),
    ("time,colour\n0,1\n1,2\n",
     "no amps, volts, percent, speed or place; the headings are 'time', 'colour' — "
     "name one with --map current_a='HEADING:unit'"),
    ("time,soc\n0,255\n1,255\n", "no amps, volts, percent, speed or place"),
    ("0,1,2\n1,2,3\n", "the headings are 'column 1', 'column 2', 'column 3'"),
    (SIMPLE + "3;-4;52\n4;-4;52\n",
     "line 5: columns are split by semicolons here and by commas above — "
     "two files may have been joined; write one delimiter throughout"),
    (SIMPLE + "3,-4,52\n" * 9 + "1,2\n" * 9,
     "line 14: 9 rows do not have the 3 columns of the headings"),
    (gzip.compress(SIMPLE.encode())[:-12], "a gzip file that does not unpack"),
    (b"PAR1 and then nothing", "not a readable Parquet file of 21 bytes"),
    (b"\x00\x01\x02\x03" * 30, "neither a text table nor Parquet, XLSX or GPX"),
])
def test_a_file_that_is_no_log_gets_one_clear_line(
        tmp_path: Path, content: str | bytes, line: str) -> None:
    """Each error says where, what was found and what to do."""
    with pytest.raises(ForeignFileError) as caught:
        read(tmp_path, content)

    assert line in str(caught.value)
    assert str(caught.value).startswith(str(tmp_path / "table.csv"))
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("options", "line"), [
    ({"columns": {"amps": "current_a"}}, "no log column 'amps' — a log holds: time, current_a"),
    ({"columns": {"current_a": "shunt"}}, "no column 'shunt' — the headings are 'time_s'"),
    ({"columns": {"current_a": "voltage_v:km"}}, "unit 'km' does not fit current_a"),
    ({"where": {"trial": "1"}}, "no column 'trial'"),
    ({"where": {"voltage_v": "7"}}, "no row where voltage_v is 7"),
])
def test_an_option_that_does_not_fit_the_file_gets_one_clear_line(
        tmp_path: Path, options: dict[str, Any], line: str) -> None:
    """Options name headings and units that the file has."""
    with pytest.raises(ForeignFileError) as caught:
        read(tmp_path, SIMPLE, **options)

    assert line in str(caught.value)


def test_a_truncated_parquet_is_refused(tmp_path: Path) -> None:
    """A file cut off on the way is said to be cut off."""
    path = tmp_path / "t.parquet"
    pq.write_table(pa.table({"time": [0, 1], "current_a": [1.0, 2.0]}), path)
    path.write_bytes(path.read_bytes()[:-10])

    with pytest.raises(ForeignFileError, match="cut off or damaged"):
        read_foreign(path, ImportOptions())
