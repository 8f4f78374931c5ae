"""Sentences of NMEA 0183 against published ones, damaged ones, and on a real pseudo-terminal."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.decoder import Decoder
from collector.frames.fields import Row
from collector.frames.nmea import SentenceReader
from collector.frames.text import Form
from collector.monitors import load_description
from collector.simulator.terminal import PseudoTerminal
from tests.collector.listening import enough_rows, heard_until, rows

NMEA = load_description("nmea")
PACK = load_description("nmea-battery")


def checked(body: str) -> bytes:
    """A sentence with its check, worked out here by the rule of the standard."""
    value = 0
    for byte in body.encode():
        value ^= byte
    return f"${body}*{value:02X}\r\n".encode()


def heard(*sentences: bytes) -> list[Row]:
    """What the receiver's and the pack's description make of them."""
    return [row for monitor in (NMEA, PACK) for row in Decoder(monitor).feed(b"".join(sentences))]


@pytest.mark.parametrize(("sentence", "row"), [
    # gpsd, www/NMEA.adoc (2026), sentence RMC: 0.146 kn
    (b"$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B\r\n",
     {"speed_m_s": 0.0751, "latitude_deg": 44.0689988, "longitude_deg": -121.3143372}),
    # tests of the library pynmea2: 0.5 kn at 49.274167, -123.185333
    (b"$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68\r\n",
     {"speed_m_s": 0.2572, "latitude_deg": 49.274167, "longitude_deg": -123.185333}),
    # gpsd, as above: 0.04 kn and 0.07 km/h
    (b"$GPVTG,108.53,T,,M,0.04,N,0.07,K,A*31\r\n", {"speed_m_s": 0.0206}),
    # from memory, check worked out: 5.5 kn
    (b"$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48\r\n", {"speed_m_s": 2.8294}),
    # made for this test after gpsd's XDR units A, V, C; parses in pynmea2 1.19
    (b"$IIXDR,U,51.2,V,PACK,I,-35.4,A,PACK,C,24.5,C,PACK*68\r\n",
     {"voltage_v": 51.2, "current_a": -35.4, "temp_1_c": 24.5}),
])
def test_published_sentences(sentence: bytes, row: Row) -> None:
    """Speed in metres a second, place in decimal degrees, transducers in their units."""
    [found] = heard(sentence)

    assert found == pytest.approx(row, abs=5e-5)
    assert {k: v for k, v in found.items() if k.endswith("deg")} == pytest.approx(
        {k: v for k, v in row.items() if k.endswith("deg")}, abs=5e-7)


def test_five_transducers_without_a_pack_are_no_figures() -> None:
    """gpsd's XDR example passes its check and holds nothing of a battery."""
    sentence = b"$HCXDR,A,171,D,PITCH,A,-37,D,ROLL,G,367,,MAGX,G,2420,,MAGY,G,-8984,,MAGZ*41\r\n"
    decoder = Decoder(PACK)

    assert decoder.feed(sentence) == []
    assert (decoder.counts.failed_checks, decoder.counts.undecodable) == (0, 1)
    assert Form("nmea").tokens(sentence[1:-5].decode()) == {
        "PITCH.D": "171", "ROLL.D": "-37", "MAGX.": "367", "MAGY.": "2420", "MAGZ.": "-8984"}


@pytest.mark.parametrize("body", [
    "GPRMC,225446,V,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E",
    "GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E,N",
    "GPGGA,092750,5321.6802,N,00630.3372,W,0,8,1.03,61.7,M,55.2,M,,",
    "GPVTG,,T,,M,0.00,N,0.00,K,N",
    "GPRMC,,V,,,,,,,,,,N", "GPRMC", "", "RMC,225446,A,4916.45,N,12311.12,W,000.5,1,2,3,E",
    "GPZZZ,1,2,3",
])
def test_a_fix_that_is_not_valid_is_missing(body: str) -> None:
    """No place and no speed, for nobody knows them; never 0."""
    assert heard(checked(body)) == []


@pytest.mark.parametrize(("body", "row"), [
    ("GPGGA,092750,5321.6802,N,00630.3372,W,1,8,1.03,61.7,M,55.2,M,,",
     {"latitude_deg": 53.36133667, "longitude_deg": -6.50562, "elevation_m": 61.7}),
    ("GPRMC,1,A,3348.50,S,15112.60,E,,,010126,,", {
        "latitude_deg": -33.80833333, "longitude_deg": 151.21}),
    ("GPRMC,1,A,4960.00,N,12311.12,W,1,,010126,,", {"speed_m_s": 0.514444}),
    ("GPRMC,1,A,9900.00,N,12311.12,W,1,,010126,,", {"speed_m_s": 0.514444}),
    ("GPVTG,,T,,M,,N,36,K,A", {"speed_m_s": 10.0}),
    ("IIXDR,G,87,P,PACK,P,101300,P,PACK", {"soc_pct": 87.0}),
    ("IIXDR,U,51.2,V,PACK,I,,A,PACK,C", {"voltage_v": 51.2}),
])
def test_each_part_stands_for_itself(body: str, row: Row) -> None:
    """A part that is empty or impossible is missing, the others stay; pascals are no percent."""
    assert heard(checked(body)) == [row]


def test_one_fix_in_three_sentences_tells_each_figure_once() -> None:
    """RMC has the word on speed and place, GGA adds the height; VTG is needed only alone."""
    rmc = checked("GPRMC,1,A,4916.45,N,12311.12,W,10,,010126,,,A")
    gga = checked("GPGGA,1,4916.45,N,12311.12,W,1,8,1,61.7,M,55,M,,")
    vtg = checked("GPVTG,,T,,M,10,N,,K,A")
    burst = heard(*[rmc, gga, vtg] * 3)

    assert [sorted(row) for row in burst] == [
        ["latitude_deg", "longitude_deg", "speed_m_s"], ["elevation_m"]] * 3
    assert [sorted(row) for row in heard(*[gga, vtg] * 2)] == [
        ["elevation_m", "latitude_deg", "longitude_deg"], ["speed_m_s"]] * 2


def test_a_receiver_that_falls_back_is_heard_again() -> None:
    """Where RMC stops, VTG has the word after a while."""
    reader = SentenceReader()
    reader.tokens("GPRMC,1,A,4916.45,N,12311.12,W,10,,010126,,,A")
    told = [bool(reader.tokens("GPVTG,,T,,M,10,N,,K,A")) for _ in range(60)]

    assert told == sorted(told)
    assert 30 < told.count(False) < 50


@settings(derandomize=True, deadline=None)
@given(text=st.text(max_size=80), kind=st.sampled_from(["RMC", "GGA", "VTG", "XDR"]),
       fields=st.lists(st.sampled_from(["", "A", "1", "-3.5", "4916.45", "N", "W", "K", "M", "P",
                                        "٣", "1e9", "x"]), max_size=16))
def test_nothing_breaks_the_reader(text: str, kind: str, fields: list[str]) -> None:
    """Any text is read or ignored, and a figure is always a plain number."""
    reader = SentenceReader()
    reader.tokens(text)
    assert all(value.isascii() and float(value) is not None for value in
               reader.tokens(",".join([f"GP{kind}", *fields])).values())


@settings(derandomize=True, deadline=None)
@given(degrees=st.integers(0, 89), minutes=st.integers(0, 5_999_999), south=st.booleans())
def test_minutes_become_decimal_degrees(degrees: int, minutes: int, south: bool) -> None:
    """A place comes back to a millionth of a minute, some two millimetres."""
    angle = f"{degrees:02d}{minutes / 100_000:08.5f}"
    [row] = heard(checked(f"GPRMC,1,A,{angle},{'NS'[south]},00000.00,E,,,010126,,"))
    expected = (degrees + minutes / 6e6) * (-1 if south else 1)

    assert row["latitude_deg"] == pytest.approx(expected, abs=2e-8)


@pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")
def test_a_receiver_on_a_real_pseudo_terminal(tmp_path: Path) -> None:
    """Through pyserial, the link and the decoder; a torn and a falsified sentence are counted."""
    terminal = PseudoTerminal(tmp_path / "gps")
    terminal.plug()
    good = [checked(f"GPRMC,1,A,4916.45,N,12311.12,W,{knots},,010126,,,A") for knots in (1, 2, 3)]
    false = good[0].replace(b"4916", b"4917")
    burst = good[0][20:] + good[0] + false + good[1][:30] + good[1] + good[2]
    done = threading.Event()

    def speak() -> None:
        while not done.wait(0.1):
            terminal.write(burst)

    receiver = threading.Thread(target=speak)
    receiver.start()
    try:
        samples = heard_until(NMEA, terminal.port, enough_rows(30))
    finally:
        done.set()
        receiver.join()
        terminal.unplug()
    speeds = [float(row["speed_m_s"]) for row in rows(samples)]

    assert speeds[:3] == pytest.approx([0.514444, 1.028889, 1.543333], abs=1e-6)
    assert set(speeds) == set(speeds[:3])
    assert {row["latitude_deg"] for row in rows(samples)} == {49.27416667}


def test_receiver_and_pack_can_share_a_log() -> None:
    """Their columns are different ones, so that neither speaks over the other or over a monitor."""
    assert not set(NMEA.columns) & set(PACK.columns)
    assert not set(NMEA.columns) & set(load_description("demo-text").columns)
