"""Finds the halftone of an original that was printed before, with its ruling and angle: a second screen on it makes moire.

A halftone is a square lattice of dots, the same all over the picture: in the spectrum of every tile stand sharp peaks at two
directions that are square to each other and of equal length. Weaves, fences, roof tiles and grids have peaks, too, but
broader ones, in parts of the picture, not square, or level and upright; and their contrast goes with the light, while dots are weakest
in the lightest and the darkest tones. Each of these lowers the confidence. Several such lattices at different angles are the rosette of
process inks, which nothing else makes.

Rulings are cycles a pixel, angles degrees from the rows towards the columns (down), 0 to 90. Tolerance: ruling 1 %, angle 0.5
degrees, where dots are two pixels apart or more. Source: AM screening geometry (any handbook); confidence limits set on drawn screens, weaves
and photographs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float32]
Power = NDArray[np.float32]

LENGTH = 512
LEAST_PX = 96
#: Lattices coarser than this are not looked for: a ruling of 50 to the inch at 1200 pixels an inch.
_LOWEST = 0.042
#: How far a peak must stand above what is around it, and its partner square to it.
_PEAK_ABOVE = 40.0
_PARTNER_ABOVE = 12.0
_MOST_PEAKS = 60
#: A halftone is all over the picture: where so many tiles have no lattice, the others are not looked at.
_FIRST_TILES = 2
_BLOCK = 8
#: Half the side of the piece of spectrum that tells how strong the dots are where.
_REACH = 12
#: Weaker than this many gray levels of 255 dots do no harm, and noise makes such peaks.
_LEAST_LEVELS = 0.7
#: Inks of one print have about the same ruling.
_RULING_WITHIN = 0.15
#: Weaker beside the strongest are only echoes of it.
_WEAKER_THAN_FIRST = 0.04
#: The peaks of a lattice beside those of its diagonals, both of them together.
_OWN_PEAKS = 0.25
#: The sums of its directions that a lattice may be known by, and how sure it can be where JPEG's blocks lie.
_SUMS = ((1, 1), (2, 1), (1, 2), (2, -1), (1, -2))
_ON_BLOCKS = 0.5


@dataclass(frozen=True)
class Screen:
    """One lattice of dots: its ruling and angle, and how sure it is a halftone (0 to 1). ``x``, ``y``: one of its two directions."""

    frequency: float
    angle_deg: float
    confidence: float
    x: float
    y: float
    strength: float = 0.0


@dataclass(frozen=True)
class _Spectrum:
    """Tiles of one plane as spectra, their sum, and how far each place stands above its surroundings."""

    tiles: tuple[Plane, ...]
    transforms: tuple[NDArray[np.complex64], ...]
    powers: tuple[Power, ...]
    total: Power
    above: Power


def halftone(tiles: Sequence[Plane]) -> list[Screen]:
    """Halftones in the tiles, strongest first; empty where there is none.

    A tile is rows x columns (gray, or one ink) or rows x columns x planes, 0 to 255, as stored, the same size for all.
    """
    tiles = [tile for tile in tiles if min(tile.shape[:2]) >= LEAST_PX]
    if not tiles:
        return []
    count = tiles[0].shape[2] if tiles[0].ndim == 3 else 1
    found: list[Screen] = []
    for index in range(count):
        for screen in _in_plane([tile[..., index] if tile.ndim == 3 else tile for tile in tiles]):
            _add(found, screen)
    return _as_print(found)


def _add(found: list[Screen], screen: Screen) -> None:
    """Adds a lattice, or keeps the stronger of two that are the same."""
    for place, other in enumerate(found):
        if _same(screen, other):
            if screen.strength > other.strength:
                found[place] = screen
            return
    found.append(screen)


def _same(one: Screen, other: Screen) -> bool:
    turn = abs(one.angle_deg - other.angle_deg) % 90.0
    return abs(one.frequency / other.frequency - 1.0) < 0.04 and min(turn, 90.0 - turn) < 4.0


def _as_print(found: list[Screen]) -> list[Screen]:
    """Strongest first; lattices of other rulings dropped; several at different angles make each other sure."""
    found.sort(key=lambda screen: (-round(screen.confidence, 1), -screen.strength))
    if not found:
        return []
    first = found[0]
    alike = [screen for screen in found if abs(screen.frequency / first.frequency - 1.0) < _RULING_WITHIN]
    sure = sum(screen.confidence >= 0.35 for screen in alike)
    if sure >= 2:
        alike = [replace(screen, confidence=min(1.0, 1.35 * screen.confidence)) for screen in alike]
    return alike


def _in_plane(tiles: list[Plane]) -> list[Screen]:
    if len(tiles) > _FIRST_TILES:
        first = _spectrum(tiles[:_FIRST_TILES])
        if not any(_lattice(first, x, y, strength) for strength, x, y in _peaks(first)):
            return []
    spectrum = _spectrum(tiles)
    peaks = _peaks(spectrum)
    screens: list[Screen] = []
    for strength, x, y in peaks:
        if any(_on_lattice(x, y, other) for other in screens):
            continue
        screen = _lattice(spectrum, x, y, strength)
        if screen is None:
            continue
        screen = _coarser(spectrum, screen)
        if screens and screen.strength < _WEAKER_THAN_FIRST * screens[0].strength:
            continue
        if screens and abs(screen.frequency / screens[0].frequency - 1.0) > _RULING_WITHIN:
            continue  # sums and differences of two screens
        screens.append(screen)
        if len(screens) == 4:
            break
    return screens


def _spectrum(tiles: list[Plane]) -> _Spectrum:
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
    return _Spectrum(tuple(tiles), tuple(transforms), tuple(powers), total, total / _surroundings(total))


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


def _peaks(spectrum: _Spectrum) -> list[tuple[float, float, float]]:
    """Strength and place (cycles a pixel, columns then rows) of the sharp peaks, strongest first."""
    power, above = spectrum.total, spectrum.above
    rows, columns = np.nonzero((above > _PEAK_ABOVE) & _is_highest(power))
    if len(rows) > 4000:
        order = np.argsort(-power[rows, columns])[:4000]
        rows, columns = rows[order], columns[order]
    places = []
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        y = row if row <= LENGTH // 2 else row - LENGTH
        if math.hypot(column, y) < _LOWEST * LENGTH or (column == 0 and y < 0):
            continue
        strength, x, y_exact = _exact(power, row, column)
        if not _on_eighths(x, y_exact):
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


def _on_eighths(x: float, y: float) -> bool:
    """The grid of JPEG's blocks: multiples of an eighth on the axes and beside."""
    off = [abs(value * 8.0 - round(value * 8.0)) * LENGTH / 8.0 for value in (x, y)]
    return max(off) < 0.8 and min(abs(x), abs(y)) < 1.5 / LENGTH


def _on_lattice(x: float, y: float, screen: Screen) -> bool:
    """Whether a place is a sum of a screen's two directions (wrapped at the sampling limit)."""
    for m in range(-4, 5):
        for n in range(-4, 5):
            dx = x - (m * screen.x - n * screen.y)
            dy = y - (m * screen.y + n * screen.x)
            if math.hypot(dx - round(dx), dy - round(dy)) < 2.5 / LENGTH:
                return True
    return False


def _lattice(spectrum: _Spectrum, x: float, y: float, strength: float) -> Screen | None:
    """The square lattice that a peak is one direction of, if its partner is there."""
    partner = _peak_near(spectrum, -y, x)
    if partner is None:
        return None
    other_strength, px, py = partner
    frequency, other = math.hypot(x, y), math.hypot(px, py)
    off = math.hypot(px + y, py - x)
    slack = max(0.5 / LENGTH, 0.006 * frequency)
    if off > 2.0 * slack:
        return None
    square = 1.0 if off <= slack else 0.6
    balance = min(strength, other_strength) / max(strength, other_strength)
    if balance < 0.02:
        return None
    # Both directions tell one lattice.
    mean_x, mean_y = (x + py) / 2.0, (y - px) / 2.0
    levels, tone = _dots(spectrum, mean_x, mean_y)
    if levels < _LEAST_LEVELS:
        return None
    places = ((x, y), (px, py))
    sharp = min(_sharpness(spectrum.total, *place) for place in places)
    presence = _presence(spectrum, places)
    angle = math.degrees(math.atan2(mean_y, mean_x)) % 90.0
    level = min(angle, 90.0 - angle) < 1.0
    confidence = square * sharp * presence * min(1.0, 0.55 + balance**0.5)
    confidence *= {True: 0.8, None: 0.5, False: 0.4}[tone] if level else {True: 1.0, None: 0.85, False: 0.5}[tone]
    if tone is None and _drawn_to_pixels(mean_x, mean_y):
        confidence *= 0.65
    return Screen((frequency + other) / 2.0, angle, confidence, mean_x, mean_y, strength + other_strength)


def _coarser(spectrum: _Spectrum, screen: Screen) -> Screen:
    """The lattice itself, where only sums of its directions were seen: of level dots whose own peaks pass for JPEG's blocks."""
    for along, across in _SUMS:
        parts = along**2 + across**2
        x, y = (along * screen.x + across * screen.y) / parts, (along * screen.y - across * screen.x) / parts
        if math.hypot(x, y) < _LOWEST or not (_on_eighths(x, y) and _on_eighths(-y, x)):
            continue
        own = [_peak_near(spectrum, *place) for place in ((x, y), (-y, x))]
        if all(peak is not None and peak[0] >= _OWN_PEAKS * screen.strength for peak in own):
            angle = math.degrees(math.atan2(y, x)) % 90.0
            return replace(
                screen,
                frequency=math.hypot(x, y),
                angle_deg=angle,
                confidence=min(screen.confidence, _ON_BLOCKS),
                x=x,
                y=y,
            )
    return screen


def _drawn_to_pixels(x: float, y: float) -> bool:
    """Whether the lattice repeats after whole pixels both ways, as drawn squares do and scanned dots hardly ever."""
    periods = [1.0 / abs(value) for value in (x, y) if abs(value) > 1.0 / LENGTH]
    return all(abs(period / round(period) - 1.0) < 0.006 for period in periods)


def _peak_near(spectrum: _Spectrum, x: float, y: float) -> tuple[float, float, float] | None:
    x, y = x - round(x), y - round(y)
    if x < 0.0:
        found = _peak_near(spectrum, -x, -y) if x < -0.5 / LENGTH else _peak_near(spectrum, 0.0, -y)
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


def _sharpness(power: Power, x: float, y: float) -> float:
    """How much of a peak lies within the width that the window gives it: 1 for a lattice that is the same all over."""
    if x < 0.0:
        x, y = -x, -y
    row, column = round(y * LENGTH) % LENGTH, min(round(x * LENGTH), LENGTH // 2)
    near, wide = _window(power, row, column, 2), _window(power, row, column, 6)
    ground = float(np.median(wide))
    inner, outer = float((near - ground).sum()), float(np.maximum(wide - ground, 0.0).sum())
    share = inner / outer if outer > 0.0 else 0.0
    return min(1.0, max(0.0, (share - 0.35) / 0.4))


def _presence(spectrum: _Spectrum, places: tuple[tuple[float, float], ...]) -> float:
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


def _dots(spectrum: _Spectrum, x: float, y: float) -> tuple[float, bool | None]:
    """How strong the dots are (gray levels, where strongest), and whether they fade towards light and dark as dots do.

    ``None``: too few tones to tell.
    """
    if x < 0.0:
        x, y = -x, -y
    tones, strengths = [], []
    for tile in spectrum.tiles:
        part = tile[:LENGTH, :LENGTH].astype(np.float32)
        transform = np.fft.fft2(part)
        rows, columns = part.shape
        tones.append(_piece(transform, 0, 0).real.ravel())
        strengths.append(np.abs(_piece(transform, round(y * rows), round(x * columns))).ravel() * 2.0)
    tone, strength = np.concatenate(tones), np.concatenate(strengths)
    strongest = float(np.quantile(strength, 0.9))
    low, high = (float(value) for value in np.quantile(tone, (0.01, 0.99)))
    dark, light = (
        float(np.quantile(np.concatenate([tile.ravel()[::17] for tile in spectrum.tiles]), q)) for q in (0.01, 0.99)
    )
    if high - low < 0.25 * max(light - dark, 1.0) or light - dark < 16.0:
        return strongest, None
    share = np.clip((tone - dark) / (light - dark), 0.0, 1.0)
    as_dots = _correlation(strength, share * (1.0 - share))
    as_light = _correlation(strength, share)
    if as_dots > 0.25 and as_dots > as_light:
        return strongest, True
    # Texture goes with the light and is nowhere gone; dots fade where the tones reach paper or solid ink.
    weak, strong = (float(value) for value in np.quantile(strength, (0.05, 0.95)))
    in_the_light = float(np.quantile(share, 0.9)) > 0.65
    against = as_light > 0.35 and (in_the_light or (weak > 0.3 * strong and strong > 1.3 * weak))
    return strongest, False if against else None


def _piece(transform: NDArray[np.complexfloating], row: int, column: int) -> NDArray[np.complex128]:
    """The picture of one small piece of the spectrum, demodulated: a coarse grid of values."""
    rows, columns = transform.shape
    index = np.arange(-_REACH, _REACH)
    taper = np.hanning(2 * _REACH + 1)[:-1]
    piece = transform[np.ix_((index + row) % rows, (index + column) % columns)] * taper[:, None] * taper[None, :]
    return np.asarray(np.fft.ifft2(np.fft.ifftshift(piece)) * (piece.size / transform.size))


def _correlation(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    a, b = one - one.mean(), other - other.mean()
    norm = math.sqrt(float((a * a).sum()) * float((b * b).sum()))
    return float((a * b).sum()) / norm if norm > 0.0 else 0.0
