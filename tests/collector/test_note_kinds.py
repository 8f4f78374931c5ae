"""Typed figures with and without units."""

import pytest

from collector.note_kinds import KINDS, read_figure


@pytest.mark.parametrize(("kind", "typed", "kept"), [
    ("joint-millivolts", "119mV", 119), ("joint-millivolts", "0.119 V", 119),
    ("surface-temperature", "74 C", 74), ("surface-temperature", "165.2°F", 74),
    ("clamp-amps", "-21.5", -21.5), ("clamp-amps", "−310 mA", -0.31),
    ("tyre-pressure", "3,2bar", 3.2), ("meter-volts", "53.32", 53.32),
    ("odometer", "1234", 1234), ("odometer", "12,345.5 km", 12345.5), ("torque", "12 N·m", 12),
])
def test_a_figure_is_kept_in_the_unit_of_its_kind(kind: str, typed: str, kept: float) -> None:
    """A unit is converted, a bare figure is in the kind's own, a comma may be the decimal mark."""
    assert read_figure(KINDS[kind], typed, {}) == pytest.approx(kept, abs=1e-9)


@pytest.mark.parametrize(("kind", "typed", "kept"), [
    ("torque", "1 in-lb", 0.1129848), ("torque", "1 ft-lb", 1.355818),
    ("tyre-pressure", "1 psi", 0.06894757), ("load", "1 lb", 0.4535924),
    ("torque", "1 lbf·ft", 1.355818), ("torque", "1 lbf·in", 0.1129848),
    ("odometer", "1 mi", 1.609344), ("wind", "1 mph", 0.44704), ("wind", "1 kn", 0.5144444),
    ("wind", "1 km/h", 0.2777778), ("load", "1 LBS", 0.4535924), ("odometer", "1 miles", 1.609344),
    ("joint-millivolts", "1000 µV", 1), ("joint-millivolts", "1000 \u03bcV", 1),
])
def test_conversions_vs_nist_sp_811(kind: str, typed: str, kept: float) -> None:
    """NIST Special Publication 811 (2008), appendix B.8, seven digits as printed there (the
    figures here from memory)."""
    assert read_figure(KINDS[kind], typed, {}) == pytest.approx(kept, rel=5e-7)


def test_a_bare_figure_is_in_the_logbooks_unit() -> None:
    """A person who works in Fahrenheit and miles need not say so each time."""
    units = {"temperature": "F", "distance": "mi", "mass": "lb", "torque": "lbf-ft"}

    assert read_figure(KINDS["load"], "100", units) == pytest.approx(45.359237)
    assert read_figure(KINDS["wind"], "10", units) == pytest.approx(4.4704)
    assert read_figure(KINDS["torque"], "10", units) == pytest.approx(13.55818)
    assert read_figure(KINDS["torque"], "10", {"torque": "ell"}) == 10
    assert read_figure(KINDS["surface-temperature"], "212", units) == pytest.approx(100)
    assert read_figure(KINDS["odometer"], "10", units) == pytest.approx(16.09344)
    assert read_figure(KINDS["odometer"], "10 km", units) == 10


@pytest.mark.parametrize(("kind", "typed", "message"), [
    ("wind", "3 mV", "'mV' is no unit of wind; it takes m/s, km/h, mph, kn"),
    ("odometer", "1,234", "could be a thousand or a fraction"),
    ("torque", "tight", "'tight' is not a figure in Nm, lbf·ft, lbf·in$"),
    ("torque", "", "no figure was typed"), ("torque", "1.2.3", "'1.2.3' is no number"),
    ("joint-millivolts", "3 bar", "it takes mV, V, µV$"),
    ("surface-temperature", "3 bar", "it takes °C, °F, K$"), ("load", "3 s", "it takes kg, lb$"),
    ("tyre-pressure", "3 s", "it takes bar, kPa, psi$"),
])
def test_what_cannot_be_read_is_told(kind: str, typed: str, message: str) -> None:
    """Nothing is guessed."""
    with pytest.raises(ValueError, match=message):
        read_figure(KINDS[kind], typed, {})
