"""A coarse print of a page's ink, by which a page is known again in a file sent anew: moved, re-exported, compressed once more.

The trim is laid out in 12 by 16 fields; each field's mean total ink becomes one of sixteen steps, a hexadecimal digit, row by row
from the top left. Steps go by the square root of the ink, so that light pages of text still differ. Nothing about page
numbers, objects or fonts goes in. A fresh JPEG compression or another way of drawing the same letters moves a field by a few
tenths of a percent of ink, which can tip a field that lies between two steps: so two prints are compared with ``alike``, not letter by letter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

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
    # No matrix product: its threads cost more than the sums.
    strips = _means(total_percent, np.linspace(top, bottom, ROWS + 1))
    means = _means(strips.T, np.linspace(left, right, COLUMNS + 1)).T
    steps = np.rint(np.sqrt(np.clip(means / _FULL_PERCENT, 0.0, 1.0)) * _STEPS).astype(int)
    return "".join(f"{step:x}" for step in steps.ravel())


def alike(one: str, other: str) -> bool:
    """Whether two prints are of one page: few fields differ, and those by one step."""
    if not one or len(one) != len(other):
        return False
    steps = [abs(int(a, 16) - int(b, 16)) for a, b in zip(one, other, strict=True)]
    return max(steps) <= 1 and sum(steps) <= _MAY_DIFFER * len(steps)


def _means(
    values: npt.NDArray[np.floating[Any]], edges: npt.NDArray[np.floating[Any]]
) -> npt.NDArray[np.floating[Any]]:
    """Means of the rows between edges that may lie inside a row."""
    import numpy as np

    sums = np.zeros((values.shape[0] + 1, values.shape[1]))
    np.cumsum(values, axis=0, out=sums[1:])
    edges = np.clip(edges, 0.0, values.shape[0])
    whole = np.minimum(edges.astype(int), values.shape[0] - 1)
    at_edges = sums[whole] + (edges - whole)[:, np.newaxis] * values[whole]
    means: npt.NDArray[np.floating[Any]] = np.diff(at_edges, axis=0) / np.maximum(np.diff(edges), 1e-9)[:, np.newaxis]
    return means
