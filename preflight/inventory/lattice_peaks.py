"""Sharp peaks in the spectrum of a picture's tiles, each with its strength and its place between the bins.

Power is summed over all tiles; a peak is what stands far above the median around it. Along the axes, where level and upright edges lie, the
median along them counts. Places are cycles a pixel, columns then rows; how exactly they are told is said in ``halftone``. Peaks on the grid of
JPEG's blocks (multiples of 1/8 on the axes) are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float32]
Power = NDArray[np.float32]

LENGTH = 512
#: Lattices coarser than this are not looked for: a ruling of 50 to the inch at 1200 pixels an inch.
LOWEST = 0.042
#: How far a peak must stand above what is around it, and its partner square to it.
_PEAK_ABOVE = 40.0
_PARTNER_ABOVE = 12.0
_MOST_PEAKS = 60
_BLOCK = 8


@dataclass(frozen=True)
class Spectrum:
    """Tiles of one plane as spectra, their sum, and how far each place stands above its surroundings."""

    tiles: tuple[Plane, ...]
    transforms: tuple[NDArray[np.complex64], ...]
    powers: tuple[Power, ...]
    total: Power
    above: Power


def spectrum_of(tiles: list[Plane]) -> Spectrum:
    transforms, powers = [], []
    for tile in tiles:
        part = tile[:LENGTH, :LENGTH].astype(np.float32)
        rows, columns = (np.hanning(size + 2)[1:-1].astype(np.float32) for size in part.shape)
        part = (part - part.mean()) * rows[:, None] * columns[None, :]
        transform = np.fft.rfft2(part, (LENGTH, LENGTH)).astype(np.complex64)
        power = transform.real**2 + transform.imag**2
        transforms.append(transform)
        powers.append(power / max(1.0, float((part**2).sum())))
    total = np.sum(powers, axis=0)
    return Spectrum(tuple(tiles), tuple(transforms), tuple(powers), total, total / _surroundings(total))


def _surroundings(power: Power) -> Power:
    """The median around each place; along the axes, where ridges of level and upright edges lie, the median along them."""
    columns = LENGTH // 2
    blocks = power[:, :columns].reshape(LENGTH // _BLOCK, _BLOCK, columns // _BLOCK, _BLOCK).swapaxes(1, 2)
    ordered = np.sort(blocks.reshape(*blocks.shape[:2], -1), axis=2)
    medians = ordered[..., _BLOCK**2 // 2 - 1 : _BLOCK**2 // 2 + 1].mean(axis=2)
    around = np.empty_like(power)
    around[:, :columns] = medians.repeat(_BLOCK, axis=0).repeat(_BLOCK, axis=1)
    around[:, columns] = around[:, columns - 1]
    for row in (-2, -1, 0, 1, 2):
        around[row] = np.maximum(around[row], _along(power[row]))
    for column in (0, 1, 2):
        around[:, column] = np.maximum(around[:, column], _along(power[:, column]))
    return np.maximum(around, 1e-12 * float(power.max()) + 1e-20)


def _along(line: Power) -> Power:
    padded = np.pad(line, 16, mode="wrap")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 33)
    return np.asarray(np.sort(windows, axis=1)[:, 16], dtype=np.float32)


def peaks_of(spectrum: Spectrum) -> list[tuple[float, float, float]]:
    """Strength and place (cycles a pixel, columns then rows) of the sharp peaks, strongest first."""
    power, above = spectrum.total, spectrum.above
    rows, columns = np.nonzero((above > _PEAK_ABOVE) & _is_highest(power))
    if len(rows) > 4000:
        order = np.argsort(-power[rows, columns])[:4000]
        rows, columns = rows[order], columns[order]
    places = []
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        y = row if row <= LENGTH // 2 else row - LENGTH
        if math.hypot(column, y) < LOWEST * LENGTH or (column == 0 and y < 0):
            continue
        strength, x, y_exact = _exact(power, row, column)
        if not on_eighths(x, y_exact):
            places.append((strength, x, y_exact))
    places.sort(reverse=True)
    return places[:_MOST_PEAKS]


def _is_highest(power: Power) -> NDArray[np.bool_]:
    """Where no neighbour is stronger."""
    padded = np.empty((LENGTH + 2, LENGTH // 2 + 3), power.dtype)
    padded[1:-1, 1:-1] = power
    # Beyond the first and the last column the spectrum goes on turned about its middle.
    padded[1:-1, 0] = power[-np.arange(LENGTH) % LENGTH, 1]
    padded[1:-1, -1] = power[-np.arange(LENGTH) % LENGTH, -2]
    padded[0], padded[-1] = padded[-2], padded[1]
    across = np.maximum(np.maximum(padded[:, :-2], padded[:, 1:-1]), padded[:, 2:])
    return np.asarray(power >= np.maximum(np.maximum(across[:-2], across[1:-1]), across[2:]))


def _window(power: Power, row: int, column: int, reach: int = 1) -> Power:
    rows = np.arange(row - reach, row + reach + 1) % LENGTH
    columns = np.arange(column - reach, column + reach + 1)
    rows_left = (-rows) % LENGTH
    inside = (columns >= 0) & (columns <= LENGTH // 2)
    mirrored = np.where(columns < 0, -columns, np.where(columns > LENGTH // 2, LENGTH - columns, columns))
    return np.where(inside[None, :], power[rows[:, None], mirrored], power[rows_left[:, None], mirrored])


def _exact(power: Power, row: int, column: int) -> tuple[float, float, float]:
    """The power of a peak and its place between the bins (its centre of gravity)."""
    near = _window(power, row, column)
    weights = np.sqrt(np.maximum(near, 0.0))
    weights = np.maximum(weights - weights.min(), 1e-12)
    steps = np.arange(-1, 2)
    total = float(weights.sum())
    dy = float((weights.sum(axis=1) * steps).sum()) / total
    dx = float((weights.sum(axis=0) * steps).sum()) / total
    y = row if row <= LENGTH // 2 else row - LENGTH
    return float(near.sum()), (column + 1.35 * dx) / LENGTH, (y + 1.35 * dy) / LENGTH


def on_eighths(x: float, y: float) -> bool:
    """The grid of JPEG's blocks: multiples of an eighth on the axes and beside."""
    off = [abs(value * 8.0 - round(value * 8.0)) * LENGTH / 8.0 for value in (x, y)]
    return max(off) < 0.8 and min(abs(x), abs(y)) < 1.5 / LENGTH


def peak_near(spectrum: Spectrum, x: float, y: float) -> tuple[float, float, float] | None:
    x, y = x - round(x), y - round(y)
    if x < 0.0:
        found = peak_near(spectrum, -x, -y) if x < -0.5 / LENGTH else peak_near(spectrum, 0.0, -y)
        return None if found is None else (found[0], -found[1], -found[2])
    row, column = round(y * LENGTH) % LENGTH, min(round(x * LENGTH), LENGTH // 2)
    best = None
    for dr in range(-2, 3):
        for dc in range(-2, 3):
            r, c = (row + dr) % LENGTH, column + dc
            if 0 <= c <= LENGTH // 2 and (best is None or spectrum.total[r, c] > spectrum.total[best]):
                best = (r, c)
    if best is None or spectrum.above[best] < _PARTNER_ABOVE:
        return None
    return _exact(spectrum.total, *best)


def sharpness(power: Power, x: float, y: float) -> float:
    """How much of a peak lies within the width that the window gives it: 1 for a lattice that is the same all over."""
    if x < 0.0:
        x, y = -x, -y
    row, column = round(y * LENGTH) % LENGTH, min(round(x * LENGTH), LENGTH // 2)
    near, wide = _window(power, row, column, 2), _window(power, row, column, 6)
    ground = float(np.median(wide))
    inner, outer = float((near - ground).sum()), float(np.maximum(wide - ground, 0.0).sum())
    share = inner / outer if outer > 0.0 else 0.0
    return min(1.0, max(0.0, (share - 0.35) / 0.4))


def presence(spectrum: Spectrum, places: tuple[tuple[float, float], ...]) -> float:
    """The share of tiles in which the lattice stands out."""
    seen = 0
    for power in spectrum.powers:
        stands = 0
        for place in places:
            x, y = place if place[0] >= 0.0 else (-place[0], -place[1])
            row, column = round(y * LENGTH) % LENGTH, min(round(x * LENGTH), LENGTH // 2)
            ground = float(np.median(_window(power, row, column, 6)))
            stands += float(_window(power, row, column).max()) > 10.0 * ground
        seen += stands > 0
    share = seen / len(spectrum.powers)
    return min(1.0, share / 0.75)
