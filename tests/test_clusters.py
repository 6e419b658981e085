"""Boxes that touch are taken together, however large a page a file claims to have."""

from __future__ import annotations

from work import calls_made_by

from preflight.clusters import touching
from preflight.units import Box


def groups(*boxes: Box, within: float = 0.1) -> list[list[int]]:
    return sorted(sorted(group) for group in touching(list(boxes), within))


def test_neighbours_and_strangers():
    assert groups(Box(0, 0, 5, 5), Box(5.05, 0, 9, 5), Box(50, 50, 60, 60)) == [[0, 1], [2]]


def test_across_the_squares():
    """A chain of boxes over a whole poster is one group."""
    chain = [Box(10.0 * step, 0, 10.0 * step + 10.0, 1) for step in range(100)]
    assert groups(*chain) == [list(range(100))]


def test_box_of_a_thousand_kilometres():
    boxes = (Box(-1e9, -1e9, 1e9, 1e9), Box(3, 3, 4, 4), Box(2e9, 0, 3e9, 1e9))
    assert groups(*boxes) == [[0, 1], [2]]
    assert calls_made_by(lambda: groups(*boxes)) < 10_000


def test_box_without_end():
    assert groups(Box(0, 0, float("inf"), 1), Box(1, 1, 2, 2), Box(float("nan"), 0, 1, 1)) == [[0], [1], [2]]
