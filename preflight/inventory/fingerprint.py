"""A coarse print of a page's ink, by which a page is known again in a file sent anew: moved, re-exported, compressed once more.

The trim is laid out in 12 by 16 fields; each field's mean total ink becomes one of sixteen steps, a hexadecimal digit, row by row
from the top left. Steps go by the square root of the ink, so that light pages of text still differ. Nothing about page
numbers, objects or fonts goes in. A fresh JPEG compression or another way of drawing the same letters moves a field by a few
tenths of a percent of ink, which can tip a field that lies between two steps: so two prints are compared with ``alike``, not letter by letter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

COLUMNS, ROWS = 12, 16
_STEPS = 15
#: Ink of the darkest step in percent, all inks together.
_FULL_PERCENT = 400.0
#: Of the fields, this many may differ between two prints of one page, each by one step.
_MAY_DIFFER = 0.15


def page_fingerprint(total_percent: npt.NDArray[np.float32], extent: tuple[float, float, float, float]) -> str:
    """The print of a page: ``total_percent`` per cell, and the trim in cells (top, bottom, left, right), parts of cells allowed."""
    import numpy as np

    top, bottom, left, right = extent
    rows = _shares(top, bottom, ROWS, total_percent.shape[0])
    columns = _shares(left, right, COLUMNS, total_percent.shape[1])
    means = rows @ total_percent @ columns.T
    steps = np.rint(np.sqrt(np.clip(means / _FULL_PERCENT, 0.0, 1.0)) * _STEPS).astype(int)
    return "".join(f"{step:x}" for step in steps.ravel())


def alike(one: str, other: str) -> bool:
    """Whether two prints are of one page: few fields differ, and those by one step."""
    if not one or len(one) != len(other):
        return False
    steps = [abs(int(a, 16) - int(b, 16)) for a, b in zip(one, other, strict=True)]
    return max(steps) <= 1 and sum(steps) <= _MAY_DIFFER * len(steps)


def _shares(start: float, end: float, fields: int, cells: int) -> npt.NDArray[np.float32]:
    """How much each cell counts in each field's mean, along one axis."""
    import numpy as np

    edges = np.linspace(start, end, fields + 1)
    first = np.arange(cells)
    overlap = np.minimum(first + 1, edges[1:, np.newaxis]) - np.maximum(first, edges[:-1, np.newaxis])
    overlap = np.clip(overlap, 0.0, None)
    sums = overlap.sum(axis=1, keepdims=True)
    shares: npt.NDArray[np.float32] = (overlap / np.where(sums > 0.0, sums, 1.0)).astype(np.float32)
    return shares
