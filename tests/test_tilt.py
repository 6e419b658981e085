"""Tilt of scanned type and drawings: truth is the turn the page was given when it was made, clockwise positive."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from preflight.inventory.tilt import tilt_of

WORDS = ["garden", "paths", "and", "beds", "north", "of", "wall", "pond"]


def typed(tilt: float, seed: int = 1) -> np.ndarray:
    """A page of type at 0 paper, 1 ink."""
    sheet = Image.new("L", (800, 1100), 0)
    pen, font = ImageDraw.Draw(sheet), ImageFont.load_default(15)
    random = np.random.default_rng(seed)
    for line in range(45):
        words = [WORDS[index] for index in random.integers(0, len(WORDS), 12 if line % 9 else 5)]
        pen.text((70, 50 + 22 * line), " ".join(words), font=font, fill=255)
    return np.asarray(sheet.rotate(-tilt, Image.Resampling.BICUBIC), dtype=np.float32) / 255.0


@pytest.mark.parametrize("tilt", [-7.0, -2.4, -0.6, 0.0, 0.4, 0.6, 1.23, 5.0])
def test_type_to_a_tenth_of_a_degree(tilt):
    assert tilt_of(typed(tilt)) == pytest.approx(tilt, abs=0.1)


@pytest.mark.parametrize("tilt", [-1.5, 0.8])
def test_type_on_its_side(tilt):
    assert tilt_of(np.rot90(typed(tilt)).copy()) == pytest.approx(tilt, abs=0.1)


@pytest.mark.parametrize("tilt", [0.0, 1.2, -3.0])
def test_a_drawing_of_frames(tilt):
    sheet = Image.new("L", (900, 700), 0)
    pen = ImageDraw.Draw(sheet)
    for place in range(6):
        pen.rectangle((80 + place * 60, 60 + place * 45, 820 - place * 40, 640 - place * 30), outline=255, width=3)
    data = np.asarray(sheet.rotate(-tilt, Image.Resampling.BICUBIC), dtype=np.float32) / 255.0
    assert tilt_of(data) == pytest.approx(tilt, abs=0.1)


def test_nothing_to_tell_by():
    random = np.random.default_rng(2)
    assert tilt_of(np.zeros((500, 500), np.float32)) is None
    assert tilt_of((random.random((500, 500)) < 0.1).astype(np.float32)) is None
    rows, columns = np.mgrid[0:500, 0:500]
    rings = np.hypot(rows - 250.0, columns - 250.0) % 40.0 < 3.0
    assert tilt_of(rings.astype(np.float32)) is None


def test_slanting_beyond_what_a_scanner_does():
    assert tilt_of(typed(20.0)) is None


def bars(seed: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    sheet = Image.new("L", (800, 700), 0)
    pen = ImageDraw.Draw(sheet)
    for _ in range(60):
        x, y = random.uniform(0, 800), random.uniform(0, 700)
        turn, length = random.uniform(0, np.pi), random.uniform(20, 260)
        end = x + length * np.cos(turn), y + length * np.sin(turn)
        pen.line((x, y, *end), 255, int(random.integers(1, 9)))
    # One long bar would decide, were it not for the quarters without it.
    pen.line((20, 30, 390, 30 + 370 * np.tan(np.radians(3.0))), 255, 6)
    return np.asarray(sheet, dtype=np.float32) / 255.0


def test_bars_that_point_anywhere_are_hardly_ever_askew():
    """By chance two quarters may agree."""
    assert sum(tilt_of(bars(seed)) is not None for seed in range(8)) <= 1
