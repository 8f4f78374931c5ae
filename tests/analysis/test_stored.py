"""What is taken apart comes back the same."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimate import Answer, Estimate, NoEstimate
from analysis.stored import as_plain, from_plain


@dataclass(frozen=True, slots=True)
class Leaf:
    name: str
    sizes: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Tree:
    answer: Answer
    leaves: tuple[Leaf, ...]
    ends: tuple[float, str]
    by_name: Mapping[str, Leaf]
    other: Leaf | None
    flag: bool


leaves = st.builds(Leaf, st.text(max_size=5), st.lists(st.floats(allow_nan=False)).map(tuple))
trees = st.builds(
    Tree, st.sampled_from([Estimate(1.0, 0.5, 2.0, "Ah"), NoEstimate("why", "what")]),
    st.lists(leaves, max_size=3).map(tuple), st.tuples(st.floats(-1, 1), st.text(max_size=3)),
    st.dictionaries(st.text(max_size=3), leaves, max_size=2), st.none() | leaves, st.booleans())


@given(tree=trees)
@settings(derandomize=True, deadline=None)
def test_what_is_stored_comes_back(tree: Tree) -> None:
    """Through JSON and back every nested result is equal to what it was."""
    assert from_plain(Tree, json.loads(json.dumps(as_plain(tree)))) == tree


def test_missing_stays_missing() -> None:
    """NaN comes back as NaN."""
    back = from_plain(Leaf, json.loads(json.dumps(as_plain(Leaf("a", (math.nan,))))))

    assert math.isnan(back.sizes[0])


@pytest.mark.parametrize("plain", [{}, {"name": "a"}, [], "text", None])
def test_data_of_another_form_are_refused(plain: object) -> None:
    """Data without the fields of the class raise instead of making half a result."""
    with pytest.raises((TypeError, KeyError, ValueError)):
        from_plain(Leaf, plain)
