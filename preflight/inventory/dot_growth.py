"""Whether the cells of a lattice are dots that grow with the tone: what a screen does, and no squared paper, weave or board.

In light tones a cell is a small dark dot, in dark ones a small light hole in its corners. Beside the lattice's own waves stands the wave along its
diagonal; held against theirs it points with them where the dots are small, wanes as they grow, and turns round where they have become
holes. A pattern under changing light keeps its shape, so the share of that wave stays; and its contrast rises with the light, where that of dots
wanes towards bare paper. Told by where in the cell the waves stand, so blur changes nothing of it, and level lattices are told as
well as turned ones. Source: Fourier series of a dot that fills a share of a square cell.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preflight.inventory.lattice_peaks import LENGTH, Plane

#: Half the side of the piece of spectrum around each wave: so wide that a tone two dots across is told by itself.
_MOST_REACH = 48
_LEAST_REACH = 6
#: At the rim of a piece its two ends meet.
_RIM = 3
_TONES = 6
_LEAST_PLACES = 8
_LEAST_TONES = 4
#: Gray levels between the lightest and the darkest tone, under which there is no growth to see.
_LEAST_RANGE = 24.0
#: The lattice's waves stand at one place in the cell in every tone.
_IN_PLACE = 0.8
#: How far the share of the diagonal wave falls, how much of it stands where dots are smallest, and how much they fade there.
_FALLS_BY = 0.2
_SMALL_DOT = 0.2
_FADES_TO = 0.8
#: What noise may add to a share from one tone to the next.
_SLACK = 0.04


@dataclass(frozen=True)
class _Waves:
    """At each place of a tile: its tone, the lattice's own waves (along where they stand on the whole), and the diagonal ones beside them."""

    tone: NDArray[np.float64]
    own: NDArray[np.float64]
    own_length: NDArray[np.float64]
    diagonal: NDArray[np.float64]


def dots_grow(tiles: Sequence[Plane], x: float, y: float) -> bool:
    """Whether the cells of the lattice with this direction (cycles a pixel) grow with the tone; False where that cannot be told."""
    seen = [waves for waves in (_waves(tile[:LENGTH, :LENGTH], x, y) for tile in tiles) if waves is not None]
    if not seen:
        return False
    tone, own, own_length, diagonal = (
        np.concatenate([getattr(waves, name) for waves in seen]) for name in ("tone", "own", "own_length", "diagonal")
    )
    low, high = (float(value) for value in np.quantile(tone, (0.005, 0.995)))
    if high - low < _LEAST_RANGE:
        return False
    steps = np.clip((tone - low) * (_TONES / (high - low)), 0, _TONES - 1).astype(int)
    shares, strengths = [], []
    for step in range(_TONES):
        within = steps == step
        count = int(within.sum())
        if count < _LEAST_PLACES:
            continue
        strength = float(own[within].sum())
        if strength <= _IN_PLACE * float(own_length[within].sum()):
            return False
        shares.append(float(diagonal[within].sum()) / strength)
        strengths.append(strength / count)
    if len(shares) < _LEAST_TONES or shares[0] - shares[-1] < _FALLS_BY:
        return False
    if any(later > earlier + _SLACK for earlier, later in pairwise(shares)):
        return False
    faint = _FADES_TO * max(strengths)
    dots_on_low_values = shares[-1] <= -_SMALL_DOT and strengths[-1] <= faint
    # Where a value is ink the small dots stand at the low end. Crossed lines look like holes: they never turn round.
    dots_on_high_values = shares[0] >= _SMALL_DOT and strengths[0] <= faint and shares[-1] < 0.0
    return dots_on_low_values or dots_on_high_values


def _waves(part: Plane, x: float, y: float) -> _Waves | None:
    rows, columns = part.shape
    side = min(rows, columns)
    farthest = max(abs(x), abs(y))
    reach = min(_MOST_REACH, int(0.5 * math.hypot(x, y) * side), int((0.5 - farthest) * side))
    if reach < _LEAST_REACH:
        return None
    transform = np.fft.fft2(part.astype(np.float32))
    along, across = (round(y * rows), round(x * columns)), (round(x * rows), round(-y * columns))
    first = _Steady.of(piece(transform, *along, reach))
    second = _Steady.of(piece(transform, *across, reach))
    diagonal = np.zeros((2 * reach, 2 * reach))
    for sign in (1, -1):
        wave = piece(transform, along[0] + sign * across[0], along[1] + sign * across[1], reach)
        diagonal += _turned(
            wave,
            first.a_column + sign * second.a_column,
            first.a_row + sign * second.a_row,
            first.start + sign * second.start,
        ).real
    inner = slice(_RIM, -_RIM)
    return _Waves(
        piece(transform, 0, 0, reach).real[inner, inner].ravel(),
        (first.wave.real + second.wave.real)[inner, inner].ravel(),
        (np.abs(first.wave) + np.abs(second.wave))[inner, inner].ravel(),
        diagonal[inner, inner].ravel(),
    )


@dataclass(frozen=True)
class _Steady:
    """A wave with its steady turning taken out, so that it points along the real axis where it stands as on the whole."""

    wave: NDArray[np.complex128]
    a_column: float
    a_row: float
    start: float

    @classmethod
    def of(cls, wave: NDArray[np.complex128]) -> _Steady:
        a_column = cmath.phase(complex((wave[:, 1:] * wave[:, :-1].conj()).sum()))
        a_row = cmath.phase(complex((wave[1:] * wave[:-1].conj()).sum()))
        still = _turned(wave, a_column, a_row, 0.0)
        start = cmath.phase(complex(still.sum()))
        return cls(still * cmath.exp(-1j * start), a_column, a_row, start)


def _turned(wave: NDArray[np.complex128], a_column: float, a_row: float, start: float) -> NDArray[np.complex128]:
    rows, columns = np.arange(wave.shape[0])[:, None], np.arange(wave.shape[1])[None, :]
    return np.asarray(wave * np.exp(-1j * (a_row * rows + a_column * columns + start)))


def piece(transform: NDArray[np.complexfloating], row: int, column: int, reach: int) -> NDArray[np.complex128]:
    """The picture of one small piece of the spectrum, demodulated: a coarse grid of values."""
    rows, columns = transform.shape
    index = np.arange(-reach, reach)
    taper = np.hanning(2 * reach + 1)[:-1]
    part = transform[np.ix_((index + row) % rows, (index + column) % columns)] * taper[:, None] * taper[None, :]
    return np.asarray(np.fft.ifft2(np.fft.ifftshift(part)) * (part.size / transform.size))
