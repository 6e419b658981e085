"""How much of a picture's stated resolution is real: finds pictures that were blown up, and by how much.

A picture blown up by a factor f carries everything of its small original twice: the frequency u and its mirror 1/f - u move
together, whatever kernel was used and whatever sharpening came after. In a picture as it was taken they have nothing to do with each
other. So the agreement (coherence) of both is measured for every possible 1/f, over rows and columns of the busiest tiles; only
pairs close to the middle 1/(2f) count, where both are strong. Blur alone makes no such agreement, so deliberate softness stays silent,
and so does what is too smooth to tell. Frequencies are cycles a pixel; the answer is a share: 0.5 is a picture blown up to double.

JPEG's blocks of eight pixels make agreement of their own at multiples of 1/8; a factor that falls on one of them (2, 4, 8)
must stand out clearly from the others. Repeated pixels (nearest neighbour) are counted directly. Tolerance: the factor within 2 %
where it is found; textures that repeat evenly are told apart by their lack of agreement beside their own lines. Source: periodic
correlation of interpolated signals (Gallagher 2005, Mahdian and Saic 2008); the limits here were set on photographs and noise.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.float32]

#: Length of the transforms; tiles are at most this long.
LENGTH = 512
#: Tiles shorter than this on either side tell nothing.
LEAST_PX = 64
#: Factors looked for: 1.47 to 11.
_FIRST, _LAST = round(LENGTH / 11.0), round(LENGTH / 1.47)
#: Pairs from here to the middle, in parts of their sum.
_BAND_FROM = 0.42
#: Amplitudes below this many gray levels (of 255) are noise of the number format.
_NOISE_LEVELS = 1.0
_BINS_OF_EIGHTH = LENGTH // 8
#: Frequencies whose products with their mirrors are made at once.
_BLOCKS = [(start, start + 32) for start in range(0, LENGTH // 2, 32)]
#: Agreement at which a factor is believed, on its own and beside that of JPEG's blocks.
_AGREES_FROM = 0.28
_AGREES_ON_BLOCKS_FROM = 0.50
#: Factors over 3.5 agree nearly wholly; rows of tiles and windows repeat as widely and agree in part.
_WIDE_FROM, _AGREES_WIDE_FROM = LENGTH / 3.5, 0.55
_ABOVE_BLOCKS = 2.4
_NO_BLOCKS_BELOW = 0.25
_TEXTURE_ON_BLOCKS = {2: 0.25, 3: 0.25, 4: 0.15}
_EIGHTHS = {number: number * _BINS_OF_EIGHTH - _FIRST for number in range(1, 6)}
#: The places of sums within two steps of one of JPEG's blocks.
_NEAR_EIGHTHS = np.array([place + by for place in _EIGHTHS.values() for by in range(-2, 3)])
_ABOVE_NEIGHBOURS = 3.0
#: Share of the pairs' strength above the noise.
_LEAST_TEXTURE = 0.10
_AXIS_AGREES_FROM = 0.18
#: An axis weaker than this has too little texture to object.
_AXIS_TEXTURE = 0.08
#: Between steps of repeated pixels and real ones lies at least this much, as a logarithm.
_STEP_GAP = 0.5
_ABOVE_OTHERS = 2.0
#: After so many tiles it is asked whether more of them could tell anything.
_FIRST_TILES = 2
_SURE_REPEATED = 0.95


@dataclass(frozen=True)
class Agreement:
    """Agreement of mirrored frequencies by their sum, in steps of 1/512 cycle a pixel; ``weight`` is how much texture there was."""

    numerator: NDArray[np.float64]
    denominator: NDArray[np.float64]
    pairs: NDArray[np.float64]

    @property
    def coherence(self) -> NDArray[np.float64]:
        return self.numerator / np.maximum(self.denominator, 1e-9)

    @property
    def texture(self) -> NDArray[np.float64]:
        return self.denominator / np.maximum(self.pairs, 1.0)

    def __add__(self, other: Agreement) -> Agreement:
        return Agreement(
            self.numerator + other.numerator, self.denominator + other.denominator, self.pairs + other.pairs
        )


def true_resolution(tiles: Sequence[Gray]) -> tuple[float, float] | None:
    """The share of the stated resolution that is real, below 1, and how sure that is (0 to 1); ``None``: as stated, or no telling.

    ``tiles`` are gray, 0 to 255, up to 512 pixels on a side, as stored (not resized); those that are not needed are not asked for.
    """
    repeated = repeated_factor(_usable(tiles))
    x = y = None
    for number, tile in enumerate(_usable(tiles), 1):
        along, down = agreement(tile), agreement(tile.T)
        x, y = along if x is None else x + along, down if y is None else y + down
        if number == _FIRST_TILES and repeated is None and not _may_agree(x + y):
            return None
    if x is None or y is None:
        return None
    if repeated is not None and _agrees_best(x + y, repeated):
        return 1.0 / repeated, _SURE_REPEATED
    peak = _peak(x, y)
    return None if peak is None else (1.0 / peak[0], peak[1])


def _usable(tiles: Iterable[Gray]) -> Iterator[Gray]:
    return (tile for tile in tiles if min(tile.shape) >= LEAST_PX)


def _may_agree(both: Agreement) -> bool:
    """Whether the first tiles leave any hope: most pictures are told by them as what they are."""
    coherence = both.coherence
    hopeful = np.maximum(0.5 * _AGREES_FROM, 1.5 * _running_median(coherence, 24))
    # JPEG's blocks agree a little in any picture that was packed.
    hopeful[_NEAR_EIGHTHS] = np.maximum(hopeful[_NEAR_EIGHTHS], 0.6 * _AGREES_ON_BLOCKS_FROM)
    return bool((coherence > hopeful).any())


def _agrees_best(both: Agreement, factor: float) -> bool:
    """Whether no other factor agrees clearly better (pixels that were repeated and mixed are told by the agreement alone)."""
    total = round(LENGTH / factor)
    # Of pixels that were only repeated more than twice the mirror at the sampling limit may agree better than the sum itself.
    sums = (total, max(total, LENGTH - total))
    near = [both.coherence[max(0, each - _FIRST - 2) : each - _FIRST + 3] for each in sums if _FIRST <= each <= _LAST]
    return bool(near) and max(float(part.max()) for part in near) >= 0.8 * float(both.coherence.max())


def agreement(tile: Gray) -> Agreement:
    """The agreement along the rows of one tile."""
    # Neighbouring rows of a blown-up picture say the same: every second one is enough.
    rows = tile[::2].astype(np.float32)[:, :LENGTH]
    window = np.hanning(rows.shape[1] + 2)[1:-1].astype(np.float32)
    rows = (rows - rows.mean(axis=1, keepdims=True)) * window
    spectrum = np.fft.rfft(rows, LENGTH, axis=1).astype(np.complex64)
    power = (spectrum.real**2 + spectrum.imag**2).mean(axis=0)
    noise = _NOISE_LEVELS**2 * float((window**2).sum())
    even = np.ascontiguousarray((spectrum / np.sqrt(power + noise)).T)
    strength = np.abs(even)
    pairs = _pairs()
    together, strongest = pairs.products_of(even), pairs.products_of(strength)
    numerator = np.hypot(pairs.summed(together.real), pairs.summed(together.imag))
    return Agreement(numerator, pairs.summed(strongest), pairs.counts * rows.shape[0])


@dataclass(frozen=True)
class _Pairs:
    """The pairs of a frequency and its mirror that count, all sums one after another."""

    lower: NDArray[np.intp]
    upper: NDArray[np.intp]
    #: The place of each pair's sum, and how many pairs each sum has.
    places: NDArray[np.intp]
    counts: NDArray[np.int64]

    def products_of(self, lines: NDArray[Any]) -> NDArray[Any]:
        """Of each pair the product of its two lines, summed over the rows of the tile.

        A few large products of matrices are quicker than one small product a pair.
        """
        found = np.empty(len(self.lower), lines.dtype)
        for start, stop in _BLOCKS:
            low, high = np.searchsorted(self.lower, (start, stop))
            if low < high:
                upper = self.upper[low:high]
                first, last = int(upper.min()), int(upper.max()) + 1
                found[low:high] = (lines[start:stop] @ lines[first:last].T)[self.lower[low:high] - start, upper - first]
        return found

    def summed(self, products: NDArray[Any]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(self.places, products, len(self.counts)), dtype=np.float64)


@cache
def _pairs() -> _Pairs:
    sums = np.arange(_FIRST, _LAST + 1)
    low, high = np.maximum((sums * _BAND_FROM).astype(np.intp), sums - LENGTH // 2 + 1), sums // 2
    lower = np.arange(LENGTH // 2)[:, None]
    # Ordered by the lower frequency, so that those of a block lie together.
    of_lower, places = np.nonzero((lower >= low) & (lower < high))
    return _Pairs(of_lower, sums[places] - of_lower, places, np.bincount(places, minlength=len(sums)))


def _peak(x: Agreement, y: Agreement) -> tuple[float, float] | None:
    """The largest believable factor and its confidence."""
    both = x + y
    coherence, texture = both.coherence, both.texture
    neighbours = _running_median(coherence, 24)
    candidates = []
    for index in range(1, len(coherence) - 1):
        value = coherence[index]
        if value < _AGREES_FROM or value < coherence[index - 1] or value < coherence[index + 1]:
            continue
        if value < _ABOVE_NEIGHBOURS * neighbours[index] or texture[index] < _LEAST_TEXTURE:
            continue
        if not _axes_agree(x, y, index) or (index + _FIRST < _WIDE_FROM and value < _AGREES_WIDE_FROM):
            continue
        if not _stands_out_from_blocks(coherence, texture, index) or _one_of_many(coherence, neighbours, index):
            continue
        candidates.append(index)
    if not candidates:
        return None
    strongest = max(coherence[index] for index in candidates)
    # Twice and three times the sum agree as well; the smallest is the factor itself.
    index = next(index for index in candidates if coherence[index] >= 0.6 * strongest)
    near = slice(max(0, index - 2), index + 3)
    weights = coherence[near] ** 2
    position = float((np.arange(len(coherence))[near] * weights).sum() / weights.sum()) + _FIRST
    confidence = min(1.0, (coherence[index] - _AGREES_FROM) / (1.0 - _AGREES_FROM) * 0.5 + 0.5)
    return LENGTH / position, float(confidence)


def _one_of_many(coherence: NDArray[np.float64], neighbours: NDArray[np.float64], index: int) -> bool:
    """Whether sums that do not belong to this factor agree as well: something in the picture repeats (tiles, windows, squares)."""
    level = max(0.6 * coherence[index], 0.2)
    high = np.flatnonzero((coherence >= level) & (coherence > _ABOVE_OTHERS * neighbours))
    sums = high + _FIRST
    others = 0
    last = -10
    for total in sums.tolist():
        own = _is_multiple(total, index + _FIRST)
        block = abs(total - round(total / _BINS_OF_EIGHTH) * _BINS_OF_EIGHTH) <= 2
        if not own and not block:
            others += total - last > 4
            last = total
    return others >= 2


def _is_multiple(total: int, single: int) -> bool:
    """Whether a sum is one of a factor's own: a multiple of it, or the mirror of one of the first at the sampling limit."""
    turns = total / single
    if round(turns) >= 1 and abs(turns - round(turns)) * single <= 3.5:
        return True
    folded = (LENGTH - single, abs(LENGTH - 2 * single))
    return any(abs(total - sum_) <= 3.5 for sum_ in folded)


def _axes_agree(x: Agreement, y: Agreement, index: int) -> bool:
    """Whether rows and columns say the same, as far as both have texture."""
    near = slice(max(0, index - 2), index + 3)
    values = [float(axis.coherence[near].max()) for axis in (x, y) if axis.texture[index] >= _AXIS_TEXTURE]
    return not values or min(values) >= max(_AXIS_AGREES_FROM, 0.45 * max(values))


def _stands_out_from_blocks(coherence: NDArray[np.float64], texture: NDArray[np.float64], index: int) -> bool:
    """Whether a sum that may be one of JPEG's blocks agrees far better than blocks alone make it."""
    total = index + _FIRST
    eighth = round(total / _BINS_OF_EIGHTH)
    if abs(total - eighth * _BINS_OF_EIGHTH) > 2:
        return True
    value = coherence[index]
    if eighth == 5:
        # Beyond it lies nothing to tell it from what packing leaves; 1.6 is little enlarged.
        return False
    if eighth <= 1:
        # Every multiple is one of this factor's own: only agreement that is all but whole is believed.
        return bool(value >= 0.8 and texture[index] >= 0.4)
    at = {number: float(coherence[place - 2 : place + 3].max()) for number, place in _EIGHTHS.items()}
    others = max(at[number] for number in range(1, eighth))
    # A picture of blocks agrees at those multiples, too, that belong to no factor in question.
    if max(at[number] for number in (3, 5) if number != eighth) < _NO_BLOCKS_BELOW:
        return bool(value >= max(_AGREES_ON_BLOCKS_FROM, 1.5 * others))
    # What packing leaves of fine detail agrees more the finer it is; what was enlarged does so at its own sum at once.
    finer = max((at[number] for number in range(eighth + 1, 6) if number % eighth), default=0.0)
    if value < finer:
        return False
    return bool(value >= max(0.6, _ABOVE_BLOCKS * others) and texture[index] >= _TEXTURE_ON_BLOCKS[eighth])


def _running_median(values: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    padded = np.pad(values, reach, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    return np.asarray(np.median(windows, axis=1))


def repeated_factor(tiles: Iterable[Gray]) -> float | None:
    """The factor of a picture whose pixels were only repeated, from the share of neighbours that are alike; else ``None``."""
    factors = []
    for tile in tiles:
        for turned in (tile, tile.T):
            share = _alike_share(turned)
            if share is None:
                return None
            factors.append(1.0 / (1.0 - share))
    if not factors:
        return None
    middle = float(np.median(factors))
    return middle if max(factors) < 1.15 * min(factors) else None


def _alike_share(tile: Gray) -> float | None:
    """The share of neighbouring columns that are alike, where the steps fall into two kinds, evenly spread."""
    steps = np.log(np.abs(np.diff(tile[::4], axis=1)).mean(axis=0) + 0.02)
    ordered = np.sort(steps)
    first, last = round(0.2 * len(ordered)), round(0.93 * len(ordered))
    gaps = np.diff(ordered[first : last + 1])
    if not len(gaps):
        return None
    place = int(np.argmax(gaps))
    if gaps[place] < _STEP_GAP:
        return None
    large = steps > (ordered[first + place] + ordered[first + place + 1]) / 2.0
    return 1.0 - float(large.mean()) if _evenly_spread(large) else None


def _evenly_spread(steps: NDArray[np.bool_]) -> bool:
    """Whether steps come at distances that differ by no more than a pixel."""
    gaps = np.diff(np.flatnonzero(steps))
    if len(gaps) < 8:
        return False
    mean = float(gaps.mean())
    return float(((gaps >= math.floor(mean)) & (gaps <= math.ceil(mean))).mean()) > 0.96
