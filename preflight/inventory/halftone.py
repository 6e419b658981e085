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
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from preflight.inventory.dot_growth import dots_grow, piece
from preflight.inventory.lattice_peaks import (
    LENGTH,
    LOWEST,
    Plane,
    Spectrum,
    on_eighths,
    peak_near,
    peaks_of,
    presence,
    sharpness,
    spectrum_of,
)

LEAST_PX = 96
#: A halftone is all over the picture: where so many tiles have no lattice, the others are not looked at.
_FIRST_TILES = 2
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
#: Sums of their directions by which squared paper and boards may be known; they themselves are at least so strong beside one.
_OVERTONES = (
    *((along, 0) for along in range(2, 13)), (2, 1), (1, 2), (2, -1), (1, -2), (3, 1), (1, 3), (3, -1), (1, -3),
    (3, 2), (2, 3), (3, -2), (2, -3),
)  # fmt: skip
_FUNDAMENTAL = 0.3


@dataclass(frozen=True)
class Screen:
    """One lattice of dots: its ruling and angle, and how sure it is a halftone (0 to 1). ``x``, ``y``: one of its two directions."""

    frequency: float
    angle_deg: float
    confidence: float
    x: float
    y: float
    strength: float = 0.0


def halftone(tiles: Sequence[Plane]) -> list[Screen]:
    """Halftones in the tiles, strongest first; empty where there is none.

    A tile is rows x columns (gray, or one ink) or rows x columns x planes, 0 to 255, as stored, the same size for all. Those that
    are not needed are not asked for.
    """
    if not tiles or min(tiles[0].shape[:2]) < LEAST_PX:
        return []
    count = tiles[0].shape[2] if tiles[0].ndim == 3 else 1
    found: list[Screen] = []
    for index in range(count):
        for screen in _in_plane(tiles, index):
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


def _in_plane(tiles: Sequence[Plane], index: int) -> list[Screen]:
    planes = (tile[..., index] if tile.ndim == 3 else tile for tile in tiles)
    some = list(islice(planes, _FIRST_TILES))
    if len(tiles) > _FIRST_TILES:
        first = spectrum_of(some)
        if not any(_lattice(first, x, y, strength) for strength, x, y in peaks_of(first)):
            return []
    spectrum = spectrum_of([*some, *planes])
    peaks = peaks_of(spectrum)
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


def _on_lattice(x: float, y: float, screen: Screen) -> bool:
    """Whether a place is a sum of a screen's two directions (wrapped at the sampling limit)."""
    for m in range(-4, 5):
        for n in range(-4, 5):
            dx = x - (m * screen.x - n * screen.y)
            dy = y - (m * screen.y + n * screen.x)
            if math.hypot(dx - round(dx), dy - round(dy)) < 2.5 / LENGTH:
                return True
    return False


def _lattice(spectrum: Spectrum, x: float, y: float, strength: float, *, grows: bool = False) -> Screen | None:
    """The square lattice that a peak is one direction of, if its partner is there. ``grows``: its dots are known to."""
    partner = peak_near(spectrum, -y, x)
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
    sharp = min(sharpness(spectrum.total, *place) for place in places)
    present = presence(spectrum, places)
    angle = math.degrees(math.atan2(mean_y, mean_x)) % 90.0
    level = min(angle, 90.0 - angle) < 1.0
    if grows or (level and tone is None and dots_grow(spectrum.tiles, mean_x, mean_y)):
        tone = True
    confidence = square * sharp * present * min(1.0, 0.55 + balance**0.5)
    confidence *= {True: 0.8, None: 0.5, False: 0.4}[tone] if level else {True: 1.0, None: 0.85, False: 0.5}[tone]
    if tone is None and _drawn_to_pixels(mean_x, mean_y):
        confidence *= 0.65
    if _is_overtone(spectrum, mean_x, mean_y, strength + other_strength):
        confidence *= 0.5
    return Screen((frequency + other) / 2.0, angle, confidence, mean_x, mean_y, strength + other_strength)


def _coarser(spectrum: Spectrum, screen: Screen) -> Screen:
    """The lattice itself, where only sums of its directions were seen: of level dots whose own peaks pass for JPEG's blocks."""
    for along, across in _SUMS:
        x, y = _made_of(screen.x, screen.y, along, across)
        if math.hypot(x, y) < LOWEST or not (on_eighths(x, y) and on_eighths(-y, x)):
            continue
        own = [peak[0] for place in ((x, y), (-y, x)) if (peak := peak_near(spectrum, *place)) is not None]
        if len(own) == 2 and min(own) >= _OWN_PEAKS * screen.strength:
            angle = math.degrees(math.atan2(y, x)) % 90.0
            coarser = replace(
                screen,
                frequency=math.hypot(x, y),
                angle_deg=angle,
                confidence=min(screen.confidence, _ON_BLOCKS),
                x=x,
                y=y,
            )
            # Neither blocks nor drawn squares grow with the tone.
            grown = _lattice(spectrum, x, y, own[0], grows=True) if dots_grow(spectrum.tiles, x, y) else None
            return coarser if grown is None else replace(grown, strength=max(grown.strength, screen.strength))
    return screen


def _made_of(x: float, y: float, along: int, across: int) -> tuple[float, float]:
    """The direction that, taken so often along itself and so often square to it, comes to this one."""
    parts = along**2 + across**2
    return (along * x + across * y) / parts, (along * y - across * x) / parts


def _is_overtone(spectrum: Spectrum, x: float, y: float, strength: float) -> bool:
    """Whether a coarser lattice stands there that this one is made of: thin lines have many overtones, dots are no one's."""
    for along, across in _OVERTONES:
        own_x, own_y = _made_of(x, y, along, across)
        frequency = math.hypot(own_x, own_y)
        if frequency < 4.0 / LENGTH:
            continue
        own = [peak_near(spectrum, *place) for place in ((own_x, own_y), (-own_y, own_x))]
        if all(
            peak is not None
            and abs(math.hypot(peak[1], peak[2]) / frequency - 1.0) < 0.01 + 0.5 / LENGTH
            and peak[0] > _FUNDAMENTAL * strength
            for peak in own
        ):
            return True
    return False


def _drawn_to_pixels(x: float, y: float) -> bool:
    """Whether the lattice repeats after whole pixels both ways, as drawn squares do and scanned dots hardly ever."""
    periods = [1.0 / abs(value) for value in (x, y) if abs(value) > 1.0 / LENGTH]
    return all(abs(period / round(period) - 1.0) < 0.006 for period in periods)


def _dots(spectrum: Spectrum, x: float, y: float) -> tuple[float, bool | None]:
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
        tones.append(piece(transform, 0, 0, _REACH).real.ravel())
        strengths.append(np.abs(piece(transform, round(y * rows), round(x * columns), _REACH)).ravel() * 2.0)
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


def _correlation(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    a, b = one - one.mean(), other - other.mean()
    norm = math.sqrt(float((a * a).sum()) * float((b * b).sum()))
    return float((a * b).sum()) / norm if norm > 0.0 else 0.0
