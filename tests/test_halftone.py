"""Halftones with ruling and angle, and what must not be taken for one: truth by construction of the screens."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from pictured import cloth, on_paper, packed, screened, slope, texture, tiles_of
from PIL import Image
from whole import job_for, report_of

from preflight.inventory.dot_growth import dots_grow
from preflight.inventory.halftone import halftone

#: From here the shipped rules ask.
ASKS_FROM = 0.6


def tones(width: int = 720, height: int = 720) -> np.ndarray:
    return slope(width, height)


def turn_between(one: float, other: float) -> float:
    off = abs(one - other) % 90.0
    return min(off, 90.0 - off)


@pytest.mark.parametrize(
    ("lpi", "ppi"), [(65, 300), (65, 1200), (100, 600), (133, 300), (150, 600), (175, 400), (200, 1200)]
)
@pytest.mark.parametrize("angle", [15.0, 45.0])
def test_ruling_and_angle_of_one_ink(lpi: int, ppi: int, angle: float) -> None:
    found = halftone(tiles_of(on_paper(screened(tones(), lpi / ppi, angle)), 360)[:4])
    assert found
    assert found[0].frequency == pytest.approx(lpi / ppi, rel=0.01)
    assert turn_between(found[0].angle_deg, angle) < 0.5
    assert found[0].confidence >= ASKS_FROM


def waves_and_bars() -> np.ndarray:
    """A tint with soft waves and bars of every tone across it: nothing larger than the bars has a tone of its own."""
    y, x = np.mgrid[0:720, 0:720]
    tone = 0.3 + 0.1 * np.sin(x / 90.0) * np.sin(y / 70.0)
    for bar, place in enumerate(range(30, 690, 44)):
        tone[np.abs(y - place - 0.3 * (x - 360)) < 9] = 0.06 + 0.86 * (bar % 5) / 4
    return tone


@pytest.mark.parametrize("distance_px", [4.0, 7.0588, 8.0, 12.3])
@pytest.mark.parametrize("make", [tones, waves_and_bars])
def test_level_dots_are_told_from_blocks_and_squares(distance_px: float, make: Callable[[], np.ndarray]) -> None:
    """Their peaks lie where those of JPEG's blocks and of drawn squares lie; that they grow with the tone tells them."""
    found = halftone(tiles_of(on_paper(screened(make(), 1.0 / distance_px, 0.0))))
    assert found[0].frequency == pytest.approx(1.0 / distance_px, rel=0.01)
    assert turn_between(found[0].angle_deg, 0.0) < 0.5
    assert found[0].confidence >= ASKS_FROM


@pytest.mark.parametrize("angle", [0.0, 0.7, 33.0])
def test_dots_grow_whether_dark_is_low_or_high(angle: float) -> None:
    paper = tiles_of(on_paper(screened(tones(), 0.125, angle)))
    turned = np.deg2rad(angle)
    x, y = 0.125 * np.cos(turned), 0.125 * np.sin(turned)
    assert dots_grow(paper, x, y)
    assert dots_grow([255.0 - tile for tile in paper], x, y)


@pytest.mark.parametrize("how", ["lit", "in front of things", "turned to its negative"])
@pytest.mark.parametrize("make", ["dots", "lines", "light lines", "waves"])
def test_patterns_that_keep_their_shape_do_not_grow(make: str, how: str) -> None:
    y, x = np.mgrid[0:720, 0:720]
    u, v = x % 8 - 3.5, y % 8 - 3.5
    cells = {
        "dots": np.where(u**2 + v**2 < 6.5, 60.0, 220.0),
        "lines": np.where((x % 8 == 0) | (y % 8 == 0), 120.0, 230.0),
        "light lines": np.where((x % 8 == 0) | (y % 8 == 0), 220.0, 90.0),
        "waves": 130.0 + 40.0 * (np.cos(np.pi * u / 4) + np.cos(np.pi * v / 4)),
    }[make]
    things = 255.0 * (1.0 - waves_and_bars())
    picture = {
        "lit": cells * (0.3 + 0.7 * x / 720),
        "in front of things": np.minimum(cells, things + 60.0),
        "turned to its negative": np.where(x + 0.3 * y < 460, cells, 255.0 - cells),
    }[how]
    noise = np.random.default_rng(0).normal(0, 3, x.shape)
    tiles = tiles_of(np.clip(picture + noise, 0, 255).astype(np.uint8))
    assert not dots_grow(tiles, 0.125, 0.0)
    assert all(screen.confidence < ASKS_FROM for screen in halftone(tiles))


def test_a_flat_tint_is_a_halftone_too() -> None:
    found = halftone(tiles_of(on_paper(screened(np.full((700, 700), 0.4), 0.25, 45.0))))
    assert found[0].confidence >= ASKS_FROM


def test_jpeg_and_a_photograph_below_do_not_hide_it() -> None:
    tone = (
        0.1
        + 0.8
        * np.asarray(Image.fromarray(texture(700, 700)).resize((90, 90)).resize((700, 700), Image.Resampling.BICUBIC))
        / 255
    )
    found = halftone(tiles_of(packed(on_paper(screened(tone, 133 / 400, 30.0)), 85)))
    assert found[0].frequency == pytest.approx(133 / 400, rel=0.01)
    assert found[0].confidence >= ASKS_FROM


def test_the_rosette_of_four_inks() -> None:
    """Cyan 15, magenta 75, yellow 0, black 45 degrees, seen through red, green and blue."""
    takes = {15.0: (0.85, 0.25, 0.08), 75.0: (0.12, 0.8, 0.35), 0.0: (0.02, 0.08, 0.8), 45.0: (0.9, 0.9, 0.9)}
    light = np.ones((640, 640, 3))
    for turn, (angle, taken) in enumerate(takes.items()):
        tone = np.roll(tones(640, 640), 90 * turn, axis=1) * (0.5 if angle == 45.0 else 0.9)
        light *= 1.0 - screened(tone, 133 / 600, angle)[..., None] * np.array(taken)
    scan = np.dstack([on_paper(1.0 - light[..., part], seed=part) for part in range(3)])
    found = halftone(tiles_of(scan))
    for angle in takes:
        assert any(turn_between(screen.angle_deg, angle) < 0.7 for screen in found), angle
    assert all(screen.frequency == pytest.approx(133 / 600, rel=0.02) for screen in found)
    assert found[0].confidence >= ASKS_FROM


@pytest.mark.parametrize("pitch", [4.0, 6.0, 9.0])
@pytest.mark.parametrize("turn", [0.0, 12.0, 40.0])
def test_cloth_stays_below(pitch: float, turn: float) -> None:
    assert all(screen.confidence < ASKS_FROM for screen in halftone(tiles_of(cloth(1040, 1040, pitch, turn))))


def test_grids_fences_and_squares_stay_below() -> None:
    y, x = np.mgrid[0:1040, 0:1040]
    noise = np.random.default_rng(0).normal(0, 4, x.shape)
    for pitch in (4, 6, 9, 13, 17):
        squares = np.where((x % pitch == 0) | (y % pitch == 0), 120.0, 230.0)
        board = np.where((x // pitch + y // pitch) % 2, 60.0, 200.0) * (0.6 + 0.4 * x / 1040)
        pickets = np.where(x % (2 * pitch) < pitch, 180.0, 60.0)
        for pattern in (squares, pickets, board):
            found = halftone(tiles_of(np.clip(pattern + noise, 0, 255).astype(np.uint8)))
            assert all(screen.confidence < ASKS_FROM for screen in found)


def test_texture_noise_and_jpeg_blocks_are_none() -> None:
    assert halftone(tiles_of(texture(1040, 1040))) == []
    assert halftone(tiles_of(packed(texture(1040, 1040, seed=1), 40))) == []
    assert halftone(tiles_of(np.random.default_rng(1).integers(0, 256, (600, 600)).astype(np.uint8))) == []


@pytest.mark.parametrize("shape", [(1, 100_000), (1, 1), (60, 600), (60, 60, 3)])
def test_too_small_to_tell(shape: tuple[int, ...]) -> None:
    assert halftone([np.zeros(shape, np.float32)]) == []
    assert halftone([]) == []


def test_flat_tiles() -> None:
    assert halftone([np.full((512, 512), 200, np.float32)] * 3) == []


def test_dots_leave_no_tilt_to_tell(tmp_path: Path) -> None:
    """Rows of dots have a direction of their own: bars on a halftoned ground are not called askew."""
    sheet = np.full((700, 700), 0.35)
    for place in range(40, 660, 30):
        sheet[place : place + 4, 60:640] = 1.0
    turned = np.asarray(Image.fromarray(sheet).rotate(4.0, Image.Resampling.BICUBIC, fillcolor=0.35))
    path = tmp_path / "scan.tif"
    Image.fromarray(on_paper(screened(turned, 100 / 400, 20.0))).save(path, dpi=(400, 400))
    kinds = {finding.id for finding in report_of(path, job_for()).findings}
    assert "image.screened" in kinds
    assert "image.crooked" not in kinds
