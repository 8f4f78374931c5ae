"""Numbers at all places of frames at once, as descriptions and an open standard have them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.place import CODINGS, Place
from collector.learner.codings import Form, all_forms


@pytest.mark.parametrize("form", all_forms(), ids=str)
@settings(derandomize=True, max_examples=25, deadline=None)
@given(data=st.binary(min_size=8, max_size=8))
def test_each_form_reads_as_a_description_does(form: Form, data: bytes) -> None:
    """What the learner sees at a place is what its description decodes there."""
    frames = np.frombuffer(data, np.uint8)[None, :]
    seen = form.figures(frames)[0]
    for at in range(9 - form.length):
        order = "big" if form.coding == "digits" else form.order
        raw = Place(at, form.length, order, form.mask).read(data)
        wanted = CODINGS[form.coding].decode(raw, form.bits)
        if wanted is not None and abs(wanted) < 1e9:
            assert float(wanted) == seen[at]


def test_marine_battery_frame_vs_published_capture() -> None:
    """Volts and amps of a captured marine network message stand where its definition says.

    PGN 127508, bytes ``00 61 0A 79 00 C0 75 5C``: 26.57 V, 12.1 A, 301.44 K. Open database
    canboat, docs/canboat.json v8.0.0-beta3 (Apache-2.0); bytes seen there, values worked out.
    """
    frame = np.frombuffer(bytes.fromhex("00610A7900C0755C"), np.uint8)[None, :]

    assert pytest.approx(Form("signed", 2, "little").figures_at(frame, 1)[0] * 0.01) == 26.57
    assert pytest.approx(Form("signed", 2, "little").figures_at(frame, 3)[0] * 0.1) == 12.1
    assert pytest.approx(Form("unsigned", 2, "little").figures_at(frame, 5)[0] * 0.01) == 301.44


def test_no_number_is_nan() -> None:
    """A BCD digit above nine and a letter among digits are no number."""
    frame = np.frombuffer(b"\x1AZ1", np.uint8)[None, :]

    assert np.isnan(Form("bcd", 1).figures_at(frame, 0)[0])
    assert np.isnan(Form("digits", 2).figures_at(frame, 1)[0])
