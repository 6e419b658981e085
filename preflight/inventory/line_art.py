"""Tells scanned type and line art from photographs: paper and ink, thin soft edges between them, and nothing in the middle.

Paper is the level most pixels have, ink the level of the darkest few; a drawing is nearly all paper, and what is wide enough to have an
inside is of one tone there, while things in a photograph go through all tones. A scanner leaves grain on its paper, a program's flat
ground has none. Levels 0 (black) to 255 (white); paper's tint is told within 1 %. Source: common practice of splitting a histogram in
two; limits set on drawn scans and on photographs.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Light = NDArray[np.float32]

#: Paper: at least this share of a sheet lies within so many levels of its level, which is lighter than the middle.
_PAPER_SHARE = 0.55
_PAPER_WITHIN = 14.0
_PAPER_FROM = 120.0
#: Ink: the darkest few of the pixels, at least so much darker than paper.
_INK_PART = 0.004
_LEAST_CONTRAST = 70.0
#: A sheet has some ink on it, and is not all ink.
_INK_SHARES = (0.003, 0.4)
#: Inside wide areas the tone stays within this; where less than such a part is wide, all is lines.
_TONE_WITHIN = 14.0
_WIDE_SHARE = 0.12
_WIDE_PX = 9
#: Pixels of neither level beside ink: a gray scan's edges have many, pixels of two levels none.
_SOFT_SHARE = 0.08
#: Paper that a scanner saw is never of one level (standard deviation, in levels).
_GRAIN = 0.4


@dataclass(frozen=True)
class Drawing:
    """Type or line art on paper."""

    paper: float
    ink: float
    #: Edges go through levels between paper and ink.
    is_soft: bool
    #: Paper has grain, or nothing but two levels: it came from a scanner, as far as can be told.
    has_grain: bool

    @property
    def middle(self) -> float:
        return 0.5 * (self.paper + self.ink)

    @property
    def paper_percent(self) -> float:
        return 100.0 * (1.0 - self.paper / 255.0)


def drawing_in(sample: Light, tiles: Iterable[Light]) -> Drawing | None:
    """Type or line art, or ``None`` for anything else.

    ``sample`` holds pixels from all over the picture (any shape), ``tiles`` are parts at full size, taken only
    where the sample may be a drawing's.
    """
    levels = np.clip(np.rint(sample.ravel()), 0, 255).astype(np.uint8)
    if levels.size < 1000:
        return None
    counts = np.bincount(levels, minlength=256).astype(float)
    paper = _paper(counts)
    if paper is None:
        return None
    ink = float(np.searchsorted(np.cumsum(counts), _INK_PART * levels.size))
    ink_share = float((levels < 0.5 * (paper + ink)).mean())
    if paper - ink < _LEAST_CONTRAST or not _INK_SHARES[0] <= ink_share <= _INK_SHARES[1]:
        return None
    if _has_tones(tiles, paper, ink):
        return None
    near = levels[np.abs(levels - paper) <= _PAPER_WITHIN]
    return Drawing(paper, ink, _is_soft(levels, paper, ink), float(near.std()) > _GRAIN)


def _paper(counts: NDArray[np.float64]) -> float | None:
    """The level most pixels have, where it is that of paper."""
    smooth = np.convolve(counts, np.ones(5), mode="same")
    top = int(np.argmax(smooth))
    if top < _PAPER_FROM:
        return None
    low, high = int(max(0, top - _PAPER_WITHIN)), int(min(255, top + _PAPER_WITHIN))
    part = counts[low : high + 1]
    if part.sum() < _PAPER_SHARE * counts.sum():
        return None
    return float((part * np.arange(low, high + 1)).sum() / part.sum())


def _is_soft(levels: NDArray[np.uint8], paper: float, ink: float) -> bool:
    span = paper - ink
    between = (levels > ink + 0.2 * span) & (levels < paper - max(0.2 * span, _PAPER_WITHIN))
    not_paper = levels < paper - max(0.2 * span, _PAPER_WITHIN)
    return float(between.sum()) > _SOFT_SHARE * float(not_paper.sum())


def _has_tones(tiles: Iterable[Light], paper: float, ink: float) -> bool:
    """Whether wide areas that are not paper go through tones, as in a photograph."""
    limit = paper - max(0.2 * (paper - ink), 1.5 * _PAPER_WITHIN)
    inside: list[Light] = []
    covered = 0
    for tile in tiles:
        dark = tile < limit
        covered += int(dark.sum())
        inside.append(tile[_eroded(dark)])
    if not covered:
        return True
    wide = np.concatenate(inside)
    return len(wide) > _WIDE_SHARE * covered and float(wide.std()) > _TONE_WITHIN


def _eroded(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The pixels whose whole neighbourhood is set."""
    sums = np.cumsum(np.cumsum(np.pad(mask, ((1, 0), (1, 0))).astype(np.int32), axis=0), axis=1)
    side = _WIDE_PX
    inside = np.zeros_like(mask)
    if min(mask.shape) <= side:
        return inside
    full = sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side] == side * side
    half = side // 2
    inside[half : half + full.shape[0], half : half + full.shape[1]] = full
    return inside
