"""How far type and line art lie askew in a scan: the turn at which lines of it fall together.

The ink of a reduced copy is projected along directions near the level and near the upright; the direction at which the sums change
most sharply from line to line is that of the writing. Degrees, clockwise positive, from -10 to 10; tolerance 0.1. Nothing is said
where no direction stands out, or where one stands out at the end of that range: it is the drawing's own slant then. Source: common practice of finding the
skew of scanned pages.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

RANGE_DEG = 10.0
_COARSE_DEG = 0.25
_FINE_DEG = 0.02
_MOST_POINTS = 24_000
_LEAST_POINTS = 300
#: How sharply the best direction must stand above the usual one.
_STANDS_OUT = 1.6
#: Where the other way's best direction is as clear, it is the same.
_AGREE_DEG = 0.4
#: A quarter of a sheet tells its direction less exactly.
_QUARTERS_AGREE_DEG = 0.6
_ONE_LINE = 1.15


def tilt_of(darkness: NDArray[np.float32]) -> float | None:
    """The tilt of what is dark in a reduced copy (0 paper, 1 ink), in degrees to 0.01; ``None`` where it cannot be told."""
    rows, columns = np.nonzero(darkness > 0.25)
    if len(rows) < _LEAST_POINTS:
        return None
    random = np.random.default_rng(0)
    if len(rows) > _MOST_POINTS:
        few = random.choice(len(rows), _MOST_POINTS, replace=False)
        rows, columns = rows[few], columns[few]
    weights = darkness[rows, columns].astype(float)
    # A pixel is no point: on whole numbers the level would always look sharpest.
    x = columns - columns.mean() + random.uniform(-0.5, 0.5, len(columns))
    y = rows - rows.mean() + random.uniform(-0.5, 0.5, len(rows))
    level = _best(x, y, weights)
    upright = _best(y, -x, weights)
    found = [each for each in (level, upright) if each is not None]
    if not found:
        return None
    best = max(found, key=lambda each: each[1])
    other = min(found, key=lambda each: each[1])
    # Two ways that are both clear and do not agree: a drawing in perspective, slanting letters.
    if abs(best[0] - other[0]) > _AGREE_DEG and other[1] > 0.7 * best[1]:
        return None
    return best[0] if _quarters_agree(x, y, weights, best) else None


def _quarters_agree(
    x: NDArray[np.float64], y: NDArray[np.float64], weights: NDArray[np.float64], whole: tuple[float, float]
) -> bool:
    """Whether the quarters of the sheet that tell a direction mostly tell this one: slanted bars of a drawing point anywhere."""
    against = 0
    agree: list[float] = []
    for left in (True, False):
        for upper in (True, False):
            part = ((x < 0.0) == left) & ((y < 0.0) == upper)
            if int(part.sum()) < _LEAST_POINTS:
                continue
            found = _best(x[part], y[part], weights[part]) or _best(y[part], -x[part], weights[part])
            if found is not None:
                if abs(found[0] - whole[0]) > _QUARTERS_AGREE_DEG:
                    against += 1
                else:
                    agree.append(found[1])
    # What stands out more in one quarter alone than in the whole sheet is one long line there.
    return len(agree) >= against and not (len(agree) == 1 and agree[0] > _ONE_LINE * whole[1])


def _best(
    along: NDArray[np.float64], across: NDArray[np.float64], weights: NDArray[np.float64]
) -> tuple[float, float] | None:
    """The direction whose projection is sharpest, and by how much it stands out."""
    angles = np.arange(-RANGE_DEG, RANGE_DEG + 0.5 * _COARSE_DEG, _COARSE_DEG)
    some = slice(None, None, 3)
    scores = np.array([_sharpness(along[some], across[some], weights[some], angle) for angle in angles])
    place = int(np.argmax(scores))
    if place in (0, 1, len(angles) - 1, len(angles) - 2):
        return None
    fine = angles[place] + np.arange(-_COARSE_DEG, _COARSE_DEG + 0.5 * _FINE_DEG, _FINE_DEG)
    sharp = np.array([_sharpness(along, across, weights, angle) for angle in fine])
    above = float(scores.max() / max(float(np.median(scores)), 1e-9))
    if above < _STANDS_OUT:
        return None
    # The middle of what is nearly as sharp, against the noise of bins.
    top = sharp > sharp.max() - 0.25 * (sharp.max() - sharp.min())
    return round(float((fine[top] * sharp[top]).sum() / sharp[top].sum()), 2), above


def _sharpness(
    along: NDArray[np.float64], across: NDArray[np.float64], weights: NDArray[np.float64], angle: float
) -> float:
    turn = math.radians(angle)
    places = across * math.cos(turn) - along * math.sin(turn)
    places -= places.min()
    whole = places.astype(np.int64)
    share = places - whole
    size = int(whole.max()) + 3
    # Each point is spread over the two lines it lies between.
    sums = np.bincount(whole, weights * (1.0 - share), size) + np.bincount(whole + 1, weights * share, size)
    return float((np.diff(sums) ** 2).sum())
