"""Any table written in any supported dialect reads back equal."""

from __future__ import annotations

import gzip
import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from collector.importing import ImportOptions, read_foreign

#: Headings by dialect of words, with what a figure in the file is worth in the log.
HEADINGS = {
    "plain": (("Time [s]", 1.0), ("Battery Current [A]", 1.0), ("Battery Voltage [V]", 1.0),
              ("SoC [%]", 1.0)),
    "snake": (("t_ms", 1e-3), ("pack_current_mA", 1e-3), ("pack_voltage_mV", 1e-3),
              ("soc_pct", 1.0)),
    "German": (("Zeit (s)", 1.0), ("Strom (A)", 1.0), ("Spannung (mV)", 1e-3),
               ("Ladezustand (%)", 1.0)),
}
LOG_COLUMNS = ("current_a", "voltage_v", "soc_pct")


@dataclass(frozen=True)
class Dialect:
    delimiter: str
    decimal: str
    encoding: str
    line_end: str
    headings: str
    preamble: int
    has_unit_row: bool
    quotes: bool
    packed: bool

    def write(self, rows: list[tuple[float | None, ...]]) -> bytes:
        names = [name for name, _ in HEADINGS[self.headings]]
        lines = [f"Logger export, part {n}" for n in range(self.preamble)]
        if self.has_unit_row:
            units = [name[name.index("[" if "[" in name else "(") + 1:-1] for name in names]
            names = [name.split()[0] if name.startswith(("Time", "Zeit", "SoC")) else
                     name.split(" [")[0].split(" (")[0] for name in names]
            lines += [self.delimiter.join(names), self.delimiter.join(units)]
        else:
            lines.append(self.delimiter.join(names))
        lines += [self.delimiter.join(self.field(value) for value in row) for row in rows]
        data = (self.line_end.join(lines) + self.line_end).encode(self.encoding)
        return gzip.compress(data) if self.packed else data

    def field(self, value: float | None) -> str:
        text = "" if value is None else repr(value).replace(".", self.decimal)
        return f'"{text}"' if self.quotes and text else text


@st.composite
def dialects(draw: st.DrawFn) -> Dialect:
    delimiter = draw(st.sampled_from([";", ",", "\t", "|"]))
    decimal = draw(st.sampled_from([".", ","])) if delimiter != "," else "."
    headings = draw(st.sampled_from(sorted(HEADINGS)))
    return Dialect(
        delimiter, decimal, draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"])),
        draw(st.sampled_from(["\n", "\r\n"])), headings, draw(st.integers(0, 3)),
        headings != "snake" and draw(st.booleans()), draw(st.booleans()), draw(st.booleans()))


#: Figures as loggers write them: a few decimals, some missing.
figures = st.one_of(st.none(), st.integers(-2_000_00, 2_000_00).map(lambda n: n / 100))
rows = st.lists(st.tuples(figures, st.integers(1, 9000).map(lambda n: n / 10),
                          st.one_of(st.none(), st.integers(0, 200).map(lambda n: n / 2))),
                min_size=2, max_size=40)


@settings(derandomize=True, deadline=None, max_examples=100,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(dialect=dialects(), body=rows)
def test_a_table_reads_back_equal_in_every_dialect(
        tmp_path: Path, dialect: Dialect, body: list[tuple[float | None, ...]]) -> None:
    """Delimiter, decimal mark, encoding, line end, units, quotes and packing change no figure."""
    scales = [scale for _, scale in HEADINGS[dialect.headings]]
    path = tmp_path / "table.csv"
    path.write_bytes(dialect.write([(n / 2 / scales[0], *row) for n, row in enumerate(body)]))
    present = [c for c in range(3) if any(row[c] is not None for row in body)]

    table = read_foreign(path, ImportOptions(decimal=dialect.decimal)).table  # type: ignore[arg-type]

    assert table["monotonic_s"].to_pylist() == [n / 2 for n in range(len(body))]
    for column in range(3):
        if column in present:
            read = table[LOG_COLUMNS[column]].to_pylist()
            written = [row[column] for row in body]
            assert [v is None for v in read] == [v is None for v in written]
            assert all(math.isclose(a, b * scales[column + 1], rel_tol=1e-12, abs_tol=1e-12)
                       for a, b in zip(read, written, strict=True)
                       if a is not None and b is not None)


@settings(derandomize=True, deadline=None, max_examples=40,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(dialect=dialects(), amps=st.lists(st.integers(-3000, 3000).map(lambda n: n / 100 + 0.01),
                                         min_size=5, max_size=20))
def test_the_decimal_mark_is_found_where_a_figure_shows_it(
        tmp_path: Path, dialect: Dialect, amps: list[float]) -> None:
    """Two decimals behind a mark make it the decimal mark."""
    path = tmp_path / "table.csv"
    scales = [scale for _, scale in HEADINGS[dialect.headings]]
    path.write_bytes(dialect.write([(n / scales[0], value, 48.25, 50.0)
                                    for n, value in enumerate(amps)]))

    foreign = read_foreign(path, ImportOptions())

    assert foreign.table["current_a"].to_pylist() == pytest.approx([a * scales[1] for a in amps])
    assert [doubt.kind for doubt in foreign.doubts] == ["start"]


@settings(derandomize=True, deadline=None, max_examples=40,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(start=st.datetimes(datetime(2001, 1, 1), datetime(2090, 1, 1)),  # noqa: DTZ001
       step_ms=st.integers(1, 100_000),
       form=st.sampled_from(["iso", "iso z", "iso offset", "epoch s", "epoch ms", "epoch us",
                             "arrow"]))
def test_a_moment_reads_back_to_the_millisecond_in_every_form(
        tmp_path: Path, start: datetime, step_ms: int, form: str) -> None:
    """ISO 8601 with and without a zone, Unix times of three units and Arrow's own times agree."""
    begin = start.replace(tzinfo=UTC, microsecond=0)
    moments = [begin + timedelta(milliseconds=n * step_ms) for n in range(4)]
    path = tmp_path / ("table.parquet" if form == "arrow" else "table.csv")
    if form == "arrow":
        pq.write_table(pa.table({"time": pa.array(moments, pa.timestamp("us", "UTC")),
                                 "amps": [1.0, 2, 3, 4]}), path)
    else:
        path.write_text("time,amps\n" + "".join(
            f"{written(moment, form)},{n}\n" for n, moment in enumerate(moments)))

    table = read_foreign(path, ImportOptions()).table

    assert table["time"].to_pylist() == moments


@pytest.mark.parametrize("heading", ["Date and Time", "date of it"])
def test_words_in_a_heading_split_no_table_at_blanks(tmp_path: Path, heading: str) -> None:
    """A table of two columns whose time holds a blank, too, is split at its commas."""
    path = tmp_path / "table.csv"
    path.write_text(f"{heading},pace\n" + "".join(
        f"2026-04-02 08:15:0{n},{n}.5\n" for n in range(5)))
    mapped = {"current_a": "pace"} | ({"time": heading} if "of" in heading else {})

    table = read_foreign(path, ImportOptions(mapped)).table

    assert table["current_a"].to_pylist() == [0.5, 1.5, 2.5, 3.5, 4.5]
    assert table["time"][4].as_py() == datetime(2026, 4, 2, 8, 15, 4, tzinfo=UTC)


def written(moment: datetime, form: str) -> str:
    micros = (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
    return {
        "iso": moment.replace(tzinfo=None).isoformat(sep=" ", timespec="milliseconds"),
        "iso z": moment.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "iso offset": (moment + timedelta(hours=2)).replace(tzinfo=None).isoformat() + "+02:00",
        "epoch s": f"{micros / 1e6:.3f}", "epoch ms": str(micros // 1000), "epoch us": str(micros),
    }[form]
