"""Running numbers, found without anything typed."""

import numpy as np

from collector.learner.sequence import find_sequence

FRAMES = 400


def test_a_running_number_wraps() -> None:
    """A byte that counts frames is one, a byte of noise is not."""
    noise = np.random.default_rng(4).integers(0, 256, (FRAMES, 8), dtype=np.uint8)
    frames = np.hstack([noise[:, :3], (np.arange(FRAMES) % 256).astype(np.uint8)[:, None]])
    found = find_sequence(frames, set())

    assert found is not None
    assert found[0] == 3
    assert find_sequence(noise, set()) is None
