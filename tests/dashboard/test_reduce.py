"""Min/max columns: peaks kept, gaps kept, time in order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.reduce import BLOCK, Channel, Curve, TimeAxis, area, line, ribbon, sides


def walk(seed: int, samples: int, gap_at: int | None = None) -> tuple[np.ndarray, np.ndarray]:
    """A random walk at 10 Hz, with a 60 s gap before a sample."""
    generator = np.random.default_rng(seed)
    steps = np.full(samples, 0.1)
    if gap_at is not None and gap_at > 0:
        steps[gap_at] = 60.0
    return np.cumsum(steps) - steps[0], np.cumsum(generator.normal(size=samples))


def channel(elapsed_s: np.ndarray, values: np.ndarray) -> Channel:
    """A channel with a break at each step of more than a second."""
    breaks = np.flatnonzero(np.diff(elapsed_s) > 1) + 1
    return Channel.on(TimeAxis.of(elapsed_s, breaks), values)


@settings(derandomize=True, max_examples=60)
@given(seed=st.integers(0, 99), samples=st.integers(2, 6000), columns=st.integers(1, 400),
       spike=st.integers(0, 5999))
def test_extremes_of_the_whole_view_are_kept(seed: int, samples: int, columns: int,
                                             spike: int) -> None:
    """One sample that stands out survives any reduction, in both directions."""
    elapsed_s, values = walk(seed, samples)
    values[spike % samples] = 1e6
    values[(spike * 7 + 1) % samples] = -1e6

    drawn = line(channel(elapsed_s, values), 0.0, float(elapsed_s[-1]), columns)

    assert np.nanmax(drawn.y) == np.float32(values.max())
    assert np.nanmin(drawn.y) == np.float32(values.min())


@settings(derandomize=True, max_examples=60)
@given(seed=st.integers(0, 99), samples=st.integers(8, 6000), columns=st.integers(1, 400),
       gap_at=st.integers(1, 5999))
def test_a_gap_is_never_drawn_across(seed: int, samples: int, columns: int, gap_at: int) -> None:
    """No stroke joins a point before the gap with one after it."""
    gap_at = 1 + gap_at % (samples - 1)
    elapsed_s, values = walk(seed, samples, gap_at)

    drawn = line(channel(elapsed_s, values), 0.0, float(elapsed_s[-1]), columns)
    joined = ~np.isnan(drawn.y[:-1]) & ~np.isnan(drawn.y[1:])
    across = (drawn.x[:-1] < elapsed_s[gap_at]) & (drawn.x[1:] >= elapsed_s[gap_at])

    assert across.sum() == 1
    assert not np.any(joined & across)


@settings(derandomize=True, max_examples=60)
@given(seed=st.integers(0, 99), samples=st.integers(1, 6000), columns=st.integers(1, 400),
       share=st.tuples(st.floats(0, 1), st.floats(0, 1)))
def test_time_never_runs_backwards(seed: int, samples: int, columns: int,
                                   share: tuple[float, float]) -> None:
    """The points of a line are in the order of time, whatever part is asked for."""
    elapsed_s, values = walk(seed, samples, samples // 2)
    start, end = (part * float(elapsed_s[-1]) for part in sorted(share))

    drawn = line(channel(elapsed_s, values), start, end, columns)

    assert np.all(np.diff(drawn.x) >= 0)
    assert len(drawn.x) == len(drawn.y)


@settings(derandomize=True, max_examples=40)
@given(seed=st.integers(0, 99), columns=st.integers(1, 50), start=st.integers(0, 200_000),
       length=st.integers(30_000, 400_000))
def test_the_pyramid_loses_nothing_that_the_samples_hold(seed: int, columns: int, start: int,
                                                         length: int) -> None:
    """Read through blocks, the extremes of a view are at least those of its samples."""
    elapsed_s = np.arange(400_000) * 0.1
    values = np.random.default_rng(seed).normal(size=400_000)
    view = slice(start, min(start + length, 400_000))

    drawn = line(channel(elapsed_s, values), float(elapsed_s[view][0]),
                 float(elapsed_s[view][-1]), columns)

    assert np.nanmax(drawn.y) >= np.float32(values[view].max())
    assert np.nanmin(drawn.y) <= np.float32(values[view].min())
    assert len(drawn.x) <= 2 * (columns + 2)


def test_few_samples_are_drawn_as_they_are() -> None:
    """Where a view has fewer samples than columns, the line goes through each of them once."""
    elapsed_s, values = walk(1, 300)

    drawn = line(channel(elapsed_s, values), 0.0, 29.9, 400)

    assert drawn.x.tolist() == elapsed_s.tolist()
    assert drawn.y.tolist() == values.astype(np.float32).tolist()


def test_blocks_end_at_gaps() -> None:
    """A block never straddles a gap, or a column read from it would."""
    elapsed_s, values = walk(4, 3 * BLOCK, gap_at=300)

    assert 300 in channel(elapsed_s, values).axis.starts
    assert len(channel(elapsed_s, values).low) == 4


@pytest.mark.parametrize("columns", [10, 5000])
def test_a_ribbon_is_one_closed_outline_a_stretch(columns: int) -> None:
    """Each stretch is outlined forth and back, ends where it began, and spans its extremes."""
    elapsed_s, values = walk(5, 2000, gap_at=800)
    low, high = channel(elapsed_s, values - 1), channel(elapsed_s, values + 2)

    drawn = ribbon(low, high, 0.0, float(elapsed_s[-1]), columns)
    outlines = np.split(drawn.x, np.flatnonzero(np.isnan(drawn.y)))

    assert int(np.isnan(drawn.y).sum()) == 2
    assert outlines[0].max() < outlines[1][1:].min()
    assert np.nanmax(drawn.y) == np.float32(values.max() + 2)
    assert np.nanmin(drawn.y) == np.float32(values.min() - 1)


def test_nothing_recorded_draws_nothing() -> None:
    """A column without a figure gives an empty line and an empty ribbon."""
    empty = channel(np.empty(0), np.empty(0))

    assert len(line(empty, 0, 5, 10).x) == 0
    assert len(ribbon(empty, empty, 0, 5, 10).x) == 0


LEVELS = st.sampled_from([-3.0, -1.0, 0.0, 2.0, 5.0, float("nan")])


@settings(derandomize=True)
@given(levels=st.lists(LEVELS, max_size=12))
def test_the_sides_of_zero_make_up_the_line(levels: list[float]) -> None:
    """Parted at zero, a line loses nothing, however short; neither side crosses zero."""
    whole = Curve(np.arange(float(len(levels))), np.array(levels, np.float32))
    below, above = sides(whole)
    both = np.where(np.isnan(below.y), 0, below.y) + np.where(np.isnan(above.y), 0, above.y)

    assert np.array_equal(both[~np.isnan(whole.y)], whole.y[~np.isnan(whole.y)])
    assert not np.any(below.y > 0)
    assert not np.any(above.y < 0)
    assert np.isnan(below.y[np.isnan(whole.y)]).all()


@settings(derandomize=True)
@given(levels=st.lists(LEVELS, max_size=12))
def test_an_area_is_closed_for_each_stroke(levels: list[float]) -> None:
    """Each stroke is closed down to zero and back to its first time; strokes stay apart."""
    whole = Curve(np.arange(float(len(levels))), np.array(levels, np.float32))
    drawn = area(whole)
    told = ~np.isnan(whole.y)
    strokes = int(np.sum(told & ~np.append([False], told[:-1]))) if len(told) else 0

    assert int(np.isnan(drawn.y).sum()) == strokes
    assert int((~np.isnan(drawn.y)).sum()) == int(told.sum()) + 2 * strokes
