"""The most ink on a square, and the areas over a limit, against a plain search of every square."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from preflight.inventory.ink_windows import (
    best_window,
    cell_sums,
    label_areas,
    squares_over,
    window_areas,
    window_side,
)

Plane = npt.NDArray[np.uint16]


def every_square(total: Plane, side: int) -> npt.NDArray[np.int64]:
    """Brute force: the sum of each square by itself."""
    views = np.lib.stride_tricks.sliding_window_view(total.astype(np.int64), (side, side))
    sums: npt.NDArray[np.int64] = views.sum(axis=(2, 3))
    return sums


def scene(seed: int, rows: int, columns: int) -> Plane:
    """Grounds, patches, noise and lines, as ink sums of up to four inks."""
    draw = np.random.default_rng(seed)
    total = np.full((rows, columns), draw.integers(0, 700), dtype=np.int64)
    for _ in range(draw.integers(0, 12)):
        top, left = draw.integers(0, rows), draw.integers(0, columns)
        total[top : top + draw.integers(1, 60), left : left + draw.integers(1, 60)] = draw.integers(0, 1020)
    if draw.random() < 0.5:
        total += draw.integers(-120, 120, total.shape)
    return np.clip(total, 0, 1020).astype(np.uint16)


def test_the_measuring_square_is_23_pixels() -> None:
    """15 mm2 is a square of 3.873 mm, 23.24 pixels at 6 a millimetre (contract: 23 x 23)."""
    assert window_side(15.0, 6) == 23
    assert window_side(15.0, 4) == 15


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(23, 190), st.integers(23, 210), st.sampled_from([1, 3, 22, 23]))
def test_the_best_square_is_that_of_a_plain_search(seed: int, rows: int, columns: int, side: int) -> None:
    total = scene(seed, rows, columns)
    sums = every_square(total, side)
    best = best_window(total, cell_sums(total).astype(np.uint32), side)
    assert best is not None
    assert best.mean_percent == pytest.approx(sums.max() / (2.55 * side * side), rel=1e-12)
    assert sums[best.top, best.left] == sums.max()


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.integers(60, 400))
def test_areas_are_those_of_a_plain_search(seed: int, above: int) -> None:
    total = scene(seed, 150, 170)
    side = 23
    over = every_square(total, side) > above * 2.55 * side * side
    covered = np.zeros(total.shape, dtype=bool)
    for row, column in zip(*np.nonzero(over), strict=True):
        covered[row : row + side, column : column + side] = True
    areas = window_areas(squares_over(total, cell_sums(total).astype(np.uint32), side, above), above)
    dark = covered & (total > above * 2.55)
    cells = covered[::3, ::3].size
    assert bool(areas) is bool(over.any())
    assert 0 <= sum(area.pixels for area in areas) <= min(9 * cells, covered.sum() + 9 * 4 * (150 + 170))
    if areas:
        best = best_window(total, cell_sums(total).astype(np.uint32), side)
        assert best is not None
        assert areas[0].worst.mean_percent == pytest.approx(best.mean_percent)
        rows, columns = np.nonzero(dark)
        assert min(area.top for area in areas) == rows.min()
        assert max(area.bottom for area in areas) == rows.max() + 1
        assert min(area.left for area in areas) == columns.min()
        assert max(area.right for area in areas) == columns.max() + 1
    for area in areas:
        assert area.worst.mean_percent > above
        # Its worst square holds some of it.
        assert area.worst.top < area.bottom
        assert area.top < area.worst.top + side
        assert area.worst.left < area.right
        assert area.left < area.worst.left + side


def test_more_inks_than_sixteen_bits_hold() -> None:
    """68 full inks (64 spots under a registration mark) over a square of 23 pixels."""
    total = np.full((30, 30), 68 * 255, dtype=np.uint16)
    best = best_window(total, np.full((10, 10), 9 * 68 * 255, dtype=np.uint32), 23)
    assert best is not None
    assert best.mean_percent == pytest.approx(6800.0)


def test_where_no_square_fits_there_is_none() -> None:
    total = np.full((22, 100), 900, dtype=np.uint16)
    assert best_window(total, cell_sums(total).astype(np.uint32), 23) is None


def test_areas_that_touch_at_a_corner_or_meet_late_are_one() -> None:
    mask = np.array(
        [
            [1, 0, 0, 0, 1, 0, 1],
            [1, 0, 0, 1, 0, 0, 1],
            [1, 1, 0, 0, 0, 0, 1],
            [0, 0, 0, 0, 0, 0, 1],
            [1, 0, 1, 1, 1, 1, 1],
        ],
        dtype=bool,
    )
    labels, extents = label_areas(mask)
    assert len(extents) == 4
    assert labels[0, 4] == labels[1, 3]
    assert labels[0, 6] == labels[4, 2]
    assert labels[4, 0] not in (0, labels[0, 0], labels[4, 2])
    assert extents[labels[0, 6] - 1] == (0, 5, 2, 7)


@given(st.integers(0, 10**6))
@settings(max_examples=30, deadline=None)
def test_areas_are_numbered_as_a_flood_would(seed: int) -> None:
    draw = np.random.default_rng(seed)
    mask = draw.random((14, 17)) < 0.4
    labels, extents = label_areas(mask)
    flooded = np.zeros(mask.shape, dtype=int)
    count = 0
    for start in zip(*np.nonzero(mask), strict=True):
        if flooded[start]:
            continue
        count += 1
        todo = [start]
        while todo:
            row, column = todo.pop()
            if 0 <= row < 14 and 0 <= column < 17 and mask[row, column] and not flooded[row, column]:
                flooded[row, column] = count
                todo += [(row + down, column + across) for down in (-1, 0, 1) for across in (-1, 0, 1)]
    assert len(extents) == count
    pairs = {(int(one), int(other)) for one, other in zip(labels.ravel(), flooded.ravel(), strict=True)}
    assert len(pairs) == count + (not mask.all())
