"""Sentences as they are played: read again they say the same, and they are those of the form."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.decoder import Decoder
from collector.frames.encoder import encode
from collector.frames.nmea_sentences import sentences
from collector.monitors import load_description


def test_a_transducer_sentence_vs_a_public_parser() -> None:
    """The sentence that pynmea2 1.19 parses into these figures (as in test_frames_nmea)."""
    assert sentences({"PACK.V": "51.2", "PACK.A": "-35.4", "PACK.C": "24.5"}) == [
        "IIXDR,U,51.2,V,PACK,I,-35.4,A,PACK,C,24.5,C,PACK"]


def test_a_place_is_degrees_and_minutes_vs_gpsd() -> None:
    """4916.45,N 12311.12,W, from the RMC example in gpsd's description of the sentences."""
    first, *_ = sentences({"latitude_deg": "49.27416667", "longitude_deg": "-123.18533333"})

    assert first.startswith("GPRMC,,A,4916.450000,N,12311.120000,W,")


@settings(derandomize=True, deadline=None)
@given(latitude=st.floats(-89.9, 89.9), longitude=st.floats(-179.9, 179.9),
       speed=st.floats(0, 40), height=st.floats(-400, 8000))
def test_what_a_receiver_says_is_read_again(
        latitude: float, longitude: float, speed: float, height: float) -> None:
    """To centimetres, and each sentence is whole: start, check, end."""
    monitor = load_description("nmea")
    frame = encode(monitor, {"latitude_deg": latitude, "longitude_deg": longitude,
                             "speed_m_s": speed, "elevation_m": height})
    row = {name: value for part in Decoder(monitor).feed(frame) for name, value in part.items()}

    assert frame.count(b"\r\n") == frame.count(b"$") == 3
    assert row["latitude_deg"] == pytest.approx(latitude, abs=1e-7)
    assert row["longitude_deg"] == pytest.approx(longitude, abs=1e-7)
    assert row["speed_m_s"] == pytest.approx(speed, abs=1e-4)
    assert row["elevation_m"] == pytest.approx(height, abs=0.06)


def test_a_receiver_without_a_fix_says_its_speed_alone() -> None:
    """Half a place is none; without anything there is no sentence."""
    assert sentences({"latitude_deg": "47.0", "speed_m_s": "1.0"}) == [
        "GPVTG,,T,,M,1.9438,N,3.6000,K,A"]
    assert sentences({}) == []


@pytest.mark.parametrize("date", ["060180", "010170", "311299", ""])
def test_the_receivers_own_clock_is_not_looked_at(date: str) -> None:
    """A clock that began anew in 1980, jumped or is empty: place and speed are read the same."""
    monitor = load_description("nmea")
    body = f"GPRMC,235959.00,A,4700.00,N,02000.00,W,2.0,,{date},,,A"
    check = 0
    for octet in body.encode():
        check ^= octet
    [row] = Decoder(monitor).feed(f"${body}*{check:02X}\r\n".encode())

    assert row == {"latitude_deg": 47.0, "longitude_deg": -20.0, "speed_m_s": 1.028889}
